"""How well a fitted camera knows lengths on the ground."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.ground.tuning import LINE_M, PARAMETER_STEP
from posecheck.maths.arrays import FloatArray
from posecheck.maths.vectors import left_of


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
        Across the view, and along it: medians over the lines.
    """
    camera = camera_of(parameters)
    away = at_m - camera.centre_m[:2]
    reach = np.linalg.norm(away, axis=1, keepdims=True)
    away = away / reach
    half = 0.5 * np.minimum(LINE_M, reach)  # no line may reach behind the camera
    across = left_of(away)
    middle = np.stack([at_m, at_m])
    offset = half * np.stack([across, away])
    ends = np.stack([middle - offset, middle + offset])  # (2 ends, 2 directions, n, 2)
    seen = camera.to_image(np.concatenate([ends, np.zeros((*ends.shape[:-1], 1))], axis=-1))

    def log_lengths(values: FloatArray) -> FloatArray:
        there = camera_of(values).to_ground(seen)
        return np.asarray(np.log(np.linalg.norm(there[1] - there[0], axis=-1)))

    steps = PARAMETER_STEP * np.eye(len(parameters))
    change = [log_lengths(parameters + step) - log_lengths(parameters - step) for step in steps]
    gradient = np.stack(change) / (2 * PARAMETER_STEP)
    variance = np.einsum("pdn,pq,qdn->dn", gradient, covariance, gradient)
    scale_sd, depth_sd = np.sqrt(np.median(variance, axis=1))
    return float(scale_sd), float(depth_sd)
