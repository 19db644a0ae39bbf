"""Band-limited noise: waves of about one length, which can be left out before they shimmer."""

from __future__ import annotations

from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]


@cache
def noise_tile(seed: int, size: int = 512, wavelength_px: float = 8.0) -> Array:
    """Periodic band-limited noise (size, size), mean 0, standard deviation 1."""
    rng = np.random.default_rng(seed)
    f = np.hypot(np.fft.fftfreq(size)[:, None], np.fft.rfftfreq(size)[None, :])
    band = np.exp(-0.5 * (np.log(np.maximum(f, 1e-6) * wavelength_px) / 0.45) ** 2)
    tile = np.fft.irfft2(np.fft.rfft2(rng.normal(size=(size, size))) * band, (size, size))
    return np.asarray((tile / tile.std()).astype(np.float32))


def noise(seed: int, x: Array, y: Array, wavelength: float) -> Array:
    """Sample band-limited noise of the given wavelength (units of x and y) at (h, w) points."""
    tile = noise_tile(seed)
    angle = 0.7 + seed
    c, s = np.cos(angle) * 8 / wavelength, np.sin(angle) * 8 / wavelength
    u, v = (c * x - s * y) % len(tile), (s * x + c * y) % len(tile)
    return cv2.remap(
        tile,
        u.astype(np.float32),
        v.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_WRAP,
    )
