"""Drawn films with pauses, cuts and people who do not run: each rep is found, and nothing else."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import films
import numpy as np
import pytest
from actors import (
    BLUE,
    HEIGHT,
    RATE,
    RED,
    WIDTH,
    YELLOW,
    Actor,
    SeesJerseys,
    runs,
    stands,
    write_film,
)

from posecheck.scan.runs import Run
from posecheck.scan.scan_film import (
    Holds,
    PartRuns,
    Scan,
    candidates,
    moving_parts,
    runs_in_part,
    scan_of,
    watch_film,
)
from posecheck.scan.watch import Watched, watch
from posecheck.video.clip import open_clip
from posecheck.video.film import glances


def scan_film(film: Path, slow_motion: float, seen: SeesJerseys) -> Scan:
    """All steps of a scan, one after another."""
    watched = watch_film(film, slow_motion)
    parts = moving_parts(watched, slow_motion)
    return scan_of(
        watched, [runs_in_part(film, part, slow_motion, seen) for part in parts], slow_motion
    )


def joined(path: Path, *films: Path) -> Path:
    """Films one after another, as a phone that was stopped in between would give them."""
    number = 0
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=RATE, options={"crf": "18", "preset": "ultrafast"})
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        for film in films:
            with av.open(str(film)) as each:
                for picture in each.decode(video=0):
                    picture.pts, picture.time_base = number, Fraction(1, RATE)
                    out.mux(stream.encode(picture))
                    number += 1
        out.mux(stream.encode(None))
    return path


def closeout(path: Path, jersey: tuple[int, int, int], begins: float, seconds: float) -> Path:
    """A defender waits, runs out to one who stands, and stays with him."""
    defender = Actor(jersey, runs((80, 300), (470, 300), begins, begins + 2.0))
    write_film(path, [Actor(YELLOW, stands(540, 300)), defender], seconds)
    return path


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Scan]:
    """Two reps of different defenders with 6 s of standing between them, then another camera."""
    folder = tmp_path_factory.mktemp("session")
    first = closeout(folder / "1.mp4", RED, 2.0, 7.0)
    quiet = folder / "2.mp4"
    write_film(quiet, [Actor(YELLOW, stands(540, 300)), Actor(RED, stands(200, 300))], 6.0)
    second = closeout(folder / "3.mp4", BLUE, 1.5, 6.0)
    elsewhere = folder / "4.mp4"
    write_film(elsewhere, [Actor(YELLOW, stands(300, 320))], 4.0, pan_px=lambda t_s: 400.0)
    film = joined(folder / "film.mp4", first, quiet, second, elsewhere)
    return film, scan_film(film, 1.0, SeesJerseys(RED, BLUE, YELLOW))


def test_each_rep_is_a_stretch_with_wait_run_and_contact(session: tuple[Path, Scan]) -> None:
    _, scan = session
    assert [each.holds for each in scan.candidates] == [Holds.CLOSEOUT] * 2
    for candidate, start_s, arrival_s in zip(
        scan.candidates, (2.0, 14.5), (4.0, 16.5), strict=True
    ):
        assert start_s - 2.2 < candidate.from_s < start_s - 0.8
        assert arrival_s + 1.0 < candidate.to_s < arrival_s + 2.6


def test_no_stretch_goes_over_a_jump(session: tuple[Path, Scan]) -> None:
    _, scan = session
    for at_s in (7.0, 13.0, 19.0):
        assert not any(
            each.from_s < at_s - 0.05 and each.to_s > at_s + 0.05 for each in scan.candidates
        )


def test_another_place_is_told_from_a_pause_of_the_camera(session: tuple[Path, Scan]) -> None:
    _, scan = session
    assert scan.places_s == pytest.approx([19.0], abs=0.05)
    assert scan.duration_s == pytest.approx(23.0, abs=0.05)


def test_people_are_looked_for_only_where_something_moves(session: tuple[Path, Scan]) -> None:
    film, _ = session
    parts = list(moving_parts(watch_film(film, 1.0), 1.0))
    assert 4 < sum(to_s - from_s for from_s, to_s in parts) < 12  # of 23 s


def test_a_walk_back_is_no_rep(tmp_path: Path) -> None:
    film = tmp_path / "film.mp4"
    walks = Actor(RED, runs((470, 300), (80, 300), 1.0, 8.0))
    write_film(film, [Actor(YELLOW, stands(540, 300)), walks, Actor(BLUE, stands(30, 300))], 10.0)
    assert scan_film(film, 1.0, SeesJerseys(RED, BLUE, YELLOW)).candidates == ()


def test_slow_motion_is_told_from_a_walk(tmp_path: Path) -> None:
    film = tmp_path / "film.mp4"
    runner = Actor(RED, runs((80, 300), (470, 300), 4.0, 12.0))
    write_film(film, [Actor(YELLOW, stands(540, 300)), runner], 18.0)
    seen = SeesJerseys(RED, YELLOW)
    assert scan_film(film, 1.0, seen).candidates == ()
    (candidate,) = scan_film(film, 4.0, seen).candidates
    assert candidate.from_s < 4.0
    assert candidate.to_s > 12.0


def test_a_pan_is_no_jump(tmp_path: Path) -> None:
    film = tmp_path / "film.mp4"
    write_film(film, [Actor(RED, stands(300, 300))], 6.0, pan_px=lambda t_s: 60 * np.sin(t_s))
    seen = watch(glances(film, 640, 160, 0.1))
    assert seen is not None
    assert (seen.jumps_s, seen.places_s) == ((), ())


def test_what_is_lost_to_damage_is_noticed(tmp_path: Path) -> None:
    sound = films.write_film(
        tmp_path / "sound.mp4",
        range(0, 4000, 40),
        size=(320, 240),
        options={"g": "12", "crf": "10", "sc_threshold": "0"},
    )
    seen = watch(glances(sound, 320, 80, 0.1))
    assert seen is not None
    assert seen.lost_within_s == 0
    films.spoil(sound, 0.5, 0.52)
    seen = watch(glances(sound, 320, 80, 0.1))
    assert seen is not None
    assert seen.lost_within_s == pytest.approx(open_clip(sound).lost_within_s)
    assert 0.2 < seen.lost_within_s < 1.2


def _watched(
    seconds: float, moving: list[tuple[float, float]], jumps_s: tuple[float, ...]
) -> Watched:
    t_s = np.arange(0, seconds, 0.1)
    moves = np.zeros(len(t_s))
    for from_s, to_s in moving:
        moves[(t_s >= from_s) & (t_s <= to_s)] = 0.3
    still = np.tile(np.eye(3), (len(t_s), 1, 1))
    return Watched(t_s, moves, still, jumps_s, (), (640, 360), seconds)


def test_parts_hold_what_moves_with_a_little_more_and_share_a_run() -> None:
    parts = list(moving_parts(_watched(100, [(10, 13), (30, 80)], ())))
    assert parts[0] == pytest.approx((8, 14), abs=0.11)
    assert parts[1][0] == pytest.approx(28, abs=0.11)
    assert parts[-1][1] == pytest.approx(81, abs=0.11)
    for (_, end_s), (begin_s, _) in pairwise(parts[1:]):
        assert end_s - begin_s == pytest.approx(6, abs=0.11)
    assert all(to_s - from_s <= 22.1 for from_s, to_s in parts)


def test_no_part_goes_over_a_jump() -> None:
    parts = list(moving_parts(_watched(40, [(10, 20)], (14.0, 20.5))))
    assert [part for part in parts if part[0] < 14 < part[1]] == []
    assert max(to_s for _, to_s in parts) <= 20.5


def test_what_moves_for_a_moment_is_nobody_running() -> None:
    assert list(moving_parts(_watched(40, [(10, 10.3)], ()))) == []


def _run(
    start_s: float, arrival_s: float, by: float, runner: int, *, comes_into_view: bool = False
) -> Run:
    spot = np.array([300.0, 300.0])
    seen_at = (start_s, spot)
    return Run(
        start_s, arrival_s, runner, 9, by, 2.0, spot, spot + 200, 100.0, seen_at, comes_into_view
    )


def _stretches(*runs: Run, jumps_s: tuple[float, ...] = ()) -> list[tuple[float, float]]:
    found = candidates(list(runs), _watched(60, [], jumps_s), 1.0)
    return [(round(each.from_s, 2), round(each.to_s, 2)) for each in found]


def test_who_shifts_his_feet_before_or_after_takes_nothing_off_a_rep() -> None:
    alone = _stretches(_run(20, 22, 5.0, 1))
    before, rep, after = _stretches(
        _run(19, 19.8, 1.5, 2), _run(20, 22, 5.0, 1), _run(23, 23.5, 1.5, 3)
    )
    assert [rep] == alone
    assert before[1] < 20
    assert after[0] > 22


def test_two_reps_close_together_each_keep_their_run() -> None:
    first, second = _stretches(_run(20, 22, 5.0, 1), _run(22.5, 24.5, 4.0, 2))
    assert first[0] < 19
    assert first[1] > 23.9  # the one that closes more, whole
    assert 22 < second[0] < 22.5  # and none of its run in the other
    assert second[1] > 26


def test_a_stretch_begins_earlier_where_somebody_comes_into_view_running() -> None:
    ((waits_from_s, _),) = _stretches(_run(20, 22, 5.0, 1))
    ((comes_from_s, _),) = _stretches(_run(20, 22, 5.0, 1, comes_into_view=True))
    assert waits_from_s - comes_from_s >= 1.5
    ((from_s, to_s),) = _stretches(_run(20, 22, 5.0, 1, comes_into_view=True), jumps_s=(19.0, 23.0))
    assert (from_s, to_s) == (19, 23)


def test_what_may_be_a_walk_takes_nothing_off_a_run() -> None:
    rep = _run(20, 22, 3.0, 1)
    meanwhile = replace(_run(20.2, 22.4, 9.0, 2), through_zoom=True)
    after = replace(_run(23.5, 26, 9.0, 3), through_zoom=True)
    part = PartRuns(0.0, (640, 360), (rep, meanwhile, after))
    first, second = scan_of(_watched(60, [], ()), [part], 1.0).candidates
    assert (first.holds, second.holds) == (Holds.CLOSEOUT, Holds.MAYBE_WALK)
    assert (round(first.from_s, 2), round(first.to_s, 2)) == _stretches(rep)[0]
    assert second.from_s > 22
