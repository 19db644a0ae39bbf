"""How well a fitted camera knows lengths on the ground."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray

LINE_M = 4.0
"""Length of the lines looked at, about the stretch over which speeds and braking are read."""

STEP = 1e-5
"""Of the parameters, to see how lengths change with them."""


def length_sd(
    camera_of: Callable[[FloatArray], Camera],
    parameters: FloatArray,
    covariance: FloatArray,
    at_m: FloatArray,
) -> tuple[float, float]:
    """Relative standard deviation of a length on the ground.

    First-order propagation of the fit's covariance to the lengths of lines that are seen at
    fixed places in the picture.

    Args:
        camera_of: the camera that ``(p,)`` parameters stand for.
        parameters: ``(p,)`` fitted.
        covariance: ``(p, p)`` of the parameters.
        at_m: ``(n, 2)`` middles of the lines on the ground.

    Returns:
        Across the view, and along it, the middle one of the lines.
    """
    camera = camera_of(parameters)
    away = at_m - camera.centre_m[:2]
    reach = np.linalg.norm(away, axis=1, keepdims=True)
    away = away / reach
    half = 0.5 * np.minimum(LINE_M, reach)  # no line may run behind the camera
    across = np.column_stack([-away[:, 1], away[:, 0]])
    middle = np.stack([at_m, at_m])
    way = half * np.stack([across, away])
    ends = np.stack([middle - way, middle + way])  # (2 ends, 2 directions, n, 2)
    seen = camera.to_image(np.concatenate([ends, np.zeros((*ends.shape[:-1], 1))], axis=-1))

    def log_lengths(values: FloatArray) -> FloatArray:
        there = camera_of(values).to_ground(seen)
        return np.asarray(np.log(np.linalg.norm(there[1] - there[0], axis=-1)))

    change = [
        log_lengths(parameters + STEP * axis) - log_lengths(parameters - STEP * axis)
        for axis in np.eye(len(parameters))
    ]
    gradient = np.stack(change) / (2 * STEP)
    variance = np.einsum("pdn,pq,qdn->dn", gradient, covariance, gradient)
    scale_sd, depth_sd = np.sqrt(np.median(variance, axis=1))
    return float(scale_sd), float(depth_sd)
