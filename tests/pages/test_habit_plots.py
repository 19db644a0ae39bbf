"""Plots of a habit by date: what is too big for a plot is seen to be."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from seasons import ROSTER, Truth, made_up_season

from posecheck.habits.dates import Point
from posecheck.habits.habit import habits
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.maths.units import Units
from posecheck.pages.habit_plots import habit_plot, small_habit_plot

KNEES = next(each for each in habits(DEFAULT_THRESHOLDS) if each.key == "knee_bend_deg")
DATES = (dt.date(2026, 9, 1), dt.date(2026, 9, 8))


@pytest.mark.parametrize(
    ("low", "high", "arrows"), [(40.0, 60.0, 0), (0.0, 139.0, 1), (-30.0, 50.0, 1), (-9, 139, 2)]
)
def test_a_bar_that_goes_on_beyond_the_plot_ends_in_an_arrow(
    low: float, high: float, arrows: int
) -> None:
    assert KNEES.plotted == (0.0, 100.0)
    (practice,) = made_up_season(
        np.random.default_rng(1), {ROSTER[0]: Truth()}, practices=1, reps=1
    ).practices
    point = Point(practice, KNEES, 45.0, low, high, seen=2, reps=2, comparable=True)
    plot = habit_plot(KNEES, [point], DATES, Units.METRES, "Knee bend")
    small = small_habit_plot(KNEES, [point], DATES, Units.METRES)
    assert [each.count('class="cut"') for each in (plot, small)] == [arrows, arrows]
