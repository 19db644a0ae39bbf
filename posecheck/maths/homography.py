"""Homographies: points and boxes of one picture taken to another."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray


def mapped(
    homography: npt.ArrayLike, points: npt.ArrayLike, least_scale: float | None = None
) -> FloatArray:
    """Points taken through a homography.

    Args:
        homography: ``(..., 3, 3)``.
        points: ``(..., k, 2)``; leading axes as of the homography.
        least_scale: homogeneous coordinates are divided by this much at least, which keeps points
            beyond the horizon finite; None divides by what comes out.

    Returns:
        ``(..., k, 2)``.
    """
    xy = np.asarray(points, dtype=np.float64)
    homogeneous = np.concatenate([xy, np.ones((*xy.shape[:-1], 1))], axis=-1)
    there = np.einsum("...ij,...kj->...ki", np.asarray(homography, np.float64), homogeneous)
    scale = there[..., 2:]
    if least_scale is not None:
        scale = np.maximum(scale, least_scale)
    return np.asarray(there[..., :2] / scale)


def mapped_box(homography: npt.ArrayLike, box_xyxy: FloatArray) -> FloatArray:
    """A box ``(4,)`` taken through a homography: centre moved, sides scaled, kept upright."""
    if np.array_equal(homography, np.eye(3)):
        return box_xyxy.copy()
    middle = (box_xyxy[:2] + box_xyxy[2:]) / 2
    there = mapped(homography, middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    scale = np.sqrt(abs(np.linalg.det(there[1:] - there[0])))
    half = scale * (box_xyxy[2:] - box_xyxy[:2]) / 2
    return np.concatenate([there[0] - half, there[0] + half])
