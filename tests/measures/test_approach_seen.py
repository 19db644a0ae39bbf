"""Heading and aftermath as cameras see them: straight runs, and an attacker who dodges.

All run in straight lines worked by hand (tests/support/runner.py), so in which direction they
head, who is goal-side, by how much, and to which side he went is known.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from runner import Run, camera_at, closeout, still

from posecheck.camera.pinhole import Camera
from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack, track_on_ground
from posecheck.measures import aftermath
from posecheck.measures.intervals import default_intervals
from posecheck.measures.measure import Measure
from posecheck.measures.of_run import FORMULAS, run_measure
from posecheck.measures.run import Run as RepRun
from posecheck.practice.layout import Side
from posecheck.reps.splitting import find_reps

CAMERAS = {
    "sideline": camera_at((13.0, 9.0, 1.8), (0.0, 9.0, 0.8)),
    "front, oblique": camera_at((3.0, 22.0, 2.5), (0.0, 8.0, 0.5)),
    "end line": camera_at((-2.0, -5.0, 3.5), (0.0, 8.0, 0.5)),
    "corner": camera_at((11.0, 18.0, 2.0), (0.0, 9.0, 0.8)),
}

STANDS = (-6.0, 12.0)
"""Of the attacker, top left; his line to the goal is (1, -2), topside is (2, 1) over root 5."""

DODGES = {
    "topside": (0.0, 6.5),
    "alley": (-7.0, 2.5),
    "at the goal": (-1.5, 3.0),
}
"""Where he dodges to, from 0.2 s before the defender arrives, at 6 m/s^2 up to 6 m/s."""

LEAVES_BEFORE_S = 0.2
REACH_M = 1.8
"""Ground distance that counts as arrival."""


def delayed(run: Run, by_s: float) -> Run:
    """The same run after standing for a while longer, cut to end a second and a half later."""
    rate = 1 / (run.t_s[1] - run.t_s[0])
    ahead = round(by_s * rate)

    def stretch(values: np.ndarray) -> np.ndarray:
        return np.concatenate([np.repeat(values[:1], ahead, axis=0), values])

    joints, ground, speed = (stretch(each) for each in (run.joints_m, run.ground_m, run.speed_mps))
    return Run(np.arange(len(ground)) / rate, ground, speed, joints)


@cache
def played(dodge: str) -> tuple[Run, Run]:
    """Defender and attacker over the same frames."""
    defender = closeout(target_m=(-5.2, 10.9), top_mps=5.0, crouch_m=0.2)
    apart = np.linalg.norm(defender.ground_m - np.array(STANDS), axis=1)
    arrival_s = float(defender.t_s[np.argmax(apart <= REACH_M)])
    # A run of its own stands for half a second first.
    away = closeout(STANDS, DODGES[dodge], top_mps=6.0, speed_up_mps2=6.0, braking_mps2=8.0)
    attacker = delayed(away, arrival_s - LEAVES_BEFORE_S - 0.5)
    n = min(len(defender.t_s), len(attacker.t_s))
    both = [
        Run(each.t_s[:n], each.ground_m[:n], each.speed_mps[:n], each.joints_m[:n])
        for each in (defender, attacker)
    ]
    return both[0], both[1]


def ground_of(camera: Camera) -> Ground:
    return Ground(camera, "marks", "", scale_sd=0.005, depth_sd=0.005, on_field=True)


def measures_of(defender: GroundTrack, attacker: GroundTrack, ground: Ground) -> dict[str, Measure]:
    """Everything read from places on the ground, of the first rep in two tracks."""
    rep = find_reps(defender.xy_m, attacker.xy_m, defender.t_s, defender.velocity_mps)[0]
    assert rep.arrival_s is not None
    run = RepRun(rep, rep.arrival_s, defender, attacker, ground, None, Side.LEFT)
    return {key: run_measure(key, run, default_intervals()) for key in FORMULAS}


def measured(dodge: str, where: str, seed: int) -> tuple[dict[str, Measure], dict[str, float]]:
    """What is measured of the dodge, and what it is."""
    defender, attacker = played(dodge)
    ground = ground_of(CAMERAS[where])
    rng = np.random.default_rng(seed)

    def followed(run: Run) -> GroundTrack:
        xy_px, score = run.seen(CAMERAS[where], 2.0, rng)
        feet = run.foot_sight(CAMERAS[where], rng)
        return track_on_ground(run.t_s, xy_px, score, still(len(run.t_s)), ground, feet)

    measures = measures_of(followed(defender), followed(attacker), ground)
    t_s, d, a = defender.t_s, defender.ground_m, attacker.ground_m
    (true_rep,) = find_reps(d, a, t_s, np.gradient(d, t_s, axis=0))
    assert true_rep.arrival_s is not None
    worst = aftermath.worst_moment(t_s, d, a, true_rep.arrival_s)
    assert worst is not None
    truth = {
        "goal_side_m": float(aftermath.goal_side(d, a)[worst]),
        "attacker_went_m": aftermath.went_across(t_s, a, true_rep.arrival_s, Side.LEFT),
    }
    return {key: measures[key] for key in truth}, truth


@pytest.mark.parametrize("start", [(0.0, 3.5), (6.0, 6.0)])
def test_the_heading_of_a_straight_run(start: tuple[float, float]) -> None:
    """At an attacker top left, 0.8 m topside of him: the line's direction, from four cameras."""
    attacker = np.array(STANDS)
    out = attacker / np.linalg.norm(attacker)
    across = np.array([2.0, 1.0]) / np.sqrt(5.0)
    run = closeout(start, tuple(attacker - 0.5 * out + 0.8 * across), top_mps=4.5)
    gone = run.ground_m[-1] - run.ground_m[0]
    by_hand = np.degrees(np.arctan2(gone @ across, gone @ out))
    n = len(run.t_s)
    stands = GroundTrack(
        run.t_s, np.tile(attacker, (n, 1)), np.zeros((n, 2)), np.full(n, 0.1), np.full(n, 0.1)
    )
    inside = []
    for camera in CAMERAS.values():
        ground = ground_of(camera)
        rng = np.random.default_rng(0)
        xy_px, score = run.seen(camera, 2.0, rng)
        feet = run.foot_sight(camera, rng)
        track = track_on_ground(run.t_s, xy_px, score, still(n), ground, feet)
        heading = measures_of(track, stands, ground)["heading_deg"]
        assert heading.value == pytest.approx(by_hand, abs=6.0)
        assert heading.low is not None and heading.high is not None
        inside.append(heading.low <= by_hand <= heading.high)
    assert np.mean(inside) >= 0.85


@pytest.mark.parametrize("where", CAMERAS)
@pytest.mark.parametrize(("dodge", "sign"), [("topside", 1), ("alley", -1)])
def test_a_dodge_is_seen_to_its_side(dodge: str, sign: int, where: str) -> None:
    found, truth = measured(dodge, where, seed=0)
    assert np.sign(truth["attacker_went_m"]) == sign
    went = found["attacker_went_m"]
    assert went.low is not None and went.high is not None
    assert np.sign(went.low) == np.sign(went.high) == sign


def test_beaten_is_measured_and_the_error_bars_hold() -> None:
    inside = []
    for where in CAMERAS:
        for dodge in DODGES:
            found, truth = measured(dodge, where, seed=1)
            margin = found["goal_side_m"]
            assert truth["goal_side_m"] < 0
            assert margin.high is not None and margin.high < 0, (where, dodge)
            for key, measure in found.items():
                assert measure.low is not None and measure.high is not None, (where, dodge, key)
                inside.append(measure.low <= truth[key] <= measure.high)
    assert np.mean(inside) >= 0.85
