"""The prior of a phone that films a practice: how it is held, where, and what it sees.

Whatever fits a camera to a picture starts from here, and where the picture leaves the camera open
it stays here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.camera.lens import USUAL_LENS, Belief, Lens
from posecheck.camera.tuning import (
    FOCAL_STARTS,
    PHONE_HEIGHT_LOG_SD,
    PHONE_HEIGHT_M,
    PHONE_ROLL_SD_DEG,
    PHONE_TILT_DEG,
    PHONE_TILT_SD_DEG,
)


@dataclass(frozen=True)
class PhonePrior:
    """What is believed about a camera before anything is read from its picture.

    Attributes:
        lens: the focal length over the longer side of the picture.
        roll: radians about the line of sight.
        tilt: radians by which the camera looks down.
        log_height: logarithm of the lens's height over the ground in metres.
    """

    lens: Lens
    roll: Belief
    tilt: Belief
    log_height: Belief

    def focal_px(self, size_px: tuple[int, int]) -> float:
        """Usual focal length in pixels for a picture of a width and height."""
        return float(np.exp(self.lens.likely.median) * max(size_px))

    @property
    def start_log_focals(self) -> list[float]:
        """Logarithms of the focal lengths to start a search from."""
        return [float(np.log(focal)) for focal in FOCAL_STARTS]

    @property
    def zooms(self) -> list[float]:
        """How many times the usual focal length these are, in order."""
        usual = self.lens.likely.median
        return sorted(float(np.exp(each - usual)) for each in self.start_log_focals)


PHONE = PhonePrior(
    lens=USUAL_LENS,
    roll=Belief(0.0, float(np.radians(PHONE_ROLL_SD_DEG))),
    tilt=Belief(float(np.radians(PHONE_TILT_DEG)), float(np.radians(PHONE_TILT_SD_DEG))),
    log_height=Belief(float(np.log(PHONE_HEIGHT_M)), PHONE_HEIGHT_LOG_SD),
)
"""The one prior, of a phone in a hand or on a tripod."""
