"""A body of known stance, seen by cameras anywhere, measures what it was drawn with."""

import numpy as np
import pytest
from bodies import camera_at, faces, seen_by, squat, steady
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from posecheck.ground.camera import Camera
from posecheck.keypoints.pose import PoseTrack
from posecheck.keypoints.skeleton import SKELETON
from posecheck.measures.stance_track import stance_track, upright
from posecheck.players.track import CameraMotion

T_S = np.arange(3) / 30
SIDELINE = camera_at((12.0, 9.0, 1.8), (0.0, 9.0, 1.0))


def track(body, camera=SIDELINE, at=(0.0, 9.0, 0.0)):
    bodies = np.tile(body + np.asarray(at), (len(T_S), 1, 1))
    where = np.tile(at[:2], (len(T_S), 1))
    return stance_track(seen_by(camera, bodies, T_S), camera, steady(len(T_S)), where)


@given(
    knee=st.floats(0, 110),
    lean=st.floats(0, 60),
    base=st.floats(1.0, 2.4),
    yaw=st.floats(-np.pi, np.pi),
    camera_x=st.floats(6, 25),
    camera_z=st.floats(0.5, 5),
    aside=st.floats(-3, 3),
)
def test_stance_does_not_depend_on_where_it_is_seen_from(
    knee, lean, base, yaw, camera_x, camera_z, aside
):
    camera = camera_at((camera_x, 9.0, camera_z), (0.0, 9.0 + aside, 0.5))
    stance = track(faces(squat(knee, lean, base), yaw), camera)
    assert stance.knee_bend_deg == pytest.approx(knee, abs=1e-4)
    assert stance.trunk_lean_deg == pytest.approx(lean, abs=1e-4)
    assert stance.base_width == pytest.approx(base)
    assert stance.hand_reach == pytest.approx(0.6)
    assert stance.hand_height == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("yaw", "view_deg"),
    [(-np.pi / 2, 0), (-np.pi / 4, 45), (0, 90), (np.pi, 90), (np.pi / 2, 180)],
)
def test_view_angle_of_a_player_seen_from_x(yaw, view_deg):
    # In perspective the middle of two hips is not quite the middle of their pictures.
    assert track(faces(squat(), yaw)).view_deg == pytest.approx(view_deg, abs=0.01)


def test_tilt_of_the_camera_is_taken_out():
    # From 5 m up and 6 m away the camera looks down by some 35 degrees.
    high = camera_at((6.0, 9.0, 5.0), (0.0, 9.0, 0.8))
    assert track(faces(squat(trunk_lean_deg=0.0), 1.0), high).trunk_lean_deg == pytest.approx(
        0.0, abs=1e-4
    )


def test_hip_height_is_against_the_same_player_standing():
    # Nine frames in ten he stands, then he squats: thigh and shank of 0.491 body heights at half
    # of 60 degrees each, over an ankle of 0.039.
    tall, low = (squat(bend, 0.0, base_width=1.0) for bend in (0.0, 60.0))
    bodies = np.stack([tall] * 18 + [low] * 2) + np.array([0.0, 9.0, 0.0])
    pose = seen_by(SIDELINE, bodies, np.arange(20) / 30)
    stance = stance_track(pose, SIDELINE, steady(20), np.tile([0.0, 9.0], (20, 1)))
    assert stance.hip_height[:18] == pytest.approx(1.0)
    assert stance.hip_height[18:] == pytest.approx(
        (0.039 + 0.491 * np.cos(np.pi / 6)) / 0.530, abs=1e-4
    )


def test_the_camera_may_pan_during_the_clip():
    body = squat(40.0, 25.0)
    pans = [0.0, 0.1, 0.2]
    still = SIDELINE
    cameras, homographies = [], []
    for pan in pans:
        turn = Rotation.from_euler("y", -pan).as_matrix()
        cameras.append(Camera(still.matrix, turn @ still.rotation, still.centre_m))
        homographies.append(still.matrix @ turn.T @ np.linalg.inv(still.matrix))
    places = body + np.array([0.0, 9.0, 0.0])
    seen = [seen_by(camera, places[None], np.zeros(1)) for camera in cameras]
    pose = PoseTrack(
        T_S,
        np.concatenate([each.xy_px for each in seen]),
        np.concatenate([each.world_m for each in seen]),
        np.concatenate([each.score for each in seen]),
    )
    motion = CameraMotion(np.array(homographies), np.ones(3, dtype=bool))
    stance = stance_track(pose, still, motion, np.tile([0.0, 9.0], (3, 1)))
    assert stance.trunk_lean_deg == pytest.approx(25.0, abs=1e-3)
    assert stance.view_deg == pytest.approx(90.0, abs=0.5)


def test_a_missing_ankle_spreads_as_far_as_it_is_needed():
    body = np.tile(squat() + np.array([0.0, 9.0, 0.0]), (3, 1, 1))
    pose = seen_by(SIDELINE, body, T_S)
    ankle = SKELETON.index("left_ankle")
    pose.xy_px[1, ankle] = pose.world_m[1, ankle] = np.nan
    stance = stance_track(pose, SIDELINE, steady(3), np.tile([0.0, 9.0], (3, 1)))
    lost = {name for name, values in vars(stance).items() if np.isnan(values[1])}
    assert lost == {"knee_bend_deg", "base_width", "height_px"}
    assert all(np.isfinite(values[[0, 2]]).all() for values in vars(stance).values())


def test_without_the_background_the_tilt_is_unknown():
    body = np.tile(squat() + np.array([0.0, 9.0, 0.0]), (3, 1, 1))
    lost = CameraMotion(np.tile(np.eye(3), (3, 1, 1)), np.array([True, False, True]))
    turned = upright(seen_by(SIDELINE, body, T_S), SIDELINE, lost)
    assert np.isnan(turned.world_m[1]).all()
    assert np.isfinite(turned.world_m[[0, 2]]).all()
