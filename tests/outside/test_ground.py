"""Camera, homography, field and kinematics against what others have found or published."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from posecheck.body.foot_sight import FootSight
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.ground.from_points import ground_from_marks
from posecheck.ground.ground import Ground
from posecheck.ground.tracks import track_on_ground
from posecheck.maths.arrays import FloatArray
from posecheck.practice.field import (
    CLOSEOUT_CONES,
    CREASE_RADIUS_WORLD_M,
    TWO_CONES,
    closeout_layout,
    layout_points,
)
from posecheck.practice.notes import View

SIZE = (1920, 1080)
MATRIX = np.array([[1500.0, 0, 959.5], [0, 1500.0, 539.5], [0, 0, 1]])
# Looks upfield from 9 m behind the goal line, 3.2 m up, 12 degrees down, 1 degree crooked.
ROTATION = Rotation.from_euler("xz", [12, 1], degrees=True).as_matrix() @ np.array(
    [[1.0, 0, 0], [0, 0, -1], [0, 1, 0]]
)
CENTRE = np.array([1.5, -9.0, 3.2])
CAMERA = Camera(MATRIX, ROTATION, CENTRE)
GROUND_POINTS = np.array([[x, y, 0.0] for x in (-6, -2, 0, 3, 7) for y in (0, 4, 9, 15)])


def test_points_are_seen_where_opencv_projects_them() -> None:
    points = GROUND_POINTS + np.array([0, 0, 0.9])
    turn, _ = cv2.Rodrigues(ROTATION)
    theirs, _ = cv2.projectPoints(points, turn, -ROTATION @ CENTRE, MATRIX, np.zeros(5))
    np.testing.assert_allclose(CAMERA.to_image(points), theirs[:, 0], atol=1e-8)


def test_the_ground_is_where_opencv_s_homography_puts_it() -> None:
    pixels = CAMERA.to_image(GROUND_POINTS)
    homography, _ = cv2.findHomography(pixels, GROUND_POINTS[:, :2])
    elsewhere = np.array([[[500.0, 700.0], [1400.0, 620.0], [960.0, 1000.0]]])
    theirs = cv2.perspectiveTransform(elsewhere, homography)
    np.testing.assert_allclose(CAMERA.to_ground(elsewhere), theirs, atol=1e-6)


def test_the_camera_from_marks_is_opencv_s_for_the_same_focal_length() -> None:
    layout = closeout_layout()
    rng = np.random.default_rng(11)
    marks = {}
    for name, (x, y) in layout.points.items():
        pixel = CAMERA.to_image(np.array([x, y, 0.0])) + rng.normal(0, 0.3, 2)
        if np.all(pixel > 0) and np.all(pixel < SIZE):
            marks[name] = (float(pixel[0]), float(pixel[1]))
    ours = ground_from_marks(View("end", SIZE, 0.0, marks), layout, SIZE).camera
    world = np.array([[*layout.points[name], 0.0] for name in marks])
    _, turn, shift = cv2.solvePnP(world, np.array(list(marks.values())), ours.matrix, np.zeros(5))
    rotation, _ = cv2.Rodrigues(turn)
    assert ours.centre_m == pytest.approx(-(rotation.T @ shift)[:, 0], abs=0.05)
    between = Rotation.from_matrix(ours.rotation @ rotation.T).magnitude()
    assert np.degrees(between) < 0.1
    assert ours.focal_px == pytest.approx(1500, rel=0.01)


def test_a_turned_camera_s_homography_is_the_one_opencv_finds() -> None:
    turn = Rotation.from_euler("yx", [9, 2], degrees=True).as_matrix()
    zoomed = MATRIX.copy()
    zoomed[[0, 1], [0, 1]] *= 1.2
    other = Camera(zoomed, turn @ ROTATION, CENTRE)
    # Any points will do, also those off the ground.
    points = GROUND_POINTS + np.random.default_rng(0).uniform(0, 2, GROUND_POINTS.shape)
    to_reference, _ = cv2.findHomography(other.to_image(points), CAMERA.to_image(points))
    found = CAMERA.turned(to_reference)
    np.testing.assert_allclose(found.to_image(points), other.to_image(points), atol=1e-3)
    assert found.focal_px == pytest.approx(1800, rel=1e-4)


def test_goal_and_crease_have_the_published_size() -> None:
    """Goal 6 ft between the pipes, crease of 9 ft radius about the middle of the goal line.

    NCAA Men's Lacrosse Rules and NFHS Boys Lacrosse Rules, Rule 1; World Lacrosse's unified
    field: crease of 3 m. From memory.
    """
    points = layout_points()
    assert points["goal-right"][0] - points["goal-left"][0] == pytest.approx(1.83, abs=0.005)
    for end in ("crease-left", "crease-right", "crease-top"):
        assert np.hypot(*points[end]) == pytest.approx(2.743, abs=0.001)
    assert CREASE_RADIUS_WORLD_M == 3.0
    assert layout_points(CREASE_RADIUS_WORLD_M)["crease-top"] == (0.0, 3.0)


def test_left_is_the_defender_s_left() -> None:
    for name, (x, _) in closeout_layout().points.items():
        assert np.sign(x) == {"left": -1, "right": 1}.get(name.rpartition("-")[2], 0), name


def test_spots_are_a_closeout_away_from_the_inside_cone() -> None:
    """Spots 9 to 14 m out: common practice, no source."""
    inside = CLOSEOUT_CONES["inside"]
    for name, place in CLOSEOUT_CONES.items():
        if name != "inside":
            assert 9 <= np.hypot(*np.subtract(place, inside)) <= 14, name
    ends = [TWO_CONES[name] for name in ("inside", "top")]
    assert np.hypot(*np.subtract(*ends)) == pytest.approx(10)


def _foot_sight(xyz: FloatArray, hips_m: FloatArray) -> FootSight:
    """Both feet are in one place; the line from the lens through it, on to the hips' range."""
    way = xyz[:, 29:33].mean(axis=1) - CAMERA.centre_m
    away = hips_m - CAMERA.centre_m[:2]
    share = np.square(away).sum(axis=1) / np.sum(way[:, :2] * away, axis=1)
    height = CAMERA.centre_m[2] + share * way[:, 2]
    return FootSight(np.stack([height, height], axis=1), np.full((len(height), 2), 0.03))


def test_a_straight_run_at_constant_speed_worked_by_hand() -> None:
    """Five metres a second along a diagonal, as a rigid figure that slides: 5 and no braking."""
    n = 60
    t_s = np.arange(n) / 30
    ground = np.array([-3.0, 3.0]) + (t_s * 5.0 / np.sqrt(2))[:, None] * np.array([1.0, 1.0])
    height = np.full(33, 1.6)
    height[11:13], height[23:25], height[25:27], height[27:29] = 1.4, 0.9, 0.5, 0.1
    height[29:33] = 0.045
    body = np.concatenate([np.zeros((33, 2)), height[:, None]], axis=1)
    xyz = body + np.concatenate([ground, np.zeros((n, 1))], axis=1)[:, None]
    # One foot is put down every fifth of a second and stays while the figure passes over it.
    for i, t in enumerate(t_s):
        middle = (np.floor(t / 0.2) + 0.5) * 0.2
        xyz[i, 27:33, :2] += ((middle - t) * 5.0 / np.sqrt(2)) * np.array([1.0, 1.0])
    still = CameraMotion(np.tile(np.eye(3), (n, 1, 1)), np.ones(n, dtype=np.bool_))
    track = track_on_ground(
        t_s,
        CAMERA.to_image(xyz),
        np.ones((n, 33)),
        still,
        Ground(CAMERA, "marks", "", 0.0, 0.0, True),
        _foot_sight(xyz, ground),
    )
    steady = slice(12, -12)
    assert track.speed_mps[steady] == pytest.approx(5.0, abs=0.25)
    braking = -np.gradient(track.speed_mps, t_s)[steady]
    assert np.abs(braking).max() < 1.5
    assert track.xy_m[30] == pytest.approx(ground[30], abs=0.15)
