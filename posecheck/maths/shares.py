"""How sure a share is that was counted on a few."""

from __future__ import annotations

LEVEL = 0.9
"""Of the interval about a share: the same as of every measure."""


def share_interval(count: int, of: int) -> tuple[float, float] | None:
    """90 % interval of a share, None when nothing was counted.

    Wilson's score interval (E. B. Wilson, Probable inference, the law of succession, and
    statistical inference, J. American Statistical Association 22, 1927), which stays honest for a
    handful and for none or all of them.
    """
    from scipy.stats import binomtest

    if not of:
        return None
    found = binomtest(count, of).proportion_ci(LEVEL, method="wilson")
    return float(found.low), float(found.high)
