"""A runner lost from sight behind another player has stopped there, unless he comes out again on
the other side."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.maths.arrays import BoolArray
from posecheck.players import CameraMotion, Followed, PlayerTrack
from posecheck.players.lost import is_seen, is_seen_arriving, lost_behind
from posecheck.players.places import place_of

T_S = np.arange(120) / 30


def track(
    number: int, x: float, y: float, height: float, from_s: float = 0.0, to_s: float = 4.0
) -> PlayerTrack:
    """Somebody whose feet are at a place of the picture while he is followed."""
    box = np.tile([x - 0.17 * height, y - height, x + 0.17 * height, y], (len(T_S), 1))
    box[(from_s > T_S) | (to_s < T_S)] = np.nan
    return PlayerTrack(number, box, np.isfinite(box[:, 0]))


def lost(*tracks: PlayerTrack) -> int | None:
    motion = CameraMotion(np.tile(np.eye(3), (len(T_S), 1, 1)), np.ones(len(T_S), dtype=bool))
    return lost_behind(tracks[0], tracks[1], Followed(T_S, tracks, motion))


ATTACKER = track(1, 700, 520, 200)
RUNNER = track(0, 680, 350, 105, to_s=2.0)


def test_a_runner_who_is_not_seen_again_has_stopped_behind_the_other() -> None:
    assert lost(RUNNER, ATTACKER) == 60


@pytest.mark.parametrize(
    "runner",
    [
        track(0, 680, 350, 105),  # followed to the end
        track(0, 680, 350, 105, to_s=3.5),  # the film ends half a second later
        track(0, 400, 350, 105, to_s=2.0),  # far aside
        track(0, 680, 560, 230, to_s=2.0),  # nearer to the camera, in front of him
    ],
)
def test_who_is_seen_or_lost_elsewhere_is_not_behind_him(runner: PlayerTrack) -> None:
    assert lost(runner, ATTACKER) is None


def test_who_comes_out_on_the_other_side_has_run_past() -> None:
    assert lost(RUNNER, ATTACKER, track(2, 950, 350, 105, from_s=2.8)) is None
    assert lost(RUNNER, ATTACKER, track(2, 660, 450, 110, from_s=2.8)) == 60


def test_one_who_is_lost_himself_hides_nobody() -> None:
    assert lost(RUNNER, track(1, 700, 520, 200, to_s=2.2)) is None


def test_a_run_is_seen_when_the_runner_is_found_in_about_half_of_it() -> None:
    seen = np.arange(len(T_S)) < 50
    runner = PlayerTrack(0, ATTACKER.box_xyxy, seen)
    assert is_seen(runner, 0, 60)
    assert is_seen(runner, 0, 99)
    assert not is_seen(runner, 40, 99)


def seen_there(seen: BoolArray, goes_px: float) -> bool:
    """Whether somebody 200 px tall is seen to end a run from frame 30 to 60 across the picture."""
    box = ATTACKER.box_xyxy.copy()
    box[:, [0, 2]] += goes_px * np.clip((np.arange(len(T_S)) - 30) / 30, 0, 1)[:, None]
    runner = PlayerTrack(0, box, seen)
    still = CameraMotion(np.tile(np.eye(3), (len(T_S), 1, 1)), np.ones(len(T_S), dtype=bool))
    place = place_of(runner, Followed(T_S, (runner,), still))
    assert not is_seen(runner, 30, 60)
    return is_seen_arriving(runner, place, 30, 60, T_S)


def test_who_is_in_view_when_he_leaves_and_once_he_is_there_has_got_there() -> None:
    frame = np.arange(len(T_S))
    seen = (frame <= 33) | (frame >= 58)
    assert seen_there(seen, goes_px=400)
    assert not seen_there(seen, goes_px=0)  # his box only grew: nobody is read in it on the way
    assert not seen_there(seen & (frame <= 64), goes_px=400)  # nobody is there
    assert not seen_there(frame >= 62, goes_px=400)  # nobody is read in it for a second
