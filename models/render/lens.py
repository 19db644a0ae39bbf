"""Radial distortion: a picture drawn by a pinhole, as a lens that bends straight lines shows it.

One coefficient, as in OpenCV's camera model: a point at r (over the focal length) from the axis is
seen at ``r (1 + k1 r^2)``. Negative k1 is a barrel, as of wide lenses.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]


def distorted(k: Array, k1: float, xy_px: Array) -> Array:
    """Where a pinhole's pixels (..., 2) are seen through the lens."""
    focal, principal = np.diag(k)[:2], k[:2, 2]
    xy = (xy_px - principal) / focal
    r2 = (xy**2).sum(axis=-1, keepdims=True)
    return np.asarray(principal + focal * xy * (1 + k1 * r2))


def straightened(k: Array, k1: float, xy_px: Array) -> Array:
    """The inverse of :func:`distorted`, by Newton's method; for lenses that fold nothing over."""
    focal, principal = np.diag(k)[:2], k[:2, 2]
    xy = (xy_px - principal) / focal
    seen = np.sqrt((xy**2).sum(axis=-1, keepdims=True))
    r = seen.copy()
    for _ in range(20):
        r = r - (r * (1 + k1 * r**2) - seen) / (1 + 3 * k1 * r**2)
    scale = np.where(seen > 1e-12, r / np.maximum(seen, 1e-12), 1.0)
    return np.asarray(principal + focal * xy * scale)


def strongest(k1: float, seen_r: float, least_scale: float = 0.65) -> float:
    """k1, or as much of a barrel as leaves what is seen at seen_r this share of its radial size.

    The scale at r is ``1 + 3 k1 r^2``, and r is seen at ``r (1 + k1 r^2)``.
    """
    limit = (least_scale - 1) / 3 * ((2 + least_scale) / 3) ** 2 / max(seen_r, 1e-9) ** 2
    return max(k1, limit)


def maps(drawn_k: Array, film_k: Array, k1: float, size: tuple[int, int]) -> tuple[Array, Array]:
    """For cv2.remap: where each pixel of the film (width, height) lies in the pinhole's picture.

    Args:
        drawn_k: (3, 3) of the picture that was drawn.
        film_k: (3, 3) of the film, before distortion.
        k1: of the lens, over film_k's focal length.
        size: of the film.
    """
    v, u = np.mgrid[0 : size[1], 0 : size[0]].astype(float)
    straight = straightened(film_k, k1, np.stack([u, v], axis=-1))
    local = (straight - film_k[:2, 2]) / np.diag(film_k)[:2]
    there = (local * np.diag(drawn_k)[:2] + drawn_k[:2, 2]).astype(np.float32)
    return there[..., 0], there[..., 1]


def filmed(picture: Array, through: tuple[Array, Array]) -> Array:
    """The picture through the lens of these maps."""
    return np.asarray(
        cv2.remap(picture, *through, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)
    )


def drawn_focal(film_focal_px: float, k1: float, size: tuple[int, int]) -> float:
    """The focal length to draw with so that the film's corners and sides lie within the drawing.

    Film and drawing are of one size; the corner is the tightest place of a barrel, the middle of
    the shorter side of a cushion.
    """
    width, height = size
    reach = np.hypot(width, height) / 2 if k1 < 0 else min(width, height) / 2
    k = np.diag([film_focal_px, film_focal_px, 1.0])
    straight = float(straightened(k, k1, np.array([reach, 0.0]))[0])
    return float(film_focal_px * reach / straight)
