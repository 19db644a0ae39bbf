"""Which frame shows an arrival."""

from __future__ import annotations

import numpy as np

from posecheck.filming.arrival_frames import shown_frame
from posecheck.pose.skeleton import SKELETON

T_S = np.arange(30) / 30
KNEE = SKELETON.index("left_knee")


def test_the_nearest_frame_when_all_is_believed() -> None:
    assert shown_frame(T_S, 0.51, np.zeros((30, 33, 2))) == 15


def test_the_nearest_one_in_which_all_limbs_are_believed() -> None:
    xy_px = np.zeros((30, 33, 2))
    xy_px[14:17, KNEE] = np.nan
    assert shown_frame(T_S, 0.51, xy_px) == 17
    assert shown_frame(T_S, 0.49, xy_px) == 13


def test_no_further_than_a_tenth_of_a_second() -> None:
    """When the knee is nowhere believed, the frame in which the fewest others are missing."""
    xy_px = np.zeros((30, 33, 2))
    xy_px[8:23, KNEE] = np.nan
    assert shown_frame(T_S, 0.5, xy_px) == 15
    xy_px[15, KNEE + 1] = np.nan
    assert shown_frame(T_S, 0.51, xy_px) == 16


def test_film_slower_than_that() -> None:
    assert shown_frame(np.arange(5) / 4, 0.62, np.zeros((5, 33, 2))) == 2
