"""When players are read: always while they move or are near each other, seldom while they wait."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from films import write_film

from posecheck.camera.motion import CameraMotion
from posecheck.keypoints.landmark_tracks import (
    Wanted,
    around_arrival,
    read_keypoints,
    when_to_read,
)
from posecheck.maths.arrays import FloatArray, Pixels
from posecheck.players.track import PlayerTrack
from posecheck.pose.square import Crop
from posecheck.video.clip import open_clip

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
    # Six frames of film at 30 a second: a fifth of a second.
    assert set(np.diff(np.flatnonzero(attacker.due))) == {6}


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
    assert attacker.due.sum() == 20  # in front he is read as ever, every sixth frame


@pytest.mark.parametrize(
    ("lower_px", "read"),
    # Of 200 px of height.
    [(0.0, (False, False)), (1.0, (False, False)), (5.0, (True, False)), (-5.0, (False, True))],
)
def test_of_two_whose_feet_are_on_one_line_neither_is_known_to_be_in_front(
    lower_px: float, read: tuple[bool, bool]
) -> None:
    """The two boxes, 80 px wide, are 20 px apart: each covers three quarters of the other."""
    one, other = track(0, 0 * T_S + 980), track(1, 0 * T_S + 1000)
    one.box_xyxy[:, [1, 3]] += lower_px
    defender, attacker = when_to_read(T_S, one, other, STILL)
    assert (defender.due.any(), attacker.due.any()) == read


@pytest.mark.parametrize(("lower_px", "read"), [(10.0, True), (-10.0, False)])
def test_who_alone_is_seen_is_in_front_if_he_was_nearer_before(lower_px: float, read: bool) -> None:
    """A runner passes the attacker, who is lost meanwhile. With one foot in the air his box ends
    higher than the attacker's once they overlap, wherever he came from."""
    past = np.linspace(700, 1300, len(T_S))
    together = np.abs(past - 1000) < 35  # 0.9 * (80 - 35) / 80 of either box covered
    runner, attacker = track(0, past), track(1, 0 * T_S + 1000)
    runner.box_xyxy[:, [1, 3]] += np.where(together, -20.0, lower_px)[:, None]
    attacker = replace(attacker, seen=~together)
    defender, _ = when_to_read(T_S, runner, attacker, STILL)
    assert defender.due[together].all() == read
    # Where neither is seen, nothing says that he is in front, and where both are their boxes do.
    lost = replace(runner, seen=~together)
    for unknown in ((lost, attacker), (runner, replace(attacker, seen=runner.seen))):
        defender, _ = when_to_read(T_S, *unknown, STILL)
        assert not defender.due[together].any()


def test_without_an_attacker_only_the_defender_is_wanted() -> None:
    wanted = when_to_read(T_S, track(0, 200 + 400 * T_S), None, STILL)
    assert len(wanted) == 1
    assert wanted[0].due.all()


def test_the_heavy_model_reads_around_the_arrival() -> None:
    """He runs up for 1 s and stays half a height from the attacker; arrival is at 2.5 s."""
    x = 200 + 1100 * np.clip(T_S - 1.5, 0, 1.0)
    due = around_arrival(T_S, track(0, x), track(1, 0 * T_S + 1400), STILL)
    read_s = T_S[due]
    assert read_s[0] < 2.5 - 0.4 and read_s[-1] > 2.5 + 0.3
    assert due.sum() <= 28
    # all frames in a row at 30 a second
    assert np.diff(np.flatnonzero(due)).max() == 1


def test_at_a_high_rate_it_reads_no_more_frames() -> None:
    t_s = np.arange(480) / 120.0
    x = 200 + 1100 * np.clip(t_s - 1.5, 0, 1.0)
    motion = CameraMotion(np.tile(np.eye(3), (480, 1, 1)), np.ones(480, dtype=bool))
    due = around_arrival(t_s, track(0, x), track(1, 0 * t_s + 1400), motion)
    assert 30 <= due.sum() <= 52


def test_a_second_rep_is_a_second_arrival() -> None:
    run = np.clip(T_S, 0, 1) - np.clip(T_S - 1.8, 0, 0.5) * 2 + np.clip(T_S - 2.6, 0, 1)
    due = around_arrival(T_S, track(0, 200 + 1100 * run), track(1, 0 * T_S + 1400), STILL)
    assert due[T_S == 1.0].all() and due[np.abs(T_S - 3.5) < 0.1].all()
    assert not due[(T_S > 1.9) & (T_S < 2.5)].any()


def test_players_who_are_never_seen_together_do_not_arrive() -> None:
    gone = track(1, 0 * T_S + 1400)
    gone.box_xyxy[:] = np.nan
    assert not around_arrival(T_S, track(0, 200 + 400 * T_S), gone, STILL).any()


def test_a_track_with_a_box_turned_inside_out_is_refused() -> None:
    box = np.array([[10.0, 20, 50, 90], [10, 90, 50, 20]])
    with pytest.raises(ValueError, match="want left < right and top < bottom"):
        PlayerTrack(0, box, np.ones(2, dtype=bool))


def test_each_player_is_read_in_his_own_crop_which_two_models_share(tmp_path: Path) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4", size=(320, 180)))
    t_s = clip.t_s
    box = np.stack([t_s * 40 + 20, 0 * t_s + 40, t_s * 40 + 60, 0 * t_s + 140], axis=1)
    seen = np.ones(len(t_s), dtype=bool)
    one, other = PlayerTrack(0, box, seen), PlayerTrack(1, box + 100, seen)
    odd = np.arange(len(t_s)) % 2 == 1
    given: dict[Path, list[Crop]] = {}

    class Reads:
        def __init__(self, model: Path) -> None:
            self.crops = given.setdefault(model, [])

        def read(self, frame: Pixels, at: FloatArray, others: list[FloatArray], crop: Crop) -> None:
            cut = Crop.of_player(frame, at)
            assert crop.square == cut.square
            assert np.array_equal(crop.picture, cut.picture)
            assert others and not any(np.array_equal(each, at) for each in others)
            self.crops.append(crop)

    usual, heavy = Path("usual"), Path("heavy")
    wanted = [Wanted(one, seen), Wanted(other, odd), Wanted(one, odd, heavy)]
    tracks = read_keypoints(clip, wanted, usual, lambda model: nullcontext(Reads(model)))
    assert [len(each.t_s) for each in tracks] == [clip.n_frames] * 3
    assert len(given[usual]) == clip.n_frames + odd.sum()
    assert len(given[heavy]) == odd.sum()
    assert all(any(crop is each for each in given[usual]) for crop in given[heavy])


def test_a_body_read_where_the_other_is_hidden_is_that_of_the_one_in_front(tmp_path: Path) -> None:
    """The attacker's box lies in the defender's, who stands nearer, from the second half on; there
    he is not seen but in the last frame."""
    clip = open_clip(write_film(tmp_path / "a.mp4", size=(320, 180)))
    n, half = clip.n_frames, clip.n_frames // 2
    seen = np.ones(n, dtype=bool)
    front = np.tile([100.0, 20.0, 180.0, 160.0], (n, 1))
    behind = np.tile([120.0, 30.0, 160.0, 140.0], (n, 1))
    behind[:half, [0, 2]] += 100
    others_passed: list[int] = []

    class Reads:
        def read(self, frame: Pixels, at: FloatArray, others: list[FloatArray], crop: Crop) -> None:
            others_passed.append(len(others))

    shows = np.arange(n) < half
    shows[-1] = True
    wanted = [
        Wanted(PlayerTrack(0, front, seen), seen),
        Wanted(PlayerTrack(1, behind, shows), ~seen),
    ]
    read_keypoints(clip, wanted, Path("usual"), lambda _: nullcontext(Reads()))
    assert others_passed == [1] * half + [0] * (n - half - 1) + [1]
    # Once they overlap, the one in front may end higher, at a foot in the air.
    front[half:, 3] = 130.0
    others_passed.clear()
    read_keypoints(clip, wanted, Path("usual"), lambda _: nullcontext(Reads()))
    assert others_passed == [1] * half + [0] * (n - half - 1) + [1]
