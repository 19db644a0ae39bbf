"""Who slowed down, as cameras see it: runs worked by hand (tests/support/runner.py).

Speeds and braking distances are known from the runs themselves; the attacker stands where each run
comes within reach of him while it is still at full speed, or only after it has braked.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Literal

import numpy as np
import pytest
from factories import make_rep_result
from runner import Run, camera_at, closeout, still

from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack, track_on_ground
from posecheck.ground.tuning import LASTING_SD_M
from posecheck.judging.asked import Asked
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, judge
from posecheck.measures.intervals import default_intervals
from posecheck.measures.measure import Measure
from posecheck.measures.of_rep import arrival_within_s
from posecheck.measures.of_run import FORMULAS, run_measure
from posecheck.measures.run import Run as RepRun
from posecheck.reps.rep import ArrivalSource
from posecheck.reps.splitting import find_reps
from posecheck.reps.tuning import STOOD_M

CAMERAS = {
    "sideline": camera_at((13.0, 9.0, 1.8), (0.0, 9.0, 0.8)),
    "front, oblique": camera_at((3.0, 24.0, 2.0), (0.0, 8.0, 0.5), 55),
    "end line": camera_at((-2.0, -6.0, 2.0), (0.0, 8.0, 0.5)),
    "corner": camera_at((13.0, 19.0, 1.7), (0.0, 9.0, 0.8)),
}
ATTACKER_M, REACH_M = np.array([0.3, 14.0]), 1.8

RUNS_THROUGH = closeout(target_m=(0.5, 22.0), top_mps=5.4, crouch_m=0.0)
"""Reaches the attacker at full speed and brakes 5 m behind him."""

BREAKS_DOWN = closeout(target_m=(0.2, 12.8), top_mps=5.4, braking_mps2=4.0)
"""Has braked over 3 m when he comes within reach, down to 2 m/s."""


def arrival_s(run: Run) -> float:
    apart = np.linalg.norm(run.ground_m - ATTACKER_M, axis=1)
    return float(run.t_s[np.argmax(apart <= REACH_M)])


def cut(run: Run, end_s: float) -> Run:
    """The same film, stopped at a moment."""
    n = int(np.searchsorted(run.t_s, end_s))
    return Run(run.t_s[:n], run.ground_m[:n], run.speed_mps[:n], run.joints_m[:n])


@cache
def _measured(kind: str, where: str, noise_px: float, scale_sd: float) -> dict[str, Measure]:
    run = {
        "runs through": RUNS_THROUGH,
        "breaks down": BREAKS_DOWN,
        "runs through, film ends there": cut(RUNS_THROUGH, arrival_s(RUNS_THROUGH) + 0.15),
    }[kind]
    ground = Ground(CAMERAS[where], "marks", "", scale_sd, scale_sd, on_field=True)
    rng = np.random.default_rng(0)
    xy_px, score = run.seen(CAMERAS[where], noise_px, rng)
    n = len(run.t_s)
    feet = run.foot_sight(CAMERAS[where], rng)
    defender = track_on_ground(run.t_s, xy_px, score, still(n), ground, feet)
    stands = np.tile(ATTACKER_M, (n, 1))
    attacker = GroundTrack(run.t_s, stands, np.zeros((n, 2)), np.full(n, 0.1), np.full(n, 0.1))
    rep = find_reps(defender.xy_m, attacker.xy_m, run.t_s, defender.velocity_mps)[0]
    assert rep.arrival_s is not None
    it = RepRun(rep, rep.arrival_s, defender, attacker, ground, None, None)
    return {key: run_measure(key, it, default_intervals()) for key in FORMULAS}


def never_braked(measures: dict[str, Measure]) -> Call:
    verdict = judge(measures, Thresholds(), Asked(None, None, None, None))
    return next(each.call for each in verdict.findings if each.rule == "never_braked")


@pytest.mark.parametrize(
    ("kind", "where"),
    [("runs through", where) for where in CAMERAS]
    # Seen along the run, the speed at the film's very end is too vague.
    + [("runs through, film ends there", "sideline"), ("runs through, film ends there", "corner")],
)
def test_one_who_runs_through_is_said_not_to_have_slowed_down(kind: str, where: str) -> None:
    """Though he never brakes, so that nothing shows where braking would have begun."""
    measures = _measured(kind, where, 2.0, 0.01)
    assert never_braked(measures) is Call.FLAGGED
    kept = measures["speed_kept"]
    assert kept.low is not None and kept.high == 1.0
    assert kept.low > 0.8


@pytest.mark.parametrize("where", CAMERAS)
@pytest.mark.parametrize("noise_px", [2.0, 5.0])
def test_one_who_breaks_down_is_never_said_not_to_have(where: str, noise_px: float) -> None:
    measures = _measured("breaks down", where, noise_px, 0.01)
    assert never_braked(measures) is not Call.FLAGGED
    kept = measures["speed_kept"]
    i = int(np.searchsorted(BREAKS_DOWN.t_s, arrival_s(BREAKS_DOWN)))
    truth = BREAKS_DOWN.speed_mps[i] / BREAKS_DOWN.speed_mps.max()
    assert kept.low is not None and kept.high is not None
    assert kept.low <= truth <= kept.high


def test_a_scale_that_is_off_does_not_blur_whether_he_slowed_down() -> None:
    """It makes the whole run too fast or too slow: the speed kept is a share."""
    known, vague = (
        _measured("runs through", "sideline", 2.0, scale_sd) for scale_sd in (0.005, 0.12)
    )

    def width(measures: dict[str, Measure], key: str) -> float:
        assert measures[key].low is not None and measures[key].high is not None
        return measures[key].high - measures[key].low  # type: ignore[operator]

    assert width(vague, "closeout_speed_mps") > 1.5 * width(known, "closeout_speed_mps")
    assert width(vague, "speed_kept") < 1.1 * width(known, "speed_kept")


def _at_full_speed(attacker_mps: float, end_s: float) -> RepRun:
    """A run along y at 5 m/s, known to 5 cm, past an attacker at y = 10 m who moves along y."""
    t_s = np.arange(0, end_s, 1 / 30)
    n, along = len(t_s), 5.0 * t_s

    def track(y_m: np.ndarray, speed_mps: float) -> GroundTrack:
        xy_m = np.column_stack([np.zeros(n), y_m])
        velocity = np.tile([0.0, speed_mps], (n, 1))
        return GroundTrack(t_s, xy_m, velocity, np.full(n, 0.05), np.full(n, 0.05))

    defender = track(along, 5.0)
    attacker = track(10 + attacker_mps * (t_s - 1.64), attacker_mps)
    ground = _ground_of("sideline")
    rep = find_reps(defender.xy_m, attacker.xy_m, t_s, defender.velocity_mps)[0]
    assert rep.arrival_s is not None
    return RepRun(rep, rep.arrival_s, defender, attacker, ground, None, None)


@pytest.mark.parametrize(
    ("attacker_mps", "scale_sd", "by_hand_s"),
    [
        (0.0, 0.0, np.hypot(0.05, 0.05) / 5),
        (3.0, 0.0, np.hypot(0.05, 0.05) / 2),  # closes in at 5 - 3 m/s
        (0.0, 0.1, np.sqrt(2 * 0.05**2 + (0.1 * REACH_M) ** 2) / 5),  # 1.8 m known to a tenth
    ],
)
def test_who_creeps_into_reach_arrives_at_a_vague_moment(
    attacker_mps: float, scale_sd: float, by_hand_s: float
) -> None:
    run = _at_full_speed(attacker_mps, 4.0)
    ground = replace(run.ground, scale_sd=scale_sd, depth_sd=scale_sd)
    assert replace(run, ground=ground).arrival_sd_s == pytest.approx(by_hand_s, rel=0.01)


@pytest.mark.parametrize(("source", "sds"), [("marks", 1.1), ("players", 1.8)])
def test_a_vague_moment_of_arrival_is_said(source: Literal["marks", "players"], sds: float) -> None:
    run = _at_full_speed(3.0, 4.0)
    run = replace(run, ground=replace(run.ground, source=source, scale_sd=0.0, depth_sd=0.0))
    assert arrival_within_s(run) == pytest.approx(sds * np.hypot(0.05, 0.05) / 2, rel=0.01)
    stated = replace(run, rep=replace(run.rep, source=ArrivalSource.STATED))
    assert arrival_within_s(stated) == pytest.approx(1.645 * stated.arrival_sd_s)
    said = {
        within_s: replace(make_rep_result(), arrival_within_s=within_s).said_of_arrival
        for within_s in (None, 0.1, 0.26)
    }
    assert said[None] is said[0.1] is None
    assert "good to 0.3 s only" in str(said[0.26])


def test_a_place_is_vague_along_the_line_of_sight_alone() -> None:
    """Both 0.3 m; run across the view, the moment is as good as what no averaging removes."""
    across = _at_full_speed(0.0, 4.0)
    assert across.attacker is not None
    vague = {"sd_m": np.full(len(across.defender.t_s), 0.3)}
    there = [replace(each, **vague) for each in (across.defender, across.attacker)]
    camera = replace(CAMERAS["sideline"], centre_m=np.array([20.0, 8.2, 1.8]))
    run = replace(across, defender=there[0], attacker=there[1])
    seen = {
        "across": replace(run, ground=replace(run.ground, camera=camera)),
        "along": replace(
            run,
            ground=replace(
                run.ground, camera=replace(camera, centre_m=np.array([0.0, -15.0, 1.8]))
            ),
        ),
    }
    assert seen["across"].arrival_sd_s == pytest.approx(np.sqrt(2) * LASTING_SD_M / 5, rel=0.02)
    assert seen["along"].arrival_sd_s == pytest.approx(np.sqrt(2) * 0.3 / 5, rel=0.02)


def test_the_moment_of_arrival_is_part_of_how_sure_the_overrun_is() -> None:
    """He runs on at 5 m/s: read a hundredth of a second late he is read 5 cm further past."""
    run = _at_full_speed(0.0, 4.0)
    moves_on = FORMULAS["overrun_m"](run)
    assert not isinstance(moves_on, str)
    assert moves_on.value == pytest.approx(5 * 1.0 - REACH_M, abs=0.2)
    place_sd = np.hypot(0.05, 0.05)
    assert run.arrival_sd_s == pytest.approx(place_sd / 5.0)
    by_hand = np.hypot(place_sd, 5.0 * run.arrival_sd_s)
    # A frame more or less within the second is 0.17 m.
    assert place_sd < moves_on.sd <= by_hand + 0.17
    stopped = replace(
        run.defender,
        xy_m=np.minimum(run.defender.xy_m, run.arrival_s * 5.0 + 0.5),
    )
    assert FORMULAS["overrun_m"](replace(run, defender=stopped)).sd == pytest.approx(place_sd)  # type: ignore[union-attr]


def test_an_attacker_held_behind_the_defender_is_known_less_well() -> None:
    """The camera looks along the run; he is seen until the defender comes between."""
    seen = replace(_at_full_speed(0.0, 3.0), ground=_ground_of("end line"))
    assert seen.attacker is not None
    xy_m = seen.attacker.xy_m.copy()
    xy_m[(seen.attacker.t_s > seen.arrival_s - 0.6) & (seen.attacker.t_s < 2.8)] = np.nan
    hidden = replace(seen, attacker=replace(seen.attacker, xy_m=xy_m))
    assert hidden.target_xy_m == pytest.approx(seen.target_xy_m, abs=0.01)
    assert seen.target_sd_m == pytest.approx(0.05)
    assert hidden.target_sd_m == pytest.approx(np.hypot(0.05, STOOD_M / 2))
    assert hidden.arrival_sd_s > seen.arrival_sd_s


def _ground_of(where: str) -> Ground:
    return Ground(CAMERAS[where], "marks", "", 0.0, 0.0, on_field=True)
