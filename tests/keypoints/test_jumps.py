"""Landmarks displaced on purpose for some frames, and fast movement that is real."""

from __future__ import annotations

import numpy as np
import pytest
from walker import PX_PER_M, walker

from posecheck.keypoints.jumps import jumped
from posecheck.maths.arrays import BoolArray
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

KNEE = SKELETON.index("left_knee")


def found(track: PoseTrack) -> BoolArray:
    return jumped(track.t_s, track.xy_px, np.full(len(track.t_s), PX_PER_M))


@pytest.mark.parametrize(
    ("frames", "off_m"), [(1, 0.35), (2, 0.35), (1, 0.5), (2, 0.5), (3, 0.5), (1, 1.0), (3, 1.0)]
)
def test_a_jump_of_a_few_frames(frames: int, off_m: float) -> None:
    track = walker(np.arange(0, 2, 1 / 30), 90)
    track.xy_px[20 : 20 + frames, KNEE] += (0, -PX_PER_M * off_m)
    want = np.zeros(track.score.shape, dtype=bool)
    want[20 : 20 + frames, KNEE] = True
    np.testing.assert_array_equal(found(track), want)


@pytest.mark.parametrize("rate_hz", [24, 30, 60, 120, 240])
@pytest.mark.parametrize("turned_deg", [0, 90])
def test_no_movement_of_a_walker_is_a_jump(rate_hz: int, turned_deg: float) -> None:
    assert not found(walker(np.arange(0, 2, 1 / rate_hz), turned_deg)).any()


@pytest.mark.parametrize("corner_px", [0.0, 2000.0])
def test_where_the_picture_begins_does_not_matter(corner_px: float) -> None:
    """Each frame has a scale of its own, in pixels a metre, 3 % larger or smaller than the next."""
    track = walker(np.arange(0, 2, 1 / 30), 90)
    track.xy_px[..., 0] += corner_px
    scale = PX_PER_M * np.random.default_rng(1).choice([0.97, 1.0, 1.03], len(track.t_s))
    assert not jumped(track.t_s, track.xy_px, scale).any()


def test_a_run_across_the_picture_and_a_kick_are_no_jumps() -> None:
    track = walker(np.arange(0, 2, 1 / 30), 90)
    track.xy_px[..., 0] += 8.0 * PX_PER_M * track.t_s[:, None]
    # A foot to 11 m/s and back within a fifth of a second, about 160 m/s^2.
    foot = SKELETON.indices("right_ankle", "right_heel", "right_foot_index")
    kick = np.clip(np.abs(track.t_s - 1.0) / 0.2, 0, 1)
    track.xy_px[:, foot, 0] += PX_PER_M * 0.8 * (0.5 + 0.5 * np.cos(np.pi * kick))[:, None]
    assert not found(track).any()


def test_a_camera_that_shakes_moves_everything_alike() -> None:
    track = walker(np.arange(0, 2, 1 / 30), 90)
    shake = np.random.default_rng(3).uniform(-0.05, 0.05, size=(len(track.t_s), 1, 2))
    track.xy_px[:] += PX_PER_M * shake
    assert not found(track).any()


def test_another_body_for_two_frames() -> None:
    track = walker(np.arange(0, 2, 1 / 30), 90)
    track.xy_px[30:32] += (PX_PER_M * 1.0, 0)
    out = found(track)
    assert out[30:32].all()
    assert not out[:29].any() and not out[33:].any()


def test_frames_not_read_did_not_jump() -> None:
    track = walker(np.arange(0, 2, 1 / 30), 90)
    track.xy_px[10:20] = np.nan
    assert not found(track).any()
    assert not found(walker(np.arange(3) / 30, 90)).any()
