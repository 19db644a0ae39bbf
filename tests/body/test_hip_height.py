"""How low a player carries his hips, from where he is and from his own standing height."""

import numpy as np
import pytest
from bodies import FOOT_HEIGHT, SHANK, THIGH, camera_at, seen_by, squat
from hypothesis import given
from hypothesis import strategies as st

from posecheck.body.hip_height import HipHeight, hip_height
from posecheck.body.tuning import HIP_LANDMARK_SD, PLACE_SHARE

SIDELINE = camera_at((12.0, 9.0, 1.8), (0.0, 9.0, 1.0))


def height_of(body, camera=SIDELINE, at=(0.0, 9.0, 0.0), sd_m=0.1):
    pose = seen_by(camera, (body + np.array(at))[None], np.zeros(1))
    return hip_height(camera, pose.xy_px, np.array([at[:2]]), np.array([sd_m]))


@given(
    knee=st.floats(0, 100),
    tall=st.floats(1.3, 2.0),
    x=st.floats(-3, 3),
    high=st.floats(1.0, 6.0),
)
def test_height_is_that_of_the_segment_table(knee, tall, x, high):
    """Ankle plus shank and thigh, both tilted by half the bend: Drillis and Contini's shares."""
    camera = camera_at((12.0, 9.0, high), (0.0, 9.0, 1.0))
    body = squat(knee, base_width=1.0, height_m=tall)
    want = tall * (FOOT_HEIGHT + (SHANK + THIGH) * np.cos(np.radians(knee) / 2))
    # Seen in perspective, the middle of two hips is not quite the middle of their pictures.
    assert height_of(body, camera, (x, 9.0, 0.0)).height_m == pytest.approx([want], abs=0.003)


def test_an_error_in_place_counts_by_how_steeply_the_hips_are_seen():
    level = camera_at((12.0, 9.0, 0.954), (0.0, 9.0, 0.954))
    above = camera_at((8.0, 9.0, 4.954), (0.0, 9.0, 0.954))
    straight = squat(0.0, 0.0, base_width=1.0)  # hips at 0.530 of 1.8 m
    assert height_of(straight, level).sd_m == pytest.approx([0.0], abs=1e-4)
    assert height_of(straight, above, sd_m=0.1).sd_m == pytest.approx([0.05], abs=1e-3)


def test_he_stands_first_and_then_sits_down():
    """The pictures say half of the drop; his own standing height says all of it."""
    drop = np.array([0.02, 0.05, 0.04, 0.30])
    hips = HipHeight(0.95 * (1 - drop), np.full(4, 0.019))
    by_picture = np.where(drop > 0.1, drop / 2, drop)
    lower, sd = hips.drop(by_picture, np.array([0.04, 0.05, 0.06, 0.2]))
    assert lower == pytest.approx(drop)
    assert sd == pytest.approx(np.hypot(PLACE_SHARE * 0.02, HIP_LANDMARK_SD))


def test_upright_pictures_read_best_count_most():
    hips = HipHeight(np.array([0.95, 0.95, 0.80]), np.zeros(3))
    lower, _ = hips.drop(np.zeros(3), np.array([0.05, 0.05, 0.5]))
    assert lower == pytest.approx([0.0, 0.0, 1 - 0.80 / 0.95])


def test_nothing_is_known_of_one_never_seen_upright():
    lower, sd = HipHeight(np.full(3, 0.7), np.full(3, 0.02)).drop(np.full(3, 0.3), np.ones(3))
    assert not lower.any() and np.isinf(sd).all()


def test_nothing_is_known_where_his_place_is_not():
    hips = HipHeight(np.array([0.95, np.nan, 0.70]), np.array([0.02, np.nan, 0.02]))
    lower, sd = hips.drop(np.array([0.0, 0.0, 0.2]), np.ones(3))
    assert lower == pytest.approx([0.0, 0.0, 1 - 0.70 / 0.95])
    assert np.isinf(sd).tolist() == [False, True, False]
