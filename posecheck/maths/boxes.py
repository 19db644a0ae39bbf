"""Points and boxes of a picture: taken through homographies, compared with each other.

Boxes are ``(4,)`` left, top, right, bottom.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray

_IDENTITY = np.eye(3)


def mapped(homography: npt.ArrayLike, points: npt.ArrayLike) -> FloatArray:
    """Points ``(n, 2)`` taken through a homography ``(3, 3)``."""
    xy = np.asarray(points, dtype=np.float64)
    there = np.concatenate([xy, np.ones((len(xy), 1))], axis=1) @ np.asarray(homography).T
    return np.asarray(there[:, :2] / there[:, 2:])


def mapped_box(homography: npt.ArrayLike, box_xyxy: FloatArray) -> FloatArray:
    """A box taken through a homography: its centre moved, its sides scaled, kept upright."""
    if np.array_equal(homography, _IDENTITY):
        return box_xyxy.copy()
    middle = (box_xyxy[:2] + box_xyxy[2:]) / 2
    there = mapped(homography, middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    scale = np.sqrt(abs(np.linalg.det(there[1:] - there[0])))
    half = scale * (box_xyxy[2:] - box_xyxy[:2]) / 2
    return np.concatenate([there[0] - half, there[0] + half])


def overlap(one: FloatArray, other: FloatArray) -> float:
    """Intersection over union of two boxes."""
    sides = np.minimum(one[2:], other[2:]) - np.maximum(one[:2], other[:2])
    shared = float(np.prod(np.maximum(sides, 0.0)))
    whole = float(np.prod(one[2:] - one[:2]) + np.prod(other[2:] - other[:2])) - shared
    return shared / whole if whole > 0 else 0.0


def near(one: FloatArray, other: FloatArray) -> bool:
    """Whether two players stand so near each other in the picture that one may hide the other."""
    height = max(one[3] - one[1], other[3] - other[1])
    apart = np.abs(one[:2] + one[2:] - other[:2] - other[2:]) / 2
    return bool(np.all(apart < 0.7 * height))


def alike(one: FloatArray, other: FloatArray) -> bool:
    """Whether two boxes are of about the same height."""
    return bool(0.6 < (one[3] - one[1]) / (other[3] - other[1]) < 1.7)


def union(boxes: Sequence[FloatArray]) -> FloatArray:
    """The box around several."""
    all_boxes = np.stack(boxes)
    return np.concatenate([all_boxes[:, :2].min(axis=0), all_boxes[:, 2:].max(axis=0)])
