"""What is read of a body depends on the body and the side it is seen from, on nothing else."""

from dataclasses import replace

import numpy as np
import pytest
from bodies import camera_at, faces, seen_by, squat, steady
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from posecheck.body.tuning import LOWER_SD
from posecheck.body.view import body_view
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

T_S = np.arange(3) / 30
N_PICTURE = 2 * 19
"""Features that are places in the picture come first."""
SIDELINE = camera_at((12.0, 9.0, 1.8), (0.0, 9.0, 1.0))


SIZE = -13
"""The feature before the ten scores and the two of how low the hips are."""


def but_size(view):
    return np.delete(view.features(), SIZE, axis=1)


def viewed(body, camera=SIDELINE, at=(0.0, 9.0, 0.0)):
    bodies = np.tile(body + np.asarray(at), (len(T_S), 1, 1))
    return body_view(seen_by(camera, bodies, T_S), camera, steady(len(T_S)))


def turned(camera, pan=0.0, zoom=1.0):
    turn = Rotation.from_euler("y", -pan).as_matrix()
    matrix = camera.matrix * [[zoom, 1, 1], [1, zoom, 1], [1, 1, 1]]
    return Camera(matrix, turn @ camera.rotation, camera.centre_m)


@given(
    yaw=st.floats(-np.pi, np.pi),
    pan=st.floats(-0.4, 0.4),
    zoom=st.floats(0.3, 3.0),
    swing=st.floats(-np.pi, np.pi),
)
def test_features_but_his_size_do_not_depend_on_pan_zoom_or_compass(yaw, pan, zoom, swing):
    body = faces(squat(), yaw)
    want = but_size(viewed(body))
    elsewhere = but_size(viewed(body, turned(SIDELINE, pan, zoom)))
    assert elsewhere[:, :N_PICTURE] == pytest.approx(want[:, :N_PICTURE], abs=1e-9)
    # The pose model's body is on the axes of the picture, which lean a little off its middle.
    assert elsewhere == pytest.approx(want, abs=0.02)
    # Player and camera carried around the field together.
    around = Rotation.from_euler("z", swing).as_matrix()
    carried = Camera(SIDELINE.matrix, SIDELINE.rotation @ around.T, around @ SIDELINE.centre_m)
    moved = viewed(body @ around.T, carried, around @ np.array([0.0, 9.0, 0.0]))
    assert but_size(moved) == pytest.approx(want, abs=1e-6)


@pytest.mark.parametrize("zoom", [0.5, 2.0])
def test_his_size_in_the_picture_is_a_feature_by_itself(zoom):
    near, far = viewed(squat()), viewed(squat(), turned(SIDELINE, zoom=zoom))
    grown = far.features()[:, SIZE] - near.features()[:, SIZE]
    assert grown == pytest.approx(np.log(zoom))
    assert near.features()[:, SIZE] == pytest.approx(np.log(near.height_px))


def test_how_low_the_hips_are_counts_by_how_well_it_is_known():
    view = viewed(squat())
    known = replace(view, lower=np.full(3, 0.2), lower_sd=np.array([0.0, LOWER_SD, np.inf]))
    assert view.features()[:, -2:] == pytest.approx(0.0)
    assert known.features()[:, -2:] == pytest.approx(np.array([[0.2, 1], [0.1, 0.5], [0, 0]]))
    assert known.mirrored.features()[:, -2:] == pytest.approx(known.features()[:, -2:])


@given(share=st.floats(0.5, 1.5))
def test_features_of_the_picture_do_not_depend_on_the_player_s_size(share):
    # A body half as large at half the distance looks the same.
    near = camera_at((12.0 * share, 9.0, 1.8 * share), (0.0, 9.0, 0.9 * share))
    far = camera_at((12.0, 9.0, 1.8), (0.0, 9.0, 0.9))
    small, tall = viewed(share * squat(), near).features(), viewed(squat(), far).features()
    assert small[:, :N_PICTURE] == pytest.approx(tall[:, :N_PICTURE], abs=1e-9)


@given(yaw=st.floats(-np.pi, np.pi))
def test_a_mirrored_body_is_the_mirror_image(yaw):
    # Seen from x, the mirror turns y around: what faced yaw faces the other way round.
    body = faces(squat(), yaw)
    other = (body * [1, -1, 1])[SKELETON.mirror]
    want = viewed(body).mirrored
    got = viewed(other)
    assert got.sight_xy == pytest.approx(want.sight_xy, abs=1e-9)
    assert got.body_m == pytest.approx(want.body_m, abs=1e-9)
    twice = want.mirrored
    assert twice.features() == pytest.approx(viewed(body).features())


@pytest.mark.parametrize(
    ("yaw", "view_deg"),
    [(-np.pi / 2, 0), (-np.pi / 4, 45), (0, 90), (np.pi, 90), (np.pi / 2, 180)],
)
def test_view_angle_of_a_player_seen_from_x(yaw, view_deg):
    # In perspective the middle of two hips is not quite the middle of their pictures.
    assert viewed(faces(squat(), yaw)).view_deg == pytest.approx(view_deg, abs=0.6)


def test_elevation_is_the_angle_the_camera_looks_down_on_the_hips():
    # Straight legs: hips at 0.530 of 1.8 m, 0.954 m; the camera 4 m above them, 6 m away.
    high = camera_at((6.0, 9.0, 4.954), (0.0, 9.0, 0.9))
    view = viewed(squat(0.0, 0.0, base_width=1.0), high)
    assert view.elevation == pytest.approx(np.arctan2(4.0, 6.0), abs=1e-3)
    # Level axes: the trunk of an upright body stands on z whatever the camera's tilt.
    shoulders = view.body_m[:, SKELETON.indices("left_shoulder", "right_shoulder")].mean(axis=1)
    assert shoulders[:, :2] == pytest.approx(0.0, abs=1e-3)


def test_the_camera_may_pan_during_the_clip():
    body = squat(40.0, 25.0) + np.array([0.0, 9.0, 0.0])
    cameras = [turned(SIDELINE, pan) for pan in (0.0, 0.1, 0.2)]
    homographies = [SIDELINE.matrix @ SIDELINE.rotation @ np.linalg.inv(c.matrix @ c.rotation)
                    for c in cameras]  # fmt: skip
    seen = [seen_by(camera, body[None], np.zeros(1)) for camera in cameras]
    pose = PoseTrack(
        T_S, *(np.concatenate([getattr(s, n) for s in seen]) for n in ("xy_px", "world_m", "score"))
    )
    motion = CameraMotion(np.array(homographies), np.ones(3, dtype=bool))
    features = body_view(pose, SIDELINE, motion).features()
    pictures = features[:, :N_PICTURE]
    assert pictures[1:] == pytest.approx(pictures[[0, 0]], abs=1e-9)
    assert features[1:] == pytest.approx(features[[0, 0]], abs=0.02)


def test_without_the_background_the_tilt_is_unknown():
    body = np.tile(squat() + np.array([0.0, 9.0, 0.0]), (3, 1, 1))
    lost = CameraMotion(np.tile(np.eye(3), (3, 1, 1)), np.array([True, False, True]))
    features = body_view(seen_by(SIDELINE, body, T_S), SIDELINE, lost).features()
    assert np.isnan(features[1]).any()
    assert np.isfinite(features[[0, 2]]).all()
