"""The prior of a phone that films a practice: how it is held, where, and what it sees.

Whatever fits a camera to a picture starts from here, and where the picture leaves the camera open
it stays here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.camera.tuning import (
    FOCAL_START_SDS,
    PHONE_FOCAL,
    PHONE_FOCAL_LOG_SD,
    PHONE_HEIGHT_LOG_SD,
    PHONE_HEIGHT_M,
    PHONE_ROLL_SD_DEG,
    PHONE_TILT_DEG,
    PHONE_TILT_SD_DEG,
)
from posecheck.maths.arrays import BoolArray, FloatArray


@dataclass(frozen=True)
class Belief:
    """A normal distribution of one number.

    Attributes:
        median: of the number.
        sd: its standard deviation.
    """

    median: float
    sd: float

    def misses(self, values: FloatArray) -> FloatArray:
        """Distances of values ``(...)`` from the median, in standard deviations."""
        return np.asarray((values - self.median) / self.sd)

    def range(self, sds: float) -> tuple[float, float]:
        """The numbers that many standard deviations below and above the median."""
        return self.median - sds * self.sd, self.median + sds * self.sd

    def within(self, values: FloatArray, sds: float) -> BoolArray:
        """``(...)`` True for values at most that many standard deviations from the median."""
        return np.abs(self.misses(values)) <= sds


@dataclass(frozen=True)
class PhonePrior:
    """What is believed about a camera before anything is read from its picture.

    Attributes:
        log_focal: logarithm of the focal length over the longer side of the picture.
        roll: radians about the line of sight.
        tilt: radians by which the camera looks down.
        log_height: logarithm of the lens's height over the ground in metres.
    """

    log_focal: Belief
    roll: Belief
    tilt: Belief
    log_height: Belief

    def focal_px(self, size_px: tuple[int, int]) -> float:
        """Median focal length in pixels for a picture of a width and height."""
        return float(np.exp(self.log_focal.median) * max(size_px))

    @property
    def start_log_focals(self) -> list[float]:
        """Logarithms of the focal lengths to start a search from."""
        return [self.log_focal.median + sds * self.log_focal.sd for sds in FOCAL_START_SDS]


PHONE = PhonePrior(
    log_focal=Belief(float(np.log(PHONE_FOCAL)), PHONE_FOCAL_LOG_SD),
    roll=Belief(0.0, float(np.radians(PHONE_ROLL_SD_DEG))),
    tilt=Belief(float(np.radians(PHONE_TILT_DEG)), float(np.radians(PHONE_TILT_SD_DEG))),
    log_height=Belief(float(np.log(PHONE_HEIGHT_M)), PHONE_HEIGHT_LOG_SD),
)
"""The one prior, of the main camera of a phone in a hand or on a tripod."""
