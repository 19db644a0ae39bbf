"""The sample practice's players against physics and published gait values."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from extra import needs_models_extra
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

from models.render import truth
from models.render.captured import plan_captured, plan_travelling
from models.render.gait import captured, knee_flexion
from models.render.motion import (
    JOINTS,
    REGIONS,
    SOLE_M,
    AttackerSpec,
    BodySpec,
    PlayerMotion,
    RepSpec,
    Stance,
    plan_attacker,
    plan_defender,
)

pytestmark = [
    needs_models_extra("anny", "torch", "pybullet_data"),
    pytest.mark.filterwarnings("ignore"),  # torch and anny warn about themselves
]

BREAKDOWN = RepSpec(attacker_m=(0.0, 13.7), seed=1)
RUN_OUT = RepSpec(
    attacker_m=(-8.0, 12.5), stance=None, past_m=3.5, braking_distance_m=2.0, end_speed_mps=2.0,
    side_offset_m=0.7, peak_speed_mps=5.5, seed=2,
)  # fmt: skip


@pytest.fixture(scope="module")
def breakdown() -> PlayerMotion:
    return plan_defender(BodySpec(), BREAKDOWN)


@pytest.fixture(scope="module")
def run_out() -> PlayerMotion:
    return plan_defender(BodySpec(age_years=16, height_m=1.70), RUN_OUT)


def test_knee_flexion_is_the_turn_of_the_shank() -> None:
    """Against scipy: a straight leg whose shank is turned about a hinge square to it."""
    rng = np.random.default_rng(0)
    angle = rng.uniform(0.0, np.radians(140), 200)
    whole = Rotation.random(200, rng=rng)
    shank = Rotation.from_euler("x", -angle[:, None]).apply([0.0, 0.0, -0.4])
    hip = np.zeros((200, 3))
    knee = whole.apply(np.tile([0.0, 0.0, -0.45], (200, 1)))
    assert knee_flexion(hip, knee, knee + whole.apply(shank)) == pytest.approx(angle, abs=1e-9)


def test_captured_run_bends_the_knee_as_published() -> None:
    """Running peaks: about 45 deg in stance, 90 (running) to 130 (sprint) in swing.

    Novacheck, The biomechanics of running, Gait and Posture 7 (1998); values from memory,
    with one published standard deviation of about 10 deg on the stance peak.
    """
    flexion = np.degrees(captured("run")[2])
    assert 35 <= flexion[:6].max() <= 55
    assert 90 <= flexion.max() <= 130


def test_captured_walk_bends_the_knee_in_stance_as_published() -> None:
    """Loading response of walking: 15 to 25 deg (Perry, Gait Analysis, 1992; from memory)."""
    flexion = np.degrees(captured("walk")[2])
    assert 15 <= flexion[:12].max() <= 25


def test_run_keeps_the_published_knee_bend_on_our_bodies(run_out: PlayerMotion) -> None:
    """The same published running peaks after retargeting, at steady speed before the attacker."""
    steady = (run_out.t_s > 1.8) & (run_out.t_s < 2.9)
    bend = truth.knee_flexion_deg(run_out)[steady]
    low = _planted(run_out)[steady]
    for leg in range(2):
        assert 90 <= bend[:, leg].max() <= 130
        assert 35 <= bend[low[:, leg], leg].max() <= 55


_SEGMENTS = (
    ("hip", "knee", 0.100, 0.433),
    ("knee", "ankle", 0.0465, 0.433),
    ("ankle", "foot_index", 0.0145, 0.5),
    ("shoulder", "elbow", 0.028, 0.436),
    ("elbow", "wrist", 0.022, 0.682),
    ("hip", "shoulder", 0.2485, 0.5),
    ("ear", "ear", 0.0405, 0.0),
)
"""Ends of each of the two sides' segments, share of the body's mass, and where its middle is from
the first end. Winter, Biomechanics and Motor Control of Human Movement, table 4.1; from memory."""


def _ahead_of_the_mass(motion: PlayerMotion) -> float:
    """How far standing feet are ahead of the centre of mass, middle of the frames that brake hard.

    Along the run, over the braking times height over gravity: 1 keeps the weight over the feet.
    """
    at = {name: motion.joints_m[:, JOINTS.index(name)] for name in JOINTS}
    mass = sum(
        share * (at[f"{side}_{a}"] + way * (at[f"{side}_{b}"] - at[f"{side}_{a}"]))
        for side in ("left", "right")
        for a, b, share, way in _SEGMENTS
    )
    way = np.array([0.0, 1.0])  # the breakdown runs straight upfield
    speed = np.gradient(gaussian_filter1d(mass[:, :2] @ way, 2), motion.t_s)
    braking = -np.gradient(speed, motion.t_s)
    shares = []
    for side in ("left", "right"):
        foot = (at[f"{side}_heel"] + at[f"{side}_foot_index"]) / 2
        stands = np.linalg.norm(np.gradient(foot, motion.t_s, axis=0), axis=1) < 1.0
        hard = stands & (braking > 3.0) & (speed > 0.5)
        wanted = mass[hard, 2] / 9.81 * braking[hard]
        shares.append((foot - mass)[hard, :2] @ way / wanted)
    return float(np.median(np.concatenate(shares)))


def test_feet_of_who_brakes_stand_where_the_weight_demands_them(breakdown: PlayerMotion) -> None:
    """The ground's push must pass through the centre of mass: half of it at least; legs end."""
    weighed = plan_defender(BodySpec(), dataclasses.replace(BREAKDOWN, weighed=1.0))
    assert 0.5 <= _ahead_of_the_mass(weighed) <= 1.2
    assert _ahead_of_the_mass(breakdown) < 0.3
    # The stance that is asked for comes out all the same.
    asked, got = (truth.knee_flexion_deg(m).min(axis=1)[-30:] for m in (breakdown, weighed))
    assert np.median(got) == pytest.approx(np.median(asked), abs=12.0)


def test_legs_too_short_for_so_hard_a_stop_are_refused() -> None:
    hard = dataclasses.replace(
        BREAKDOWN, weighed=1.0, peak_speed_mps=6.5, braking_distance_m=1.2,
        stance=Stance(80.0, 48.0, 2.4),
    )  # fmt: skip
    with pytest.raises(ValueError, match="legs do not reach"):
        plan_defender(BodySpec(), hard)


@pytest.mark.parametrize("which", ["breakdown", "run_out"])
def test_nobody_sinks_into_the_ground(which: str, request: pytest.FixtureRequest) -> None:
    motion = request.getfixturevalue(which)
    assert motion.vertices_m[..., 2].min() >= 0.0


def test_the_stance_stands_on_the_ground(breakdown: PlayerMotion) -> None:
    """From arrival on somebody's sole is always down: chopping, sliding, never floating."""
    late = breakdown.t_s > 3.0
    assert breakdown.vertices_m[late, :, 2].min(axis=1).max() <= SOLE_M + 0.005


def test_running_has_flight(run_out: PlayerMotion) -> None:
    """Running differs from walking by a time with no foot down."""
    steady = (run_out.t_s > 1.8) & (run_out.t_s < 2.9)
    lowest = run_out.vertices_m[steady, :, 2].min(axis=1)
    assert (lowest > SOLE_M + 0.02).any()


@pytest.mark.parametrize("which", ["breakdown", "run_out"])
def test_planted_feet_do_not_skate(which: str, request: pytest.FixtureRequest) -> None:
    """A planted foot rolls over its toe by 1 to 3 cm a frame; skating at 5 m/s moves 17 cm."""
    motion = request.getfixturevalue(which)
    planted = _planted(motion)
    for leg, side in enumerate(("left", "right")):
        toe = truth.joint(motion.joints_m, f"{side}_foot_index")[:, :2]
        moved = np.linalg.norm(np.diff(toe, axis=0), axis=1)
        both = planted[1:, leg] & planted[:-1, leg]
        assert both.sum() > 20
        assert moved[both].max() < 0.03


@pytest.mark.parametrize("which", ["breakdown", "run_out"])
def test_bones_keep_their_length(which: str, request: pytest.FixtureRequest) -> None:
    joints = request.getfixturevalue(which).joints_m
    for a, b in (("thigh", "knee"), ("knee", "ankle"), ("shoulder", "elbow"), ("elbow", "wrist")):
        for side in ("left", "right"):
            bone = truth.joint(joints, f"{side}_{a}") - truth.joint(joints, f"{side}_{b}")
            # the forearm's twist bone lies a hair off its line: a hundredth of a millimetre
            assert np.ptp(np.linalg.norm(bone, axis=1)) < 1e-4


def test_both_hands_stay_on_the_shaft(breakdown: PlayerMotion) -> None:
    between = breakdown.right_hand_pose[:, :3, 3] - breakdown.left_hand_pose[:, :3, 3]
    for pose in (breakdown.left_hand_pose, breakdown.right_hand_pose):
        off = np.linalg.norm(np.cross(between, pose[:, :3, 2]), axis=1)
        assert off.max() < 0.02


def test_the_stance_comes_out_as_asked(breakdown: PlayerMotion) -> None:
    asked = Stance()
    attacker = plan_attacker(BodySpec(), AttackerSpec(BREAKDOWN.attacker_m))
    got = truth.rep_truth(breakdown, attacker)
    assert got.knee_bend_deg == pytest.approx(asked.knee_bend_deg, abs=6)
    assert got.trunk_lean_deg == pytest.approx(asked.trunk_lean_deg, abs=2)
    assert got.hand_reach == pytest.approx(asked.hand_reach, abs=0.05)
    assert got.hand_height == pytest.approx(asked.hand_height, abs=0.05)
    assert got.base_width == pytest.approx(asked.base_width, abs=0.2)


def test_truth_of_a_straight_run_by_hand(breakdown: PlayerMotion) -> None:
    """5 m/s from the goal straight past a player 10 m out, half a metre to his right.

    By hand: 1.8 m apart at y = 10 - sqrt(1.8**2 - 0.5**2) = 8.2709, at 1.6542 s; the last frame of
    a 100 Hz clock within one second of it is 2.65 s, 3.25 m past. Nothing brakes.
    """
    t = np.arange(301) / 100.0
    zero = np.zeros_like(t)
    still = breakdown.joints_m[:1]
    still = still - truth.middle(still, "hip") * [1, 1, 0]
    ours = _moved(breakdown, t, still + np.stack([zero + 0.5, 5 * t, zero], axis=1)[:, None])
    other = _moved(breakdown, t, still + np.stack([zero, zero + 10.0, zero], axis=1)[:, None])
    got = truth.rep_truth(ours, other)
    assert got.start_s == 0.0
    assert got.arrival_s == pytest.approx(1.6542, abs=2e-4)
    assert got.closeout_speed_mps == pytest.approx(5.0)
    assert got.arrival_speed_mps == pytest.approx(5.0)
    assert got.peak_braking_mps2 == pytest.approx(0.0, abs=1e-6)
    assert got.overrun_m == pytest.approx(3.25)
    assert got.approach_offset_m == pytest.approx(0.5)
    assert got.bow_m == pytest.approx(0.0, abs=1e-9)


def test_a_plan_depends_on_its_arguments_alone(run_out: PlayerMotion) -> None:
    again = plan_defender(BodySpec(age_years=16, height_m=1.70), RUN_OUT)
    assert np.array_equal(again.vertices_m, run_out.vertices_m)


def _planted(motion: PlayerMotion) -> np.ndarray:
    """(n, 2) whether some point of the sole is on the ground, within 6 mm.

    The heel and the toe tip are rounded: rocking on them the skin stands a few millimetres up.
    """
    foot = motion.region == REGIONS.index("foot")
    lowest = [motion.vertices_m[:, foot & (motion.side == side), 2].min(axis=1) for side in (-1, 1)]
    return np.stack(lowest, axis=1) < SOLE_M + 0.006


def _moved(like: PlayerMotion, t_s: np.ndarray, joints_m: np.ndarray) -> PlayerMotion:
    """A motion with these joints and nothing to see."""
    n, v = len(t_s), len(like.region)
    pose = np.tile(np.eye(4), (n, 1, 1))
    assert joints_m.shape == (n, len(JOINTS), 3)
    return dataclasses.replace(
        like, t_s=t_s, joints_m=joints_m, vertices_m=np.zeros((n, v, 3), np.float32),
        head_pose=pose, left_hand_pose=pose, right_hand_pose=pose, chest_pose=pose,
    )  # fmt: skip


@pytest.mark.parametrize(("name", "first_column"), [("walk", 20), ("walk", 34), ("jump", 20)])
def test_captured_knees_bend_as_they_were_captured(name: str, first_column: int) -> None:
    """Against the hinge angles in pybullet's own motion files."""
    import pybullet_data as data

    path = Path(data.getDataPath()) / "data" / "motions" / f"humanoid3d_{name}.txt"
    hinge = np.degrees(np.abs(np.array(json.loads(path.read_text())["Frames"])[:, first_column]))
    motion = plan_captured(BodySpec(), name)
    knees = truth.knee_flexion_deg(motion)[:, 1 if first_column == 20 else 0]
    assert knees == pytest.approx(hinge, abs=1.5)


@pytest.mark.parametrize(("name", "tall_m"), [("run", 1.80), ("jump", 1.60)])
def test_captured_movement_goes_over_the_field(name: str, tall_m: float) -> None:
    """As far as in pybullet's own motion files, in heights of the hips; nobody sinks in."""
    import pybullet_data as data

    path = Path(data.getDataPath()) / "data" / "motions" / f"humanoid3d_{name}.txt"
    root = np.array(json.loads(path.read_text())["Frames"])[:, 1:4]  # forward, up, right
    body = BodySpec(height_m=tall_m)
    motion = plan_travelling(body, name, 2, (1.0, 9.0), np.radians(90), 30)
    way = truth.ground_track(motion.joints_m)
    gone = (way[-1] - way[0]) * len(way) / (len(way) - 1)
    hips_m = truth.middle(motion.joints_m, "hip")[:, 2].mean()
    want = 2 * (root[-1, 0] - root[0, 0]) / root[:, 1].mean()
    assert -gone[0] / hips_m == pytest.approx(want, rel=0.1)
    assert gone[1] == pytest.approx(0.0, abs=0.15)
    assert (way[-1] + way[0]) / 2 == pytest.approx([1.0, 9.0], abs=0.1)
    low = motion.vertices_m[..., 2].min(axis=1)
    assert low.min() == pytest.approx(SOLE_M, abs=1e-3)
    assert 0.08 < low.max() < 0.3  # in flight
    knees = truth.knee_flexion_deg(motion)
    once = truth.knee_flexion_deg(plan_captured(body, name))
    assert knees[0] == pytest.approx(once[0], abs=0.1)
    assert knees.max() == pytest.approx(once.max(), abs=3.0)


def test_a_stance_does_not_run_away_from_what_was_asked() -> None:
    """Feet that still run do not take a narrow base; aiming ever deeper ended in a squat."""
    run = dataclasses.replace(
        BREAKDOWN, stance=Stance(65.0, 30.0, 1.2), past_m=-1.2, braking_distance_m=2.5, seed=7066
    )
    motion = plan_defender(BodySpec(age_years=12, height_m=1.5), run)
    assert truth.knee_flexion_deg(motion).min(axis=1).max() <= 65.0 + 2 * 12.0
