"""The lens from how the camera turned."""

from __future__ import annotations

import numpy as np
import pytest
from runner import camera_at, still
from scipy.spatial.transform import Rotation

from posecheck.camera.motion import CameraMotion
from posecheck.camera.turning import log_likelihood_of_turning
from posecheck.maths.arrays import FloatArray

SIZE = (1920, 1080)
LOG_FOCALS = np.linspace(np.log(0.33), np.log(4.5), 60)


def turning(
    focal: float, turn_deg: float, zoom: float = 1.0, tilt_deg: float = 0.0
) -> CameraMotion:
    """K0 R K^-1, Hartley and Zisserman 8.4.2."""
    matrix = np.array([[1920 * focal, 0, 959.5], [0, 1920 * focal, 539.5], [0, 0, 1.0]])
    back = []
    for share in np.linspace(0, 1, 40):
        turn = Rotation.from_euler("yx", [share * turn_deg, share * tilt_deg], degrees=True)
        other = matrix @ np.diag([1, 1, zoom**-share])
        back.append(matrix @ turn.as_matrix().T @ np.linalg.inv(other))
    return CameraMotion(np.array(back), np.ones(40, dtype=np.bool_))


def belief(motion: CameraMotion) -> tuple[float, float]:
    """Likeliest log focal length by the turning alone, and the standard deviation."""
    found = log_likelihood_of_turning(motion, SIZE, LOG_FOCALS)
    weights: FloatArray = np.exp(found - found.max())
    weights /= weights.sum()
    mean = float(weights @ LOG_FOCALS)
    return float(LOG_FOCALS[np.argmax(found)]), float(np.sqrt(weights @ (LOG_FOCALS - mean) ** 2))


@pytest.mark.parametrize("focal", [0.4, 0.78, 1.6, 2.5])
@pytest.mark.parametrize("zoom", [1.0, 1.4])
def test_a_pan_gives_the_focal_length_also_while_zooming(focal: float, zoom: float) -> None:
    likeliest, sd = belief(turning(focal, 25.0 / max(focal, 0.6), zoom, tilt_deg=4.0))
    assert likeliest == pytest.approx(np.log(focal), abs=0.05)  # a step of the focal lengths
    assert sd < 0.3


def test_a_longer_turn_shows_more() -> None:
    sds = [belief(turning(0.78, turn))[1] for turn in (1.0, 4.0, 15.0)]
    assert sds[0] > sds[1] > sds[2]


def test_a_still_camera_says_nothing() -> None:
    assert log_likelihood_of_turning(still(20), SIZE, LOG_FOCALS) == pytest.approx(0)


def test_a_zoom_alone_says_nothing() -> None:
    found = log_likelihood_of_turning(turning(0.78, 0.0, zoom=1.5), SIZE, LOG_FOCALS)
    assert np.ptp(found) < 0.01


def test_frames_that_were_not_followed_are_left_out() -> None:
    motion = turning(0.78, 20.0)
    lost = CameraMotion(motion.to_reference, np.zeros(40, dtype=np.bool_))
    assert log_likelihood_of_turning(lost, SIZE, LOG_FOCALS) == pytest.approx(0)


def test_the_camera_that_turned_is_that_of_the_first_frame() -> None:
    """Homographies of the pinhole itself, by ``Camera.turned``."""
    camera = camera_at((0.0, 0.0, 2.5), (0.0, 14.0, 0.3))
    motion = turning(camera.focal_px / 1920, 20.0)
    last = camera.turned(motion.to_reference[-1])
    assert last.focal_px == pytest.approx(camera.focal_px)
    likeliest, _ = belief(motion)
    assert likeliest == pytest.approx(np.log(camera.focal_px / 1920), abs=0.06)
