"""Pixels to the ground and back, and the camera of a turned frame."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from runner import camera_at
from scipy.spatial.transform import Rotation

from posecheck.camera.pinhole import Camera
from posecheck.ground.ground import Ground

CAMERA = camera_at((13.0, 9.0, 1.8), (0.0, 9.0, 0.8))

cameras = st.builds(
    lambda x, y, z, hfov, roll: camera_at((x, y, z), (0.0, 8.0, 0.5), hfov, roll_deg=roll),
    x=st.floats(-15, 15),
    y=st.floats(16, 30),
    z=st.floats(1.2, 6),
    hfov=st.floats(35, 85),
    roll=st.floats(-8, 8),
)
places = st.tuples(st.floats(-10, 10), st.floats(-2, 14))


@given(cameras, places, st.floats(0, 1))
def test_ground_to_image_and_back(
    camera: Camera, place: tuple[float, float], height: float
) -> None:
    pixel = camera.to_image(np.array([*place, height]))
    if np.isnan(pixel).any():  # behind the camera: has no pixel
        assert (np.array([*place, height]) - camera.centre_m) @ camera.rotation[2] <= 0
        return
    np.testing.assert_allclose(camera.to_ground(pixel, height), place, atol=1e-6)


@given(cameras, st.floats(0, 1919), st.floats(0, 1079))
def test_image_to_ground_and_back(camera: Camera, x: float, y: float) -> None:
    pixel = np.array([x, y])
    place = camera.to_ground(pixel)
    if np.isnan(place).any():  # at or above the horizon
        assert camera.rays(pixel)[2] >= 0
        return
    if np.linalg.norm(place) < 1e4:
        np.testing.assert_allclose(camera.to_image(np.append(place, 0)), pixel, atol=1e-5)


def test_a_pixel_above_the_horizon_is_nowhere_on_the_ground() -> None:
    level = camera_at((0.0, 0.0, 2.0), (0.0, 10.0, 2.0))
    below, above = level.to_ground(np.array([[959.5, 700.0], [959.5, 300.0]]))
    # By hand: 160.5 px below the centre, 2 m up: 2 f / 160.5 away, f = 959.5 + 0.5 over tan 32.5.
    assert below[1] == pytest.approx(2 * 960 / np.tan(np.radians(32.5)) / 160.5)
    assert np.isnan(above).all()


def test_a_plane_above_the_camera_is_met_by_rays_that_rise() -> None:
    level = camera_at((0.0, 0.0, 2.0), (0.0, 10.0, 2.0))
    rising = level.to_ground(np.array([959.5, 300.0]), height_m=3.0)
    assert rising[1] > 0


def test_what_is_behind_is_not_seen() -> None:
    assert np.isnan(CAMERA.to_image(np.array([20.0, 9.0, 1.0]))).all()


def test_heights_may_differ_from_point_to_point() -> None:
    points = np.array([[1.0, 5.0, 0.0], [-2.0, 9.0, 0.9]])
    ground = CAMERA.to_ground(CAMERA.to_image(points), points[:, 2])
    np.testing.assert_allclose(ground, points[:, :2])


def test_not_seen_stays_not_seen() -> None:
    assert np.isnan(CAMERA.to_ground(np.array([np.nan, 3.0]))).all()


def test_up_in_a_level_camera_is_against_its_y_axis() -> None:
    level = camera_at((0.0, 0.0, 2.0), (0.0, 10.0, 2.0))
    np.testing.assert_allclose(level.rotation[:, 2], [0, -1, 0], atol=1e-12)


def test_up_in_a_tilted_camera_leans_by_the_tilt() -> None:
    down = camera_at((0.0, 0.0, 2.0), (0.0, 2.0, 0.0))
    np.testing.assert_allclose(down.rotation[:, 2], [0, -np.sqrt(0.5), -np.sqrt(0.5)])


@given(st.floats(-25, 25), st.floats(-10, 10), st.floats(-5, 5), st.floats(0.7, 1.6))
def test_turning_and_zooming_is_found_from_the_homography(
    pan: float, tilt: float, roll: float, zoom: float
) -> None:
    turn = Rotation.from_euler("yxz", [pan, tilt, roll], degrees=True).as_matrix()
    matrix = CAMERA.matrix.copy()
    matrix[[0, 1], [0, 1]] *= zoom
    other = Camera(matrix, turn @ CAMERA.rotation, CAMERA.centre_m)
    to_reference = CAMERA.matrix @ turn.T @ np.linalg.inv(matrix)

    found = CAMERA.turned(-3.0 * to_reference)  # homographies have no scale of their own
    np.testing.assert_allclose(found.matrix, other.matrix, atol=1e-6)
    np.testing.assert_allclose(found.rotation, other.rotation, atol=1e-9)
    np.testing.assert_allclose(found.centre_m, other.centre_m)


def test_a_flat_homography_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot be inverted"):
        CAMERA.turned(np.zeros((3, 3)))


def test_shapes_are_checked() -> None:
    with pytest.raises(ValueError, match=r"centre_m: want \(3,\), got \(2,\)"):
        Camera(np.eye(3), np.eye(3), np.zeros(2))


def test_ground_carried_to_the_first_frame_and_back() -> None:
    turn = Rotation.from_euler("y", 12, degrees=True).as_matrix()
    later = Camera(CAMERA.matrix, turn @ CAMERA.rotation, CAMERA.centre_m)
    to_reference = CAMERA.matrix @ turn.T @ np.linalg.inv(CAMERA.matrix)
    ground = Ground(later, "marks", "", 0.01, 0.02, True)
    carried = ground.carried(to_reference).camera
    np.testing.assert_allclose(carried.rotation, CAMERA.rotation, atol=1e-12)


def test_scale_is_worse_along_the_view() -> None:
    ground = Ground(CAMERA, "marks", "", scale_sd=0.01, depth_sd=0.03, on_field=True)
    here = np.array([0.0, 9.0])  # straight ahead of the camera, which looks along -x
    assert ground.relative_sd(here, np.array([0.0, 2.0])) == pytest.approx(0.01)
    assert ground.relative_sd(here, np.array([-5.0, 0.0])) == pytest.approx(0.03)


def test_a_lens_that_bends_lines_bends_them_there_and_back() -> None:
    """By hand, division model: seen r = 0.5 focal lengths out, without it 0.5 / (1 - 0.2 / 4)."""
    level = Camera(
        np.array([[1000.0, 0, 960], [0, 1000, 540], [0, 0, 1]]),
        np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]]),
        np.array([0.0, 0.0, 2.0]),
        bend=-0.2,
    )
    straight = level.straightened(np.array([1460.0, 540.0]))
    assert straight == pytest.approx([960 + 500 / 0.95, 540])
    assert level.bent(straight) == pytest.approx([1460, 540])
    there = np.array([[-6.0, 9.0, 0.0], [5.0, 14.0, 1.0]])
    rays = level.rays(level.to_image(there))
    away = there - level.centre_m
    np.testing.assert_allclose(rays, away / np.linalg.norm(away, axis=1)[:, None], atol=1e-12)
    assert level.turned(np.eye(3)).bend == -0.2
