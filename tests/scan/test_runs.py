"""Who runs at whom, on hand-made tracks of a practice: pixels and seconds a coach could film."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from posecheck.camera.motion import CameraMotion
from posecheck.camera.phone import PHONE
from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.players.track import Followed, PlayerTrack
from posecheck.scan.runs import Run, find_runs, in_film, runs_through_zoom, without_returns

RATE = 30
Moves = Callable[[FloatArray], FloatArray]
"""From seconds to ``(n, 3)`` feet x, feet y and height, pixels; NaN while he is not followed."""


def stands(x: float, y: float = 600, height: float = 180) -> Moves:
    return lambda t: np.tile((x, y, height), (len(t), 1)).astype(float)


def along(*stops: tuple[float, float, float, float]) -> Moves:
    """Stops (seconds, feet x, feet y, height): he eases from one to the next."""

    def moves(t: FloatArray) -> FloatArray:
        place = np.tile(stops[0][1:], (len(t), 1)).astype(float)
        for (from_s, *begin), (to_s, *end) in pairwise(stops):
            share = np.clip((t - from_s) / (to_s - from_s), 0, 1)
            share = share * share * (3 - 2 * share)
            later = t >= from_s
            place[later] = (np.array(begin) + np.outer(share, np.subtract(end, begin)))[later]
        return place

    return moves


def runs_in(
    seconds: float, *everybody: Moves, seen: Callable[[FloatArray], BoolArray] | None = None
) -> list[Run]:
    """The runs of everybody; ``seen`` gives ``(n,)`` whether they are found while followed."""
    return find_runs(followed(seconds, *everybody, seen=seen), focal_px=1600)


def followed(
    seconds: float, *everybody: Moves, seen: Callable[[FloatArray], BoolArray] | None = None
) -> Followed:
    t_s = np.arange(round(seconds * RATE)) / RATE
    tracks = []
    for number, moves in enumerate(everybody):
        x, y, height = moves(t_s).T
        half = 0.18 * height
        box = np.stack([x - half, y - height, x + half, y], axis=1)
        read = np.isfinite(height) & (True if seen is None else seen(t_s))
        tracks.append(PlayerTrack(number, box, read))
    still = CameraMotion(np.tile(np.eye(3), (len(t_s), 1, 1)), np.ones(len(t_s), dtype=bool))
    return Followed(t_s, tuple(tracks), still)


def test_a_closeout_is_a_run_at_somebody_who_stands() -> None:
    (run,) = runs_in(
        8, along((3, 300, 600, 180), (5.2, 1200, 600, 180)), stands(1330), stands(250, 560, 165)
    )
    assert (run.runner, run.target) == (0, 1)
    assert abs(run.start_s - 3.2) < 0.4
    assert abs(run.arrival_s - 5.2) < 0.6
    assert run.by > 4
    t_s, middle = run.seen_at
    assert 3.2 < t_s < 5.2
    assert 300 < middle[0] < 1200


def test_a_run_in_which_he_is_out_of_sight_for_a_while_is_one() -> None:
    runs = along((3, 300, 600, 180), (5.2, 1200, 600, 180))

    def hidden(t: FloatArray) -> FloatArray:
        place = runs(t)
        place[np.abs(t - 4.1) < 0.4] = np.nan
        return place

    (run,) = runs_in(8, hidden, stands(1330))
    assert abs(run.start_s - 3.2) < 0.4
    assert abs(run.arrival_s - 5.2) < 0.6


def test_who_comes_into_view_running_has_left_before() -> None:
    runs = along((3, 300, 600, 180), (5.2, 1200, 600, 180))

    def comes_in(t: FloatArray) -> FloatArray:
        place = runs(t)
        place[t < 3.8] = np.nan
        return place

    def found_late(t: FloatArray) -> FloatArray:
        place = runs(t)
        place[t < 2.4] = np.nan
        return place

    (late,) = runs_in(8, comes_in, stands(1330))
    assert late.comes_into_view
    assert late.start_s < 4.1
    for seen_waiting in (runs, found_late):
        (run,) = runs_in(8, seen_waiting, stands(1330))
        assert not run.comes_into_view


def test_who_comes_into_view_running_near_the_other_has_run_all_the_same() -> None:
    runs = along((3, 100, 600, 180), (5.6, 1330, 600, 180))
    walks = along((3, 100, 600, 180), (12, 1330, 600, 180))

    def comes_in(moves: Moves) -> Moves:
        def seen(t: FloatArray) -> FloatArray:
            place = moves(t)
            place[place[:, 0] < 1060] = np.nan
            return place

        return seen

    (run,) = runs_in(8, comes_in(runs), stands(1330))
    assert (run.runner, run.target) == (0, 1)
    assert run.comes_into_view
    assert not runs_in(14, comes_in(walks), stands(1330))


def test_a_walk_is_no_run() -> None:
    # 1.4 m/s for one of 1.8 m, who is 180 px tall.
    assert runs_in(12, along((1, 300, 600, 180), (8.4, 1200, 600, 180)), stands(1330)) == []


def test_people_who_stand_drink_and_talk_do_not_run() -> None:
    def shifts(x: float, phase: float) -> Moves:
        def moves(t: FloatArray) -> FloatArray:
            place = stands(x)(t)
            place[:, 0] += 25 * np.sin(2.5 * t + phase)
            place[:, 2] *= 1 - 0.08 * (1 + np.sin(1.7 * t + phase))  # nods, bends a little
            return place

        return moves

    assert runs_in(15, shifts(500, 0), shifts(610, 1), shifts(760, 2), shifts(900, 3)) == []


def test_each_of_several_reps_has_its_own_defender() -> None:
    found = runs_in(
        14,
        along((2, 300, 600, 180), (4, 1200, 600, 180)),
        along((8, 250, 560, 170), (10, 1180, 640, 190)),
        stands(1330),
    )
    assert [(run.runner, run.target) for run in found] == [(0, 2), (1, 2)]
    assert [round(run.arrival_s) for run in found] == [4, 10]


def test_a_run_away_from_the_camera_shows_in_the_size() -> None:
    # 8 m to 13 m from the camera in 1.5 s, at one who seems near all along.
    found = runs_in(6, along((2, 640, 700, 300), (3.5, 600, 640, 180)), stands(500, 650, 205))
    assert [(run.runner, run.target) for run in found] == [(0, 1)]


def test_who_sits_down_does_not_run() -> None:
    assert runs_in(6, along((2, 640, 700, 200), (2.8, 640, 700, 110))) == []


def test_a_run_to_nobody_is_one_too_but_only_a_long_one() -> None:
    (run,) = runs_in(6, along((2, 300, 600, 180), (4.5, 1200, 600, 180)))
    assert run.target is None
    assert runs_in(6, along((2, 300, 600, 180), (3, 600, 600, 180))) == []


def test_somebody_who_runs_along_with_the_runner_is_nobody_to_run_at() -> None:
    found = runs_in(
        7,
        along((2, 300, 600, 180), (4.5, 1200, 600, 180)),
        along((2, 420, 600, 180), (4.5, 1320, 600, 180)),
    )
    assert all(run.target is None for run in found)


def test_who_comes_running_into_view_later_has_not_stood_there_before() -> None:
    def again(t: FloatArray) -> FloatArray:
        place = along((6, 400, 600, 180), (8, 1200, 600, 180))(t)
        place[t < 6.5] = np.nan
        return place

    def out_of_view(t: FloatArray) -> FloatArray:
        place = along((1, 1200, 600, 180), (3, 500, 600, 180))(t)
        place[t > 3.2] = np.nan
        return place

    assert all(run.target is None for run in runs_in(9, out_of_view, again))
    # Who is found late and stands has stood there.
    waits = stands(450)

    def found_late(t: FloatArray) -> FloatArray:
        place = waits(t)
        place[t < 6.5] = np.nan
        return place

    assert [run.target for run in runs_in(9, out_of_view, found_late)] == [1]


def test_the_way_back_from_a_rep_is_none() -> None:
    found = runs_in(
        16,
        along((2, 300, 600, 180), (4, 1200, 600, 180), (8, 1200, 600, 180), (11, 300, 600, 180)),
        stands(1330),
        stands(200),  # the next in line, at whom he seems to run on his way back
    )
    assert [run.target for run in found] == [1, 2]
    assert without_returns(found) == [found[0]]


def test_who_is_far_taller_than_the_one_before_does_not_run_back_from_there() -> None:
    # Somebody far behind shuffles to the right; then a defender near the camera runs to the left,
    # who seems to begin where the other ended.
    far = along((2, 420, 520, 60), (2.8, 520, 520, 60))
    near = along((7, 560, 620, 180), (9, 100, 620, 180))
    found = runs_in(12, far, stands(590, 520, 60), near, stands(20, 620, 180))
    assert [(run.runner, run.target) for run in found] == [(0, 1), (2, 3)]
    assert without_returns(found) == found


def test_who_runs_up_to_where_a_run_ended_does_not_run_back_from_there() -> None:
    # A box grows down over who stands there, as if somebody came from afar; then a defender runs
    # up from the right and below.
    grows = along((2, 640, 400, 90), (3, 640, 600, 180))
    comes = along((7, 1150, 760, 190), (9, 790, 605, 180))
    found = runs_in(12, grows, stands(650), comes)
    assert [run.target for run in found] == [1, 1]
    assert without_returns(found) == found


@pytest.mark.parametrize(("seen_until_s", "runs"), [(2.4, 0), (3.4, 1)])
def test_a_box_that_is_followed_without_anybody_in_it_does_not_run(
    seen_until_s: float, runs: int
) -> None:
    def seen(t: FloatArray) -> BoolArray:
        return np.asarray((t < seen_until_s) | (t > 3.9))

    for target in ([stands(1330)], []):
        comes = along((2, 300, 600, 180), (4, 1200, 600, 180))
        assert len(runs_in(6, comes, *target, seen=seen)) == runs


def test_the_next_defender_from_the_same_cone_is_no_way_back() -> None:
    found = runs_in(
        16,
        along((2, 300, 600, 180), (4, 1200, 600, 180), (7, 1200, 600, 180), (13, 300, 600, 180)),
        along((9, 260, 600, 180), (11, 1200, 600, 180)),
        stands(1330),
    )
    kept = [run for run in without_returns(found) if run.target is not None]
    assert [run.runner for run in kept] == [0, 1]


def test_a_run_is_put_into_the_time_and_the_place_of_its_film() -> None:
    (run,) = runs_in(7, along((2, 300, 600, 180), (4, 1200, 600, 180)), stands(1330))
    shift = np.array([[1.0, 0, 50], [0, 1, 0], [0, 0, 1]])
    in_all = in_film(run, 100.0, 8.0, shift)
    assert in_all.start_s == 100 + 8 * run.start_s
    assert in_all.arrival_s == 100 + 8 * run.arrival_s
    np.testing.assert_allclose(in_all.to_px, run.to_px + np.array([50, 0]))
    np.testing.assert_allclose(in_all.height_px, run.height_px)
    np.testing.assert_allclose(in_all.from_height_px, run.from_height_px)


def test_a_run_seen_from_far_away_along_the_line_of_sight_is_one_through_a_longer_lens() -> None:
    # He runs 8 m and grows by less than a half, and his feet sink by a sixth of his height.
    runs = along((3, 600, 552, 98), (4.4, 600, 558, 115), (5.4, 740, 570, 136))
    walks = along((8, 740, 570, 136), (14, 600, 552, 98))
    everybody = (lambda t: np.where(t[:, None] < 7, runs(t), walks(t)), stands(797, 567, 142))
    seen = followed(15, *everybody)
    assert find_runs(seen, 1600) == []
    (run,) = runs_through_zoom(seen, 1600, PHONE.zooms)
    assert (run.runner, run.target, run.through_zoom) == (0, 1, True)
    assert abs(run.arrival_s - 5.2) < 0.6
    assert runs_through_zoom(seen, 1600, [0.7, 1.0]) == []


def test_who_may_have_walked_there_jogs_back_from_no_rep() -> None:
    (walk,) = runs_in(8, along((3, 1200, 600, 180), (5.2, 300, 600, 180)), stands(170))
    (rep,) = runs_in(8, along((3, 300, 600, 180), (5.2, 1200, 600, 180)), stands(1330))
    rep = in_film(rep, 8.0, 1.0, np.eye(3))
    assert without_returns([walk, rep]) == [walk]
    assert without_returns([replace(walk, through_zoom=True), rep])[-1] is rep
