"""Points in space, against OpenCV and by hand."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from runner import camera_at

from posecheck.multiview.triangulate import sight_angle_deg, triangulate

CAMERAS = (
    camera_at((8.0, 2.0, 1.8), (0.0, 5.0, 1.0)),
    camera_at((-3.0, -4.0, 2.5), (0.0, 5.0, 1.0), hfov_deg=50.0),
)


def test_exact_sight_lines_meet_in_the_point() -> None:
    rng = np.random.default_rng(1)
    xyz_m = rng.uniform([-2, 3, 0], [2, 7, 2], (40, 3))
    xy_px = np.stack([camera.to_image(xyz_m) for camera in CAMERAS])
    found = triangulate(CAMERAS, xy_px, np.ones((2, 40)))
    assert found.xyz_m == pytest.approx(xyz_m, abs=1e-6)
    assert np.abs(found.miss).max() < 1e-5


def test_as_opencv_does_it() -> None:
    rng = np.random.default_rng(2)
    xyz_m = rng.uniform([-2, 3, 0], [2, 7, 2], (200, 3))
    xy_px = np.stack([c.to_image(xyz_m) + rng.normal(0, 1.5, (200, 2)) for c in CAMERAS])
    matrices = [
        c.matrix @ np.hstack([c.rotation, -c.rotation @ c.centre_m[:, None]]) for c in CAMERAS
    ]
    shift, turned = (
        -CAMERAS[1].rotation @ (CAMERAS[1].centre_m - CAMERAS[0].centre_m),
        CAMERAS[1].rotation @ CAMERAS[0].rotation.T,
    )
    x, y, z = shift
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    inverse = [np.linalg.inv(c.matrix) for c in CAMERAS]
    fundamental = inverse[1].T @ cross @ turned @ inverse[0]
    # OpenCV moves the pixels so that they agree with the least change, which is the optimum.
    moved = cv2.correctMatches(fundamental, xy_px[0][None], xy_px[1][None])
    best = cv2.triangulatePoints(*matrices, moved[0][0].T, moved[1][0].T)
    found = triangulate(CAMERAS, xy_px, np.ones((2, 200)))
    assert found.xyz_m == pytest.approx((best[:3] / best[3]).T, abs=2e-4)


def test_covariance_is_that_of_repeated_noise() -> None:
    rng = np.random.default_rng(3)
    point = np.array([0.3, 5.2, 0.8])
    exact = np.stack([camera.to_image(point[None])[0] for camera in CAMERAS])
    xy_px = exact[:, None] + rng.normal(0, 2.0, (2, 4000, 2))
    found = triangulate(CAMERAS, xy_px, np.full((2, 4000), 2.0))
    whiten = np.linalg.inv(np.linalg.cholesky(found.covariance_m2.mean(axis=0)))
    # 4000 draws know a variance to 2 %.
    assert whiten @ np.cov(found.xyz_m.T) @ whiten.T == pytest.approx(np.eye(3), abs=0.1)


def test_one_view_gives_no_point() -> None:
    xy_px = np.stack([camera.to_image(np.array([[0.0, 5.0, 1.0]])) for camera in CAMERAS])
    xy_px[1] = np.nan
    assert np.isnan(triangulate(CAMERAS, xy_px, np.ones((2, 1))).xyz_m).all()


def test_angle_of_sight_by_hand() -> None:
    square = (camera_at((5.0, 0.0, 1.0), (0, 0, 1)), camera_at((0.0, 7.0, 1.0), (0, 0, 1)))
    assert sight_angle_deg(square, np.array([0.0, 0.0, 1.0])) == pytest.approx(90)
