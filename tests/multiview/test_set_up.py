"""Phones that filmed the stick runner: where they stood, what they see, and when they cannot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from runner import camera_at
from scipy.spatial.transform import Rotation
from two_phones import (
    HIPS,
    RATE_HZ,
    claps,
    corner,
    film,
    run,
    sideline,
    turn_between,
)

from posecheck.body import stance
from posecheck.multiview.calibrate import NoCalibration
from posecheck.multiview.measured import measure_together
from posecheck.multiview.phone import Phone, between
from posecheck.multiview.rig import Rig
from posecheck.multiview.set_up import SetUp, set_up
from posecheck.multiview.swaps import with_names_corrected
from posecheck.multiview.triangulate import sight_angle_deg
from posecheck.pose.skeleton import SKELETON
from posecheck.practice.stature import Stature
from posecheck.video.sound import Sound

STATURES = [Stature(1.75, 0.02), Stature(1.75, 0.02)]
LEGS = SKELETON.indices(
    *(f"{s}_{p}" for p in ("hip", "knee", "ankle", "heel", "foot_index") for s in ("left", "right"))
)


def knees_deg(joints_m: np.ndarray) -> np.ndarray:
    legs = [
        stance.knee_flexion(
            *(joints_m[:, SKELETON.index(f"{side}_{p}")] for p in ("hip", "knee", "ankle"))
        )
        for side in ("left", "right")
    ]
    return np.degrees(np.stack(legs, axis=1))


def phones_time(found: SetUp) -> np.ndarray:
    """Moments of the run and the braking."""
    return found.phones[0].t_s[20:80]


def solved(*phones: Phone, later_s: float = 0.0) -> SetUp:
    """By the sound of a clap, which the first phone hears 1.2 s after its film began."""
    sounds = [
        Sound(claps([1.2], 0.5, 1), RATE_HZ, 0.0),
        Sound(claps([1.2], 0.5, 2), RATE_HZ, later_s),
    ]
    return set_up(phones, sounds, STATURES)


@pytest.fixture(scope="module")
def from_players() -> SetUp:
    """Two phones, no point of the field known, clocks 0.217 s apart: no multiple of a frame."""
    other = film(corner(), 0.217, first_s=0.5, last_s=3.6, seed=2)
    return set_up((film(sideline(), seed=1), other), (None, None), STATURES)


@pytest.fixture(scope="module")
def with_points() -> SetUp:
    """Two phones for which known points are marked."""
    phones = film(sideline(), seed=1, known=True), film(corner(), 0.05, seed=2, known=True)
    return solved(*phones, later_s=0.05)


def test_cameras_from_the_players_alone(from_players: SetUp) -> None:
    one, other = from_players.calibration.rig.cameras
    off = turn_between(one, other) @ turn_between(sideline(), corner()).T
    assert np.degrees(Rotation.from_matrix(off).magnitude()) < 3
    lean = one.rotation[:, 2] @ sideline().rotation[:, 2]
    assert np.degrees(np.arccos(lean)) < 2
    t_s = from_players.phones[0].t_s
    hips = between(run().t_s, run().joints_m, t_s)[:, HIPS]
    true_deg = sight_angle_deg((sideline(), corner()), np.median(hips, axis=(0, 1)))
    assert from_players.angle_deg == pytest.approx(true_deg, abs=3)


def test_clocks_from_the_players_alone(from_players: SetUp) -> None:
    assert from_players.clocks_by == ("movement",)
    # A seventh of a frame.
    assert from_players.calibration.rig.later_s[1] == pytest.approx(0.217, abs=0.005)


def test_knees_from_the_players_alone(from_players: SetUp) -> None:
    t_s = phones_time(from_players)
    rig = from_players.calibration.rig
    with_true = replace(rig, cameras=(sideline(), corner()), later_s=(0.0, 0.217))
    found, best = (
        knees_deg(each.checked_points(from_players.phones, 0, t_s).xyz_m)
        for each in (rig, with_true)
    )
    true = knees_deg(between(run().t_s, run().joints_m, t_s))
    # What noise and smoothing leave with cameras known exactly, and what the calibration adds.
    assert np.nanmean(np.abs(best - true)) < 4
    assert np.nanmean(np.abs(found - best)) < 1


def test_known_points_put_him_on_the_field(with_points: SetUp) -> None:
    found = with_points
    t_s = found.phones[0].t_s[10:85]
    points = found.calibration.rig.checked_points(found.phones, 0, t_s).xyz_m
    hips = points[:, HIPS].mean(axis=1)
    true = between(run().t_s, run().joints_m, t_s)[:, HIPS].mean(axis=1)
    assert np.nanmedian(np.linalg.norm(hips - true, axis=1)) < 0.05


def test_a_phone_without_marks_beside_one_with_marks() -> None:
    phones = film(sideline(), seed=1, known=True), film(corner(), 0.05, seed=2)
    found = solved(*phones, later_s=0.05)
    assert found.clocks_by == ("sound",)
    other = found.calibration.rig.cameras[1]
    assert np.linalg.norm(other.centre_m - corner().centre_m) < 0.5


def test_exchanged_legs_get_their_names_back() -> None:
    first, other = film(sideline(), seed=1), film(corner(), seed=2)
    rig = Rig((sideline(), corner()), (0.0, 0.0))
    wrong = np.zeros(len(other.t_s), dtype=bool)
    wrong[20:32] = wrong[50:55] = True
    (_, corrected), n = with_names_corrected([first, other.renamed(0, wrong, LEGS)], rig)
    kept = np.isclose(corrected.players[0].xy_px, other.players[0].xy_px).all(axis=(1, 2))
    assert kept.all()
    assert n == wrong.sum()


def test_the_measured_rep(with_points: SetUp) -> None:
    measured = measure_together(with_points, on_field=True)
    assert measured.rep is not None
    fastest = measured.measures["closeout_speed_mps"]
    assert fastest.low is not None and fastest.high is not None
    assert fastest.low < run().speed_mps.max() < fastest.high
    assert fastest.value == pytest.approx(run().speed_mps.max(), abs=0.3)
    lean = measured.measures["trunk_lean_deg"]
    assert lean.low is not None and lean.high is not None
    assert lean.low < 35 < lean.high  # the stick runner ends in a lean of 35 degrees
    assert lean.high - lean.low < 12


def test_three_phones_outvote_one() -> None:
    third = film(camera_at((-8.0, 10.0, 2.0), (0, 11.5, 0.9)), seed=3, known=True)
    phones = [film(sideline(), seed=1, known=True), film(corner(), seed=2, known=True), third]
    rig = Rig(tuple(phone.known.camera for phone in phones if phone.known), (0.0, 0.0, 0.0))
    knee = SKELETON.index("left_knee")
    spoilt = third.players[0].xy_px.copy()
    spoilt[40:60, knee] += 150.0
    players = (replace(third.players[0], xy_px=spoilt), third.players[1])
    phones[2] = replace(third, players=players)
    t_s = phones[0].t_s[44:56]
    found = rig.checked_points(phones, 0, t_s).xyz_m[:, knee]
    true = between(run().t_s, run().joints_m, t_s)[:, knee]
    assert np.linalg.norm(found - true, axis=1).max() < 0.06


def test_phones_side_by_side_are_refused() -> None:
    beside = camera_at((9.2, 10.5, 1.9), (0.0, 11.5, 0.9))
    with pytest.raises(NoCalibration, match="apart") as why:
        solved(film(sideline(), seed=1, known=True), film(beside, seed=2, known=True))
    assert "60 to 120°" in why.value.remedy


def test_films_of_different_movement_are_refused() -> None:
    other = film(corner(), seed=2)
    stands = replace(other, players=(other.players[1], other.players[1]))
    with pytest.raises(NoCalibration, match="nothing in it moves as") as why:
        set_up((film(sideline(), seed=1), stands), (None, None), STATURES)
    assert "clap" in why.value.remedy


def test_lines_of_sight_that_do_not_meet_are_refused() -> None:
    other = film(corner(), seed=2, known=True)
    rng = np.random.default_rng(0)
    # By the clap the films fit, but the limbs are somebody else's.
    xy_px = other.players[0].xy_px + rng.normal(0, 60, (33, 2))
    strange = replace(other, players=(replace(other.players[0], xy_px=xy_px), other.players[1]))
    with pytest.raises(NoCalibration, match=r"does not meet in space|change their length"):
        solved(film(sideline(), seed=1, known=True), strange)


def test_films_that_share_too_little_are_refused() -> None:
    first, other = film(sideline(), last_s=1.5, seed=1), film(corner(), first_s=2.6, seed=2)
    with pytest.raises(NoCalibration, match="share"):
        solved(first, other)
