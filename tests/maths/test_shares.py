"""Intervals of shares, against scipy's."""

from __future__ import annotations

import pytest
from scipy.stats import binomtest

from posecheck.maths.shares import LEVEL, share_interval


@pytest.mark.parametrize(("count", "of"), [(0, 3), (1, 1), (4, 10), (57, 57), (123, 400)])
def test_share_interval_is_that_of_scipy(count: int, of: int) -> None:
    found = binomtest(count, of).proportion_ci(LEVEL, method="wilson")
    assert share_interval(count, of) == pytest.approx((found.low, found.high), abs=1e-12)


def test_nothing_was_counted() -> None:
    assert share_interval(0, 0) is None
