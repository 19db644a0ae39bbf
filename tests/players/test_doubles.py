"""Of two tracks of one person one goes; two people keep theirs."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.players.doubles import Sightings, without_doubles
from posecheck.players.neighbours import part_of
from posecheck.players.track import PlayerTrack

N_FRAMES = 40
T_S = np.arange(N_FRAMES) / 30


def track(number: int, left_px: np.ndarray) -> PlayerTrack:
    """Somebody 50 pixels wide and 150 tall; NaN where he is not followed."""
    box = np.stack([left_px, left_px * 0 + 100, left_px + 50, left_px * 0 + 250], axis=1)
    return PlayerTrack(number, box, np.isfinite(left_px))


def walks(from_frame: int = 0, to_frame: int = N_FRAMES) -> np.ndarray:
    left = 100 + 5.0 * np.arange(N_FRAMES)
    left[:from_frame], left[to_frame:] = np.nan, np.nan
    return left


def test_one_begun_again_while_he_was_lost_is_one() -> None:
    lost = Sightings(track(0, walks()), frozenset({0.0, 0.3, 1.2}))
    again = Sightings(track(1, walks(15, 30)), frozenset({0.6, 0.9}))
    assert [each.track_id for each in without_doubles([lost, again], T_S)] == [0]
    assert [each.track_id for each in without_doubles([again, lost], T_S)] == [0]


def test_who_was_followed_before_the_one_he_is_lost_in_keeps_that() -> None:
    """Two close together are read as one body for long."""
    one = Sightings(track(0, walks()), frozenset({0.0, 0.3, 0.6}))
    brief = Sightings(track(1, walks(12)), frozenset({0.5, 0.6}))
    both = Sightings(track(2, walks(20)), frozenset({0.7, 0.8, 0.9, 1.0, 1.1}))
    kept = without_doubles([one, brief, both], T_S)
    assert [each.track_id for each in kept] == [0, 2]
    assert np.isfinite(kept[0].box_xyxy[:20]).all()
    assert np.isnan(kept[0].box_xyxy[20:]).all()
    assert kept[0].seen.sum() == 20


def test_two_found_at_one_moment_are_two_though_they_pass_each_other() -> None:
    one = Sightings(track(0, walks()), frozenset({0.0, 0.3, 1.2}))
    other = Sightings(track(1, walks()[::-1]), frozenset({0.3, 0.9}))
    assert [each.track_id for each in without_doubles([one, other], T_S)] == [0, 1]


def test_two_who_never_come_near_each_other_are_two_whenever_they_are_found() -> None:
    one = Sightings(track(0, walks()), frozenset({0.0, 0.3}))
    other = Sightings(track(1, walks() + 300), frozenset({0.6, 0.9}))
    assert [each.track_id for each in without_doubles([one, other], T_S)] == [0, 1]


@pytest.mark.parametrize(("to_frame", "kept"), [(20, [0]), (30, [0, 1])])
def test_who_is_never_seen_but_inside_another_is_his_head_and_arms(
    to_frame: int, kept: list[int]
) -> None:
    """A small body that stays where a walker is until he has gone on."""
    walker = track(0, walks())
    left = np.where(np.arange(N_FRAMES) < to_frame, 200.0, np.nan)
    left[:15] = np.nan
    small = np.stack([left, left * 0 + 110, left + 10, left * 0 + 150], axis=1)
    ghost = PlayerTrack(1, small, np.isfinite(left))
    both = Sightings(walker, frozenset({0.0, 0.3, 0.6})), Sightings(ghost, frozenset({0.3, 0.6}))
    assert [each.track_id for each in without_doubles(both, T_S)] == kept


@pytest.mark.parametrize(
    ("box", "part"),
    [
        ((110, 150, 140, 300), True),  # his lower half, read as a small body
        ((110, 120, 135, 220), False),  # somebody half as tall, twice as far away
        ((140, 150, 220, 300), False),  # most of him beside
        ((100, 0, 150, 300), False),  # himself
    ],
)
def test_half_a_body_is_part_of_the_whole_and_a_far_one_is_not(box: tuple, part: bool) -> None:
    whole = np.array([100.0, 0, 150, 300])
    assert part_of(np.array(box, dtype=float), whole) is part
