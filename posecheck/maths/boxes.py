"""Boxes of a picture, compared with each other.

A box is left, top, right, bottom in its last axis, ``(..., 4)``.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from posecheck.maths.arrays import FloatArray


def overlap(one: FloatArray, other: FloatArray) -> float:
    """Intersection over union of two boxes ``(4,)``, 0 for boxes of no area."""
    shared = float(_intersection(one, other))
    joint = float(_area(one) + _area(other)) - shared
    return shared / joint if joint > 0 else 0.0


def covered_share(box: FloatArray, cover: FloatArray) -> FloatArray:
    """Share of each box ``(..., 4)`` that lies inside another, ``(...)``."""
    return np.asarray(_intersection(box, cover) / _area(box))


def union(boxes: Sequence[FloatArray]) -> FloatArray:
    """The smallest box around several."""
    all_boxes = np.stack(boxes)
    return np.concatenate([all_boxes[:, :2].min(axis=0), all_boxes[:, 2:].max(axis=0)])


def _intersection(one: FloatArray, other: FloatArray) -> FloatArray:
    sides = np.minimum(one[..., 2:], other[..., 2:]) - np.maximum(one[..., :2], other[..., :2])
    return np.asarray(np.prod(np.maximum(sides, 0.0), axis=-1))


def _area(box: FloatArray) -> FloatArray:
    return np.asarray(np.prod(box[..., 2:] - box[..., :2], axis=-1))
