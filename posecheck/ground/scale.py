"""How well a fitted camera knows lengths on the ground."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from posecheck.ground.camera import Camera, FloatArray


def length_sd(
    camera_of: Callable[[FloatArray], Camera],
    parameters: FloatArray,
    covariance: FloatArray,
    at_m: FloatArray,
) -> tuple[float, float]:
    """Relative standard deviation of a length on the ground.

    First-order propagation of the fit's covariance to the length of a one-metre line that is
    seen at a fixed place in the picture.

    Args:
        camera_of: the camera that ``(p,)`` parameters stand for.
        parameters: ``(p,)`` fitted.
        covariance: ``(p, p)`` of the parameters.
        at_m: ``(2,)`` where on the ground.

    Returns:
        Across the view, and along it.
    """
    camera = camera_of(parameters)
    away = at_m - camera.centre_m[:2]
    away = away / np.linalg.norm(away)
    ends = np.stack([at_m + 0.5 * s * d for d in (away, away[::-1] * [-1, 1]) for s in (1, -1)])
    seen = camera.to_image(np.column_stack([ends, np.zeros(4)]))

    def log_lengths(values: FloatArray) -> FloatArray:
        there = camera_of(values).to_ground(seen)
        return np.asarray(np.log(np.linalg.norm(there[::2] - there[1::2], axis=1)))

    step = 1e-5
    gradient = np.stack(
        [
            (log_lengths(parameters + step * axis) - log_lengths(parameters - step * axis))
            / (2 * step)
            for axis in np.eye(len(parameters))
        ]
    )
    variance = np.einsum("pd,pq,qd->d", gradient, covariance, gradient)
    along, across = np.sqrt(variance)
    return float(across), float(along)
