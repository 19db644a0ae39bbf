"""Chances of faults against a reference library and against the calls of single measures."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from posecheck.judging.odds import chance
from posecheck.judging.rules import AllOf, AnyOf, Fault
from posecheck.judging.verdict import SURE, Call, fault_call
from posecheck.measures.measure import Measure, missing

KNEE, LEAN = "knee_bend_deg", "trunk_lean_deg"


def measure(key: str, low: float, value: float, high: float) -> Measure:
    return Measure(key, value, low, high, "drawn")


halves = st.floats(0.01, 40)


@given(st.floats(0, 90), halves, halves, st.floats(0, 90), st.booleans())
def test_a_single_measure_is_as_sure_as_its_interval(value, under, over, limit, below):
    """However lopsided the interval, its ends are the 5 % and the 95 % quantile."""
    one = {KNEE: measure(KNEE, value - under, value, value + over)}
    # On the very end of the interval rounding decides.
    assume(min(abs(limit - one[KNEE].low), abs(limit - one[KNEE].high)) > 1e-6)
    fault = Fault(KNEE, limit, below, "")
    least, greatest = chance(fault, one)
    assert least == greatest
    expected = {Call.FLAGGED: least > SURE, Call.CLEAR: least < 1 - SURE}
    assert expected.get(fault_call(fault, one), 1 - SURE <= least <= SURE)


@pytest.mark.parametrize("knee_limit", [20.0, 35.0, 52.0])
@pytest.mark.parametrize("lean_limit", [8.0, 20.0, 31.0])
def test_two_measures_are_independent(knee_limit, lean_limit):
    """Against the bivariate normal distribution without correlation of scipy."""
    both = {KNEE: measure(KNEE, 26, 36, 46), LEAN: measure(LEAN, 11, 18, 25)}
    sd = [10 / norm.ppf(0.95), 7 / norm.ppf(0.95)]
    knee, lean = (Fault(KNEE, knee_limit, True, ""), Fault(LEAN, lean_limit, True, ""))
    spread = [[sd[0] ** 2, 0], [0, sd[1] ** 2]]
    together = multivariate_normal.cdf([knee_limit, lean_limit], [36, 18], spread)
    # 1.645 stands for the quantile of 95 %.
    assert chance(AllOf((knee, lean)), both)[0] == pytest.approx(together, abs=2e-4)
    single = norm.cdf(knee_limit, 36, sd[0]) + norm.cdf(lean_limit, 18, sd[1])
    assert chance(AnyOf((knee, lean)), both)[0] == pytest.approx(single - together, abs=3e-4)


def test_two_limits_of_one_measure_are_no_two_measures():
    """He cannot lean too far to both sides; and between two limits is what is left of all."""
    one = {LEAN: measure(LEAN, 11, 18, 25)}
    under, over = Fault(LEAN, 15, True, ""), Fault(LEAN, 22, False, "")
    alone = [chance(each, one)[0] for each in (under, over)]
    assert chance(AllOf((under, over)), one)[0] == 0
    assert chance(AnyOf((under, over)), one)[0] == pytest.approx(sum(alone))
    between = AllOf((Fault(LEAN, 22, True, ""), Fault(LEAN, 15, False, "")))
    assert chance(between, one)[0] == pytest.approx(1 - sum(alone))


def test_what_is_missing_may_be_either():
    some = {KNEE: measure(KNEE, 26, 36, 46), LEAN: missing(LEAN, "the legs are out of the picture")}
    knee, lean = Fault(KNEE, 36, True, ""), Fault(LEAN, 20, True, "")
    assert chance(AllOf((knee, lean)), some) == pytest.approx((0.0, 0.5))
    assert chance(AnyOf((knee, lean)), some) == pytest.approx((0.5, 1.0))
