"""Two independent readings of a quantity made into one, with an interval that shows their dispute.

Weights are the inverse variances. Where the readings lie further apart than their intervals allow,
the interval is stretched by Birge's ratio, the square root of chi squared over its degrees of
freedom (R. T. Birge, The calculation of errors by the method of least squares, Physical Review 40,
1932; the Particle Data Group's averages use it as well; both from memory).
"""

from __future__ import annotations

import numpy as np

from posecheck.body.net import Reading
from posecheck.maths.arrays import FloatArray


def mean_reading(one: Reading, other: Reading) -> Reading:
    """The mean of two readings that err together: no narrower than they are on average.

    Frames that only one of them has are that one's.
    """
    return Reading(
        *(
            np.where(np.isnan(a), b, np.where(np.isnan(b), a, (a + b) / 2))
            for a, b in (
                (one.value, other.value), (one.below, other.below), (one.above, other.above)
            )
        )
    )  # fmt: skip


def fused(one: Reading, other: Reading) -> tuple[Reading, FloatArray]:
    """Two readings whose errors are independent, as one.

    Args:
        one: ``n`` frames.
        other: the same frames, NaN where it has none: there ``one`` stands alone.

    Returns:
        The reading, and ``(n,)`` how far apart the two are in units of what their intervals allow
        for: about 0.6 at the 90 % quantiles when both are right, NaN where there is one alone.
    """
    first, second = _half(one), _half(other)
    share = first**2 / (first**2 + second**2)  # of the other: the wider the one, the more
    apart = np.abs(other.value - one.value) / np.hypot(first, second)
    narrower = np.sqrt(1 - share) * np.maximum(apart, 1.0)
    both = np.isfinite(apart)
    value = np.where(both, one.value + share * (other.value - one.value), one.value)
    size = np.where(both, narrower, 1.0)
    return Reading(value, one.below * size, one.above * size), np.where(both, apart, np.nan)


def _half(reading: Reading) -> FloatArray:
    return (reading.below + reading.above) / 2
