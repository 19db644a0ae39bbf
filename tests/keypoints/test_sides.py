"""Left and right exchanged on purpose, and put back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from walker import PX_PER_M, walker

from posecheck.keypoints.sides import put_sides_right
from posecheck.maths.arrays import BoolArray
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

LEGS = [
    number
    for number, name in enumerate(SKELETON.names)
    if name.partition("_")[2] in ("knee", "ankle", "heel", "foot_index")
]
ALL = list(range(33))


def exchanged(track: PoseTrack, frames: BoolArray, which: list[int]) -> PoseTrack:
    """As if the model took left for right: depth turned over too."""
    xy_px, world_m = track.xy_px.copy(), track.world_m.copy()
    twins = SKELETON.mirror[which]
    at = np.flatnonzero(frames)[:, None]
    xy_px[at, which] = track.xy_px[at, twins]
    world_m[at, which] = track.world_m[at, twins] * (1, 1, -1)
    return replace(track, xy_px=xy_px, world_m=world_m)


def scale(track: PoseTrack) -> np.ndarray:
    return np.full(len(track.t_s), PX_PER_M)


@pytest.mark.parametrize("rate_hz", [24, 30, 60, 240])
@pytest.mark.parametrize("turned_deg", [0, 60, 90, 200])
def test_what_is_right_stays(rate_hz: int, turned_deg: float) -> None:
    track = walker(np.arange(0, 3, 1 / rate_hz), turned_deg)
    sides = put_sides_right(track, scale(track))
    assert not sides.exchanged.any()
    np.testing.assert_array_equal(sides.track.xy_px, track.xy_px)


@pytest.mark.parametrize("rate_hz", [24, 30, 60, 120])
def test_legs_exchanged_from_one_crossing_to_the_next(rate_hz: int) -> None:
    """From the side legs cross every 0.36 s; nothing jumps where the labels change there."""
    track = walker(np.arange(0, 4, 1 / rate_hz), 90)
    stride = track.t_s * 1.4
    wrong = ((stride > 1) & (stride < 1.5)) | ((stride > 3) & (stride < 3.5))
    sides = put_sides_right(exchanged(track, wrong, LEGS), scale(track))
    # Where they cross there is nothing to put right.
    ankles = SKELETON.indices("left_ankle", "right_ankle")
    apart = np.abs(np.diff(track.xy_px[:, ankles, 0])[:, 0]) > 0.15 * PX_PER_M
    np.testing.assert_array_equal(
        sides.exchanged[apart][:, ankles], np.repeat(wrong[apart, None], 2, axis=1)
    )
    rest = [number for number in ALL if number not in LEGS]
    assert not sides.exchanged[:, rest].any()
    np.testing.assert_allclose(sides.track.xy_px[apart], track.xy_px[apart])
    # Which leg is nearer is known again as well.
    np.testing.assert_allclose(sides.track.world_m[apart], track.world_m[apart], atol=1e-9)


def test_a_whole_body_seen_the_wrong_way_round() -> None:
    track = walker(np.arange(0, 4, 1 / 30), 170)
    wrong = (track.t_s > 1) & (track.t_s < 2.2)
    wrong[[5, 7, 90]] = True
    sides = put_sides_right(exchanged(track, wrong, ALL), scale(track))
    trunk = SKELETON.indices("left_shoulder", "right_shoulder", "left_hip", "right_hip")
    np.testing.assert_array_equal(sides.exchanged[:, trunk], np.repeat(wrong[:, None], 4, axis=1))
    np.testing.assert_allclose(sides.track.xy_px, track.xy_px)
    hips = SKELETON.indices("left_hip", "right_hip")
    np.testing.assert_allclose(sides.track.world_m[:, hips], track.world_m[:, hips], atol=1e-9)


def test_a_short_reading_goes_by_a_longer_one() -> None:
    """Mostly the wrong way round, a short track by itself would be turned the wrong way."""
    track = walker(np.arange(0, 1, 1 / 30), 170)
    wrong = track.t_s > 0.3
    given = exchanged(track, wrong, ALL)
    assert put_sides_right(given, scale(track)).exchanged[:9].any()
    sides = put_sides_right(given, scale(track), like_px=track.xy_px)
    np.testing.assert_allclose(sides.track.xy_px, track.xy_px)


def test_few_frames_and_frames_not_read_are_left_as_they_are() -> None:
    track = walker(np.arange(4) / 30, 0)
    track.xy_px[2] = np.nan
    sides = put_sides_right(track, scale(track))
    np.testing.assert_array_equal(sides.track.xy_px, track.xy_px)
    assert not sides.exchanged.any() and not sides.undecided.any()
