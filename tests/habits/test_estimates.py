"""Means of reps with error bars: against a published meta-analysis and Student's t."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from posecheck.habits.estimates import (
    Estimate,
    Group,
    Part,
    Readings,
    Spread,
    practice_mean,
)
from posecheck.habits.tuning import SHARED_ERROR
from posecheck.measures.measure import Measure, missing

# The 13 trials of the BCG vaccine: log risk ratio, its variance, and the latitude (G. A. Colditz
# and others, J. American Medical Association 271, 1994; from memory).
# fmt: off
LOG_RATIO = np.array([
    -0.8893, -1.5854, -1.3481, -1.4416, -0.2175, -0.7861, -1.6209, 0.0120, -0.4694, -1.3713,
    -0.3394, 0.4459, -0.0173,
])
VARIANCE = np.array([
    0.3256, 0.1946, 0.4154, 0.0200, 0.0512, 0.0069, 0.2230, 0.0040, 0.0564, 0.0730, 0.0124, 0.5325,
    0.0714,
])
# fmt: on
LATITUDE = np.array([44, 55, 42, 52, 13, 44, 19, 13, 27, 42, 18, 33, 33.0])


def read(value: float, half: float) -> Measure:
    return Measure("knee_bend_deg", value, value - half, value + half, "made")


def test_the_mean_of_a_published_meta_analysis() -> None:
    """By DerSimonian and Laird: mean -0.714, spread 0.309, plain standard error 0.179 (from memory,
    as the manuals of meta-analysis programs print it)."""
    group = Group.around_a_mean(LOG_RATIO, VARIANCE)
    spread = Spread.of([group])
    mean = spread.fit(group)
    assert spread.variance == pytest.approx(0.309, abs=0.001)
    assert mean.value == pytest.approx(-0.714, abs=0.001)
    assert math.sqrt(mean.variance / spread.scatter) == pytest.approx(0.179, abs=0.0005)
    assert mean.df == pytest.approx(12)


def test_the_slope_of_a_published_meta_regression() -> None:
    """On latitude: slope -0.0292, spread left 0.063 (from memory, as above)."""
    trials = [
        Estimate(value, (Part(variance, math.inf),))
        for value, variance in zip(LOG_RATIO, VARIANCE, strict=True)
    ]
    group = Group.around_a_line(trials, LATITUDE)
    spread = Spread.of([group])
    assert spread.variance == pytest.approx(0.0633, abs=0.0005)
    assert spread.fit(group).value == pytest.approx(-0.0292, abs=0.0001)


def test_readings_almost_without_error_are_students_mean() -> None:
    values = np.array([41.0, 55.0, 47.0, 62.0, 44.0])
    mean = practice_mean(Readings.of([read(value, 1e-6) for value in values]))
    student = stats.t.interval(0.9, 4, values.mean(), values.std(ddof=1) / math.sqrt(5))
    assert mean.value == pytest.approx(values.mean())
    assert mean.interval == pytest.approx(student, rel=1e-6)


def test_equal_reps_leave_the_error_of_reading_and_more_reps_only_part_of_it() -> None:
    """Two parts: the reps' own shrinks with their number, what they share does not."""
    sd = 8 / 1.645
    for n in (4, 400):
        mean = practice_mean(Readings.of([read(50, 8)] * n))
        assert mean.variance == pytest.approx(sd**2 * ((1 - SHARED_ERROR) / n + SHARED_ERROR))


def test_one_rep_keeps_its_own_bar_and_few_reps_have_a_long_one() -> None:
    assert practice_mean(Readings.of([read(50, 8)])).half == pytest.approx(8, rel=1e-3)
    two = practice_mean(Readings.of([read(40, 8), read(60, 8)])).half
    six = practice_mean(Readings.of([read(40, 8), read(60, 8)] * 3)).half
    assert six < 20 < two


def test_a_bar_cut_off_at_zero_counts_by_its_longer_half() -> None:
    (variance,) = Readings.of([Measure("arrival_speed_mps", 0.1, 0.0, 0.6, "made")]).variances
    assert math.sqrt(variance) == pytest.approx(0.5 / 1.645)


def test_missing_measures_are_left_out() -> None:
    assert Readings.of([read(50, 8), missing("knee_bend_deg", "hidden")]).n == 1
    with pytest.raises(ValueError, match="no rep"):
        practice_mean(Readings.of([missing("knee_bend_deg", "hidden")]))


def test_a_difference_has_welchs_degrees_of_freedom() -> None:
    """Against scipy's own test of unequal variances."""
    rng = np.random.default_rng(1)
    a, b = rng.normal(50, 4, 6), rng.normal(45, 9, 9)
    means = [
        Estimate(float(each.mean()), (Part(each.var(ddof=1) / len(each), len(each) - 1),))
        for each in (a, b)
    ]
    found, welch = means[0].minus(means[1]), stats.ttest_ind(a, b, equal_var=False)
    assert found.p_value == pytest.approx(welch.pvalue)
    assert found.df == pytest.approx(welch.df)
    assert found.interval == pytest.approx(tuple(welch.confidence_interval(0.9)))


def test_groups_share_one_spread_whatever_their_means() -> None:
    rng = np.random.default_rng(2)
    groups = [
        Group.around_a_mean(rng.normal(50 * number, 5, 6), np.full(6, 4.0)) for number in range(200)
    ]
    spread = Spread.of(groups)
    assert spread.df == 1000
    assert spread.variance == pytest.approx(25 - 4, rel=0.1)
    assert Spread.of([Group.around_a_mean(np.array([1.0]), np.array([1.0]))]).df == 0
