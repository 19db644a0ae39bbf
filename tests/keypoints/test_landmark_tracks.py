"""When players are read: always while they move or are near each other, seldom while they wait."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.camera.motion import CameraMotion
from posecheck.keypoints.landmark_tracks import when_to_read
from posecheck.players.track import PlayerTrack

T_S = np.arange(120) / 30.0


def track(number: int, x_px: np.ndarray) -> PlayerTrack:
    box = np.stack([x_px - 40, 0 * x_px + 300, x_px + 40, 0 * x_px + 500], axis=1)
    return PlayerTrack(number, box, np.ones(len(x_px), dtype=bool))


STILL = CameraMotion(np.tile(np.eye(3), (len(T_S), 1, 1)), np.ones(len(T_S), dtype=bool))


def test_a_run_is_read_frame_by_frame_and_waiting_is_not() -> None:
    # He waits for 1.5 s 6 heights away, then runs at 2 heights a second.
    x = 200 + 400 * np.clip(T_S - 1.5, 0, 2.5)
    defender, attacker = when_to_read(T_S, track(0, x), track(1, 0 * T_S + 1400), STILL)
    assert defender.due[T_S >= 1.5].all()
    waiting = defender.due[T_S < 1.1]
    assert 10 <= waiting.sum() <= 12
    # Three frames of film at 30 a second.
    assert set(np.diff(np.flatnonzero(attacker.due))) == {3}


def test_near_the_attacker_every_frame_is_read() -> None:
    standing = 0 * T_S + 1000
    defender, _ = when_to_read(T_S, track(0, standing), track(1, standing + 300), STILL)
    assert defender.due.all()


def test_whoever_stands_behind_the_other_is_not_read() -> None:
    """The attacker, 80 px wide and nearer the camera, half hides whoever is 40 px beside him."""
    past = np.linspace(880, 1120, len(T_S))
    behind = track(0, past)
    nearer = track(1, 0 * T_S + 1000)
    nearer.box_xyxy[:, [1, 3]] += 60  # 140 of 200 px of height overlap
    defender, attacker = when_to_read(T_S, behind, nearer, STILL)
    # 0.5 of the box hidden: 140 / 200 * (80 - apart) / 80 = 0.5, so apart = 22.9 px.
    apart = np.abs(past - 1000)
    assert not defender.due[apart < 22].any()
    assert defender.due[apart > 24].all()
    assert attacker.due.sum() == 40  # in front he is read as ever, every third frame


def test_without_an_attacker_only_the_defender_is_wanted() -> None:
    wanted = when_to_read(T_S, track(0, 200 + 400 * T_S), None, STILL)
    assert len(wanted) == 1
    assert wanted[0].due.all()


def test_a_track_with_a_box_turned_inside_out_is_refused() -> None:
    box = np.array([[10.0, 20, 50, 90], [10, 90, 50, 20]])
    with pytest.raises(ValueError, match="want left < right and top < bottom"):
        PlayerTrack(0, box, np.ones(2, dtype=bool))
