"""How well a fitted camera knows lengths on the ground."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from posecheck.camera.pinhole import Camera
from posecheck.ground.tuning import LEAST_WEIGHT, LINE_M, PARAMETER_STEP, UNSEEN_LOG_SD
from posecheck.maths.arrays import FloatArray
from posecheck.maths.vectors import left_of


@dataclass(frozen=True)
class Fitted:
    """One camera that fits what was seen; there may be several.

    Attributes:
        parameters: ``(p,)`` of it.
        covariance: ``(p, p)`` of them.
        log_weight: logarithm of how probable it is, up to a constant that all share.
        rest: what was fitted besides, to start another fit from.
    """

    parameters: FloatArray
    covariance: FloatArray
    log_weight: float = 0.0
    rest: FloatArray | None = None


def length_sd(
    camera_of: Callable[[FloatArray], Camera], fitted: Sequence[Fitted], at_m: FloatArray
) -> tuple[float, float]:
    """Relative standard deviation of a length on the ground.

    First-order propagation of each camera's covariance to the lengths of lines that are seen at
    fixed places in the picture, and how far the cameras differ in those lengths.

    Args:
        camera_of: the camera that ``(p,)`` parameters stand for.
        fitted: cameras that fit, the chosen one first.
        at_m: ``(n, 2)`` middles of the lines on the ground of the chosen one.

    Returns:
        Across the view, and along it: medians over the lines.
    """
    camera = camera_of(fitted[0].parameters)
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

    log_weights = np.array([each.log_weight for each in fitted])
    weights = np.exp(log_weights - logsumexp(log_weights))
    chosen = log_lengths(fitted[0].parameters)
    variance = np.zeros_like(chosen)
    for weight, each in zip(weights, fitted, strict=True):
        if weight < LEAST_WEIGHT:
            continue
        steps = PARAMETER_STEP * np.eye(len(each.parameters))
        gradient = np.stack(
            [
                log_lengths(each.parameters + step) - log_lengths(each.parameters - step)
                for step in steps
            ]
        ) / (2 * PARAMETER_STEP)
        within = np.einsum("pdn,pq,qdn->dn", gradient, each.covariance, gradient)
        apart = log_lengths(each.parameters) - chosen
        # Another camera may have the horizon below a line's far end: then nothing is known of it.
        variance += weight * np.nan_to_num(within + apart**2, nan=UNSEEN_LOG_SD**2)
    scale_sd, depth_sd = np.sqrt(np.median(variance, axis=1))
    return float(scale_sd), float(depth_sd)


def parameter_sd(fitted: Sequence[Fitted], index: int) -> float:
    """Standard deviation of one parameter, about that of the chosen camera, which comes first."""
    log_weights = np.array([each.log_weight for each in fitted])
    weights = np.exp(log_weights - logsumexp(log_weights))
    variance = [
        each.covariance[index, index] + (each.parameters[index] - fitted[0].parameters[index]) ** 2
        for each in fitted
    ]
    return float(np.sqrt(weights @ variance))
