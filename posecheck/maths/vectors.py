"""Directions: vectors of length one."""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray


def unit(vectors: FloatArray) -> FloatArray:
    """Vectors ``(..., d)`` scaled to length one; NaN for a vector of no length."""
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    return np.asarray(vectors / np.where(length > 0, length, np.nan))


def left_of(directions: FloatArray) -> FloatArray:
    """Directions ``(..., 2)`` turned left by a right angle, with x to the right and y ahead."""
    return np.stack([-directions[..., 1], directions[..., 0]], axis=-1)
