"""Stance from landmarks in space, on bodies drawn by hand from a segment table."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import PELVIS_WIDTH, SHANK, THIGH, faces, squat
from runner import camera_at

from posecheck.ground.tuning import SOLE_M
from posecheck.multiview.stance_seen import build_of, figures, scatter_of
from posecheck.multiview.triangulate import triangulate


@pytest.mark.parametrize("yaw_deg", [0.0, 70.0, 200.0])
def test_a_squat_reads_as_it_was_drawn(yaw_deg: float) -> None:
    body = faces(
        squat(knee_bend_deg=55, trunk_lean_deg=28, base_width=2.0, hand_reach=0.5, hand_height=0.6),
        np.radians(yaw_deg),
    )
    xyz_m = np.stack([body, body])
    found = {key: value[0] for key, value in figures(xyz_m, build_of(xyz_m)).items()}
    # Landmarks of a straight leg bend by 5 degrees, and the thighs' are a tenth farther apart than
    # hip joints: both are taken out, and the drawn body has neither.
    assert found["knee_bend_deg"] == pytest.approx(50, abs=0.1)
    assert found["trunk_lean_deg"] == pytest.approx(28, abs=0.1)
    assert found["hand_reach"] == pytest.approx(0.5, abs=0.01)
    assert found["hand_height"] == pytest.approx(0.6, abs=0.01)
    assert found["base_width"] == pytest.approx(1.82, abs=0.02)


def test_how_much_lower_the_hips_are() -> None:
    low, tall = squat(knee_bend_deg=60, base_width=1.0), squat(knee_bend_deg=0, base_width=1.0)
    # Heels and toes are drawn on the ground; landmarks of shoes lie a little above it.
    both = np.stack([low, tall]) + np.array([0.0, 0.0, SOLE_M])
    drop = figures(both, build_of(both))["hip_drop"]
    # The hips come down by the legs' shortening: thigh and shank tilt by half the bend.
    gone_m = (THIGH + SHANK) * 1.8 * (1 - np.cos(np.radians(30)))
    standing_m = tall[23, 2] + SOLE_M
    assert drop[0] - drop[1] == pytest.approx(gone_m / standing_m, abs=0.01)
    assert drop[1] == pytest.approx(0, abs=0.005)


def test_a_leg_not_seen_gives_no_knee_bend() -> None:
    body = np.stack([squat(), squat()])
    build = build_of(body)
    body[1, 25] = np.nan  # the left knee
    found = figures(body, build)
    assert np.isnan(found["knee_bend_deg"][1])
    assert found["trunk_lean_deg"][1] == pytest.approx(found["trunk_lean_deg"][0])


def test_scatter_is_that_of_the_noise() -> None:
    rng = np.random.default_rng(4)
    cameras = camera_at((6.0, 0, 1.5), (0, 0, 1)), camera_at((0.5, 6.0, 1.8), (0, 0, 1))
    bodies = np.broadcast_to(squat(), (300, 33, 3))
    xy_px = np.stack([camera.to_image(bodies) for camera in cameras])
    sd_px = np.full(xy_px.shape[:-1], 4.0)
    points = triangulate(cameras, xy_px + rng.normal(0, 8.0, xy_px.shape), sd_px)
    # Twice what is taken for one standard deviation; 300 frames know a median to 6 %.
    assert np.median(scatter_of(points)) == pytest.approx(2.0, rel=0.1)


def test_pelvis_of_the_table() -> None:
    assert build_of(np.stack([squat()] * 2)).hips_apart_m == pytest.approx(PELVIS_WIDTH * 1.8)
