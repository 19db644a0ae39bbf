"""Which players stand so near each other in the picture that one may occlude the other."""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.boxes import covered_share
from posecheck.players.tuning import (
    ALIKE_RATIO,
    NEIGHBOUR_HEIGHTS,
    PART_FEET_HEIGHTS,
    PART_WITHIN,
)


def near(one: FloatArray, other: FloatArray) -> bool:
    """Whether the players in two boxes ``(4,)`` may occlude each other."""
    height = max(one[3] - one[1], other[3] - other[1])
    apart = np.abs(one[:2] + one[2:] - other[:2] - other[2:]) / 2
    return bool(np.all(apart < NEIGHBOUR_HEIGHTS * height))


def alike(one: FloatArray, other: FloatArray) -> bool:
    """Whether two boxes ``(4,)`` are of about the same height."""
    low, high = ALIKE_RATIO
    return bool(low < (one[3] - one[1]) / (other[3] - other[1]) < high)


def part_of(one: FloatArray, other: FloatArray) -> bool:
    """Whether one box ``(4,)`` lies in another, larger one and stands on the same feet.

    A body cut off by the edge of what is searched is read as a small one. Somebody who is small
    because he is far away stands higher up in the picture.
    """
    height = one[3] - one[1]
    within = covered_share(one, other) >= PART_WITHIN and height < other[3] - other[1]
    return bool(within and abs(one[3] - other[3]) <= PART_FEET_HEIGHTS * height)


def is_crowded(number: int, boxes: dict[int, FloatArray]) -> bool:
    """Whether another player is near the one with this number; boxes by number."""
    return any(near(boxes[number], box) for other, box in boxes.items() if other != number)
