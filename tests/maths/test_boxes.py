"""Boxes compared with each other, by areas worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.maths.boxes import covered_share, overlap, union

BOX = np.array([0.0, 0.0, 10.0, 20.0])


@pytest.mark.parametrize(
    ("other", "share"),
    [
        ([0, 0, 10, 20], 1.0),
        ([5, 0, 15, 20], 100 / 300),
        ([0, 0, 10, 10], 0.5),
        ([10, 0, 20, 20], 0.0),
        ([30, 30, 40, 40], 0.0),
    ],
)
def test_intersection_over_union(other: list[float], share: float) -> None:
    assert overlap(BOX, np.array(other, dtype=float)) == pytest.approx(share)
    assert overlap(np.array(other, dtype=float), BOX) == pytest.approx(share)


def test_boxes_of_no_area_do_not_overlap() -> None:
    assert overlap(np.zeros(4), np.zeros(4)) == 0.0


def test_the_share_of_boxes_that_others_cover() -> None:
    boxes = np.stack([BOX, BOX, np.full(4, np.nan)])
    covers = np.array([[5.0, 10.0, 15.0, 30.0], [-1.0, -1.0, 11.0, 21.0], [0.0, 0.0, 1.0, 1.0]])
    assert covered_share(boxes, covers) == pytest.approx([0.25, 1.0, np.nan], nan_ok=True)


def test_the_smallest_box_around_several() -> None:
    assert union([BOX, np.array([-3.0, 5.0, 4.0, 25.0])]).tolist() == [-3.0, 0.0, 10.0, 25.0]
