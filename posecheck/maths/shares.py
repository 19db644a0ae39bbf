"""How well a share is known that was counted on a few."""

from __future__ import annotations

import math

LEVEL = 0.9
"""Share of cases in which an interval should hold the truth: the same for every measure.

Source: definition
"""

SDS_ACROSS_LEVEL = 2 * 1.645
"""Standard deviations from the 5 % to the 95 % quantile of a normal distribution.

Source: definition
"""


def share_interval(count: int, of: int) -> tuple[float, float] | None:
    """90 % interval of a share, None when nothing was counted.

    Wilson's score interval (E. B. Wilson, Probable inference, the law of succession, and
    statistical inference, J. American Statistical Association 22, 1927), which keeps its coverage
    for small counts and for shares of none or all.
    """
    from scipy.special import ndtri

    if not of:
        return None
    # scipy.stats has it too, but takes half a second to load, on every page that is written.
    z_squared = float(ndtri((1 + LEVEL) / 2)) ** 2 / of
    share = count / of
    middle = share + z_squared / 2
    half = math.sqrt(z_squared * (share * (1 - share) + z_squared / 4))
    low, high = ((middle + sign * half) / (1 + z_squared) for sign in (-1, 1))
    # None and all are bounds of their own, which rounding would miss.
    return 0.0 if count == 0 else max(low, 0.0), 1.0 if count == of else min(high, 1.0)
