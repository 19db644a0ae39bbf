"""How well a share is known that was counted on a few."""

from __future__ import annotations

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
    from scipy.stats import binomtest

    if not of:
        return None
    found = binomtest(count, of).proportion_ci(LEVEL, method="wilson")
    return float(found.low), float(found.high)
