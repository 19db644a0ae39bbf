"""Angles and proportions of bodies drawn by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.spatial.transform import Rotation

from posecheck.body import stance as stance
from posecheck.body.view import view_angle

UP = np.array([0.0, 0.0, 1.0])
unit_range = st.floats(-1, 1)
vectors = hnp.arrays(np.float64, 3, elements=unit_range).filter(lambda v: np.linalg.norm(v) > 0.1)
rotations = hnp.arrays(np.float64, 4, elements=unit_range).filter(
    lambda q: np.linalg.norm(q) > 0.1
).map(Rotation.from_quat)  # fmt: skip


@pytest.mark.parametrize(
    ("ankle", "flexion_deg"),
    [
        ([0, 0, -2], 0),  # straight leg
        ([0, -1, -1], 90),  # shin level behind
        ([0, 0, 0], 180),  # heel at the hip
        ([0, -np.sin(np.pi / 4), -1 - np.cos(np.pi / 4)], 45),
    ],
)
def test_knee_flexion_by_hand(ankle, flexion_deg):
    hip, knee = np.zeros(3), np.array([0.0, 0.0, -1.0])
    flexion = stance.knee_flexion(hip, knee, np.asarray(ankle, dtype=float))
    assert np.degrees(flexion) == pytest.approx(flexion_deg)


def test_knee_flexion_in_the_picture_plane():
    hip, knee, ankle = np.array([[0.0, 0.0], [0.0, 50.0], [30.0, 90.0]])
    # tan = 30 / 40
    assert np.tan(stance.knee_flexion(hip, knee, ankle)) == pytest.approx(0.75)


@given(vectors, vectors, rotations, vectors)
def test_angle_between_agrees_with_scipy_and_survives_any_turn(a, b, turn, shift):
    # The smallest turn that takes a to b is as large as the angle between them.
    turn_a_to_b, _ = Rotation.align_vectors(b / np.linalg.norm(b), a / np.linalg.norm(a))
    angle = stance.angle_between(a, b)
    assert angle == pytest.approx(turn_a_to_b.magnitude(), abs=1e-6)
    assert stance.angle_between(turn.apply(a), turn.apply(b)) == pytest.approx(angle, abs=1e-9)


def test_nearly_straight_leg_keeps_its_precision():
    tiny = 1e-9
    flexion = stance.knee_flexion(np.zeros(3), -UP, -2 * UP + np.array([tiny, 0, 0]))
    assert flexion == pytest.approx(tiny, rel=1e-6)


def test_a_missing_ankle_spreads_to_its_own_leg_and_the_straighter_leg_only():
    left, right = np.array([0.2, np.nan, 0.9]), np.array([0.8, 0.5, 0.4])
    assert stance.straighter_leg(left, right) == pytest.approx([0.2, np.nan, 0.4], nan_ok=True)


@given(st.floats(0, np.pi), st.floats(-np.pi, np.pi))
def test_trunk_lean_is_the_tilt_wherever_the_body_faces(lean, yaw):
    tip = Rotation.from_euler("xz", [-lean, yaw]).apply(UP)
    assert stance.trunk_lean(np.zeros(3), 0.5 * tip, UP) == pytest.approx(lean, abs=1e-7)


def test_body_facing_y_with_its_right_hand_at_x():
    facing = stance.forward(np.array([0.4, 0.0, 0.02]), UP)
    assert facing == pytest.approx([0, 1, 0])
    # One arm of 0.6 m straight ahead, the other hanging: half an arm length.
    wrists = np.array([[0.2, 0.6, 1.4], [-0.2, 0.0, 0.8]]).mean(axis=0)
    shoulders = np.array([0.0, 0.0, 1.4])
    reach = stance.hand_reach(wrists, shoulders, facing, np.asarray(0.6))
    assert reach == pytest.approx(0.5)


@given(vectors.filter(lambda v: v[2] > 0.05))
def test_turned_by_ray_is_scipys_smallest_turn_to_the_ray(ray):
    ours = stance.turned_by_ray(ray)
    toward = ray / np.linalg.norm(ray)
    assert ours @ UP == pytest.approx(toward)
    assert ours @ ours.T == pytest.approx(np.eye(3))
    axis = np.cross(UP, toward)
    angle = np.arctan2(np.linalg.norm(axis), toward[2])
    if angle > 1e-6:
        theirs = Rotation.from_rotvec(axis / np.linalg.norm(axis) * angle).as_matrix()
        assert ours == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("from_deg", [0, 30, 90, 150, 180])
def test_view_angle(from_deg):
    facing = np.array([0.0, 1.0, 0.0])
    angle = np.radians(from_deg)
    # The camera stands above, which must not matter.
    to_camera = np.array([np.sin(angle), np.cos(angle), 0.7])
    assert np.degrees(view_angle(facing, UP, to_camera)) == pytest.approx(from_deg)
