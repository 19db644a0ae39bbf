"""Of two readings of a body, what is drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from posecheck.filming.drawn_body import drawn_xy_px
from posecheck.filming.tuning import DRAWN_APART
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

N, TALL_PX = 6, 200.0
KNEE = SKELETON.index("left_knee")


def track(shift_px: float = 0.0, frames: slice = slice(None)) -> PoseTrack:
    """A body of a known height that stands still; not read outside ``frames``."""
    body = np.stack([np.zeros(33), np.linspace(0.0, TALL_PX, 33)], axis=1) + np.array(
        [shift_px, 0.0]
    )
    xy = np.full((N, 33, 2), np.nan)
    xy[frames] = body
    return PoseTrack(np.arange(N) / 30, xy, np.zeros((N, 33, 3)), np.ones((N, 33)))


def test_one_reading_is_drawn_where_it_is_believed() -> None:
    usual = track()
    left_out = np.zeros((N, 33), dtype=bool)
    left_out[2, KNEE] = True
    drawn = drawn_xy_px(replace(usual, left_out=left_out), None)
    assert np.isnan(drawn[2, KNEE]).all()
    assert np.isnan(drawn).sum() == 2


def test_the_heavy_models_reading_is_drawn_where_there_is_one() -> None:
    drawn = drawn_xy_px(track(), track(5.0, slice(2, 4)))
    assert drawn[:, KNEE, 0].tolist() == [0.0, 0.0, 5.0, 5.0, 0.0, 0.0]


def test_a_landmark_on_which_the_two_contradict_each_other_is_not_drawn() -> None:
    usual, close = track(), track(0.0, slice(2, 5))
    close.xy_px[3, KNEE, 0] = (DRAWN_APART + 0.01) * TALL_PX
    close.xy_px[4, KNEE, 0] = (DRAWN_APART - 0.01) * TALL_PX
    drawn = drawn_xy_px(usual, close)
    assert np.isnan(drawn[3, KNEE]).all()
    assert np.isnan(drawn).sum() == 2, "the rest of him is"
    assert drawn[4, KNEE, 0] == close.xy_px[4, KNEE, 0]


def test_nor_is_one_that_jumped_in_either() -> None:
    for number in range(2):
        tracks = [track(), track(1.0)]
        left_out = np.zeros((N, 33), dtype=bool)
        left_out[1, KNEE] = True
        tracks[number] = replace(tracks[number], left_out=left_out)
        drawn = drawn_xy_px(*tracks)
        assert np.isnan(drawn[1, KNEE]).all() and np.isnan(drawn).sum() == 2
