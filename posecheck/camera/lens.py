"""What is known of a lens before a picture is looked at, and what a picture then gave.

Everywhere a focal length is the one over the longer side of the picture, so that it does not
depend on how many pixels the film has. A phone's main camera has about 0.78; twice that is what
its screen calls 2x.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from scipy.optimize import minimize_scalar

from posecheck.camera.tuning import (
    FOCAL_PER_35MM,
    OTHER_FOCAL,
    OTHER_FOCAL_LOG_SD,
    OTHER_FOCAL_SHARE,
    PHONE_FOCAL,
    PHONE_FOCAL_LOG_SD,
    STATED_FOCAL_LOG_SD,
    STATED_WRONG_SHARE,
    SURE_RANGE,
    TAGGED_FOCAL_LOG_SD,
)
from posecheck.maths.arrays import BoolArray, FloatArray

LensSource = Literal["usual", "stated", "tag", "marks", "players", "turning"]


@dataclass(frozen=True)
class Belief:
    """A normal distribution of one number.

    Attributes:
        median: of the number.
        sd: its standard deviation.
    """

    median: float
    sd: float

    def misses(self, values: FloatArray | float) -> FloatArray:
        """Distances of values ``(...)`` from the median, in standard deviations."""
        return np.asarray((values - self.median) / self.sd)

    def range(self, sds: float) -> tuple[float, float]:
        """The numbers that many standard deviations below and above the median."""
        return self.median - sds * self.sd, self.median + sds * self.sd

    def within(self, values: FloatArray, sds: float) -> BoolArray:
        """``(...)`` True for values at most that many standard deviations from the median."""
        return np.abs(self.misses(values)) <= sds

    def log_density(self, values: FloatArray | float) -> FloatArray:
        """``(...)`` logarithm of the density."""
        return np.asarray(-0.5 * self.misses(values) ** 2 - np.log(self.sd * np.sqrt(2 * np.pi)))


@dataclass(frozen=True)
class Lens:
    """What is believed of a lens: a likely focal length, or with some probability any other.

    Attributes:
        likely: belief of the logarithm of the focal length when it is the likely one.
        other: the same when it is not.
        other_share: probability that it is not.
        source: where the likely one comes from.
    """

    likely: Belief
    other: Belief
    other_share: float
    source: LensSource

    def log_density(self, log_focal: FloatArray | float) -> FloatArray:
        """``(...)`` logarithm of the density."""
        return np.asarray(
            np.logaddexp(
                np.log1p(-self.other_share) + self.likely.log_density(log_focal),
                np.log(self.other_share) + self.other.log_density(log_focal),
            )
        )

    @cached_property
    def _peak(self) -> tuple[float, float]:
        """The likeliest value, and the logarithm of the density there."""
        found = minimize_scalar(
            lambda x: -float(self.log_density(float(x))),
            bounds=self.likely.range(1.0),
            method="bounded",
            options={"xatol": 1e-7},
        )
        return float(found.x), -float(found.fun)

    def misses(self, log_focal: FloatArray | float) -> FloatArray:
        """Distances of values ``(...)`` from the likeliest one, in standard deviations.

        Signed square roots of twice the logarithm by which the density is lower: what a residual
        of least squares is. For a normal distribution these are standard deviations.
        """
        at, most = self._peak
        short = np.maximum(most - self.log_density(log_focal), 0.0)
        return np.asarray(np.sign(log_focal - at) * np.sqrt(2 * short))

    def at_zoom(self, zoomed: tuple[float, float]) -> Lens:
        """The lens of the reference frame of a film that zooms, when its moment is not known.

        Args:
            zoomed: least and greatest focal length of the film over that of its reference frame.
                The moment meant lies evenly between them, and so does what is added to the
                standard deviation.
        """
        middle = float(np.mean(np.log(zoomed)))
        sd = float(np.ptp(np.log(zoomed)) / np.sqrt(12))
        likely, other = (
            Belief(each.median - middle, float(np.hypot(each.sd, sd)))
            for each in (self.likely, self.other)
        )
        return replace(self, likely=likely, other=other)


@dataclass(frozen=True)
class LensReading:
    """The lens of one frame as it was found.

    Attributes:
        focal: focal length over the longer side of the picture.
        log_sd: standard deviation of its logarithm.
        source: what decided it.
        range90: least and greatest focal length in 9 of 10 cases, where it is no normal law's.
    """

    focal: float
    log_sd: float
    source: LensSource
    range90: tuple[float, float] | None = None

    @property
    def described(self) -> str:
        """For the page, such as "lens 1.9x from the marked points"."""
        zoom = f"lens {in_zooms(self.focal)}"
        if self.range90 is not None and np.ptp(self.range90) > SURE_RANGE * self.focal:
            zoom += f" ({' to '.join(map(in_zooms, self.range90))})"
        return f"{zoom} {_FROM[self.source]}"

    def contradicts(self, lens: Lens, sds: float) -> bool:
        """Whether it is further from what was believed likely than both may be off."""
        apart = abs(np.log(self.focal) - lens.likely.median)
        return bool(apart > sds * np.hypot(self.log_sd, lens.likely.sd))


def in_zooms(focal: float) -> str:
    """A focal length as a phone's screen would show it, such as "1.9x"."""
    return f"{focal / PHONE_FOCAL:.1f}x"


_FROM: dict[LensSource, str] = {
    "usual": "as usual",
    "marks": "from these points",
    "stated": "as stated",
    "tag": "from the phone's own tag",
    "players": "from the players",
    "turning": "from how the camera turned",
}

_OTHER = Belief(float(np.log(OTHER_FOCAL)), OTHER_FOCAL_LOG_SD)

USUAL_LENS = Lens(
    Belief(float(np.log(PHONE_FOCAL)), PHONE_FOCAL_LOG_SD), _OTHER, OTHER_FOCAL_SHARE, "usual"
)
"""The main camera of a phone, or else anything from ultra-wide to five times that."""


def stated_lens(zoom: float) -> Lens:
    """The lens of a film whose zoom somebody states, as the phone's screen shows it."""
    likely = Belief(float(np.log(zoom * PHONE_FOCAL)), STATED_FOCAL_LOG_SD)
    return Lens(likely, _OTHER, STATED_WRONG_SHARE, "stated")


def lens_of_35mm(focal_35mm: float, source: LensSource) -> Lens:
    """The lens whose focal length on film 36 mm wide is stated or tagged, in millimetres."""
    likely = Belief(float(np.log(focal_35mm * FOCAL_PER_35MM)), TAGGED_FOCAL_LOG_SD)
    return Lens(likely, _OTHER, STATED_WRONG_SHARE, source)
