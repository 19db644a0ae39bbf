"""Plots are read back from their markup and compared with what was put in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from drawings import of_class, parsed, points
from factories import make_rep_result, make_series

from posecheck.judging.plan import Kept
from posecheck.judging.thresholds import Good
from posecheck.maths.units import Units
from posecheck.measures.measure import Measure, missing
from posecheck.pages import plots
from posecheck.reps.rep import Rep

WINDOW = (-0.1, 0.3)


def test_a_strip_puts_interval_threshold_and_good_side_to_scale() -> None:
    measure = Measure("knee_bend_deg", 30.0, 25.0, 40.0, "all frames")
    tree = parsed(plots.interval_strip(measure, Good(low=45.0)))
    # The strip spans 0 to 100 degrees over 192 units from 4: worked by hand.
    (bar,) = of_class(tree, "bar")
    assert float(bar.get("x", "")) == pytest.approx(4 + 1.92 * 25)
    assert float(bar.get("width", "")) == pytest.approx(1.92 * 15, abs=0.1)
    (best,) = of_class(tree, "best")
    assert float(best.get("x1", "")) == pytest.approx(4 + 1.92 * 30, abs=0.1)
    (tick,) = of_class(tree, "tick")
    assert float(tick.get("x1", "")) == pytest.approx(4 + 1.92 * 45)
    (good,) = of_class(tree, "good")
    assert float(good.get("x", "")) == pytest.approx(4 + 1.92 * 45)
    assert float(good.get("width", "")) == pytest.approx(1.92 * 55, abs=0.1)


def test_a_strip_of_a_missing_measure_has_no_bar() -> None:
    tree = parsed(plots.interval_strip(missing("overrun_m", "not seen"), Good(high=1.0)))
    assert not of_class(tree, "bar")
    assert len(of_class(tree, "tick")) == 1


def test_a_share_is_drawn_from_none_to_all() -> None:
    tree = parsed(plots.share_strip(Kept("top", None, on=1, off=3, open=2)))
    (best,) = of_class(tree, "best")
    assert float(best.get("x1", "")) == pytest.approx(4 + 192 * 0.25, abs=0.1)
    (bar,) = of_class(tree, "bar")
    left = float(bar.get("x", ""))
    # Wilson's score interval, z = 1.645: (1 + z^2/2 -+ z sqrt(3/4 + z^2/4)) / (4 + z^2). By hand.
    assert left == pytest.approx(4 + 192 * 0.0579, abs=0.2)
    assert left + float(bar.get("width", "")) == pytest.approx(4 + 192 * 0.6438, abs=0.2)
    assert not of_class(parsed(plots.share_strip(Kept("top", None, 0, 0, 2))), "bar")


def test_a_value_beyond_the_strip_stays_at_its_edge() -> None:
    tree = parsed(plots.interval_strip(Measure("overrun_m", 90.0, 80.0, 99.0, ""), None))
    (bar,) = of_class(tree, "bar")
    assert 0 <= float(bar.get("x", "")) <= 200


def test_the_knee_curve_has_a_gap_where_the_leg_was_not_seen() -> None:
    rep = make_rep_result()
    tree = parsed(plots.knee_plot(rep.series, rep.rep, [(45.0, "from 45°")], WINDOW))
    (curve,) = of_class(tree, "curve")
    assert (curve.get("d") or "").count("M") == 2
    assert len(points(curve)) == np.isfinite(rep.series.knee_bend_deg).sum()
    assert len(of_class(tree, "window")) == 1
    assert len(of_class(tree, "level")) == 1


def test_an_error_bar_spans_its_interval_and_the_time_it_was_read_over() -> None:
    """Levels at the bar's own ends lie on its edges; what is missing is not drawn."""
    rep = make_rep_result()
    arrival_s = rep.rep.arrival_s
    assert arrival_s is not None
    knee = rep.measures["knee_bend_deg"]
    assert knee.low is not None and knee.high is not None
    over = [
        plots.Over(arrival_s + WINDOW[0], arrival_s + WINDOW[1], knee),
        plots.Over(arrival_s, arrival_s + 0.5, missing("late_knee_bend_deg", "hidden")),
    ]
    ends = [(knee.high, "high"), (knee.low, "low")]
    tree = parsed(plots.knee_plot(rep.series, rep.rep, ends, WINDOW, over))
    (bar,) = of_class(tree, "interval")
    (window,) = of_class(tree, "window")
    high, low = (float(line.get("y1", "nan")) for line in of_class(tree, "level"))
    top, tall = (float(bar.get(name, "nan")) for name in ("y", "height"))
    assert (top, top + tall) == pytest.approx((high, low), abs=0.11)
    for name in ("x", "width"):
        assert float(bar.get(name, "nan")) == pytest.approx(
            float(window.get(name, "nan")), abs=0.11
        )
    (best,) = of_class(tree, "best")
    assert high < float(best.get("y1", "nan")) < low


def test_without_arrival_there_is_no_window_and_no_moment() -> None:
    series = make_series()
    rep = Rep(0.4, None, None, 3.7, None)
    knee = parsed(plots.knee_plot(series, rep, [], WINDOW))
    speed = parsed(plots.speed_plot(series, rep, []))
    assert not of_class(knee, "window") and not of_class(knee, "moment")
    assert not of_class(speed, "moment")


@pytest.mark.parametrize(
    ("units", "limit", "axis", "ticks"),
    [
        (Units.METRES, "arrive under 2.5 m/s", "m/s", ["0", "2", "4", "6"]),
        (Units.YARDS, "arrive under 5.6 mph", "mph", ["0", "5", "10"]),
    ],
)
def test_the_speed_plot_names_its_moments_and_its_limit(
    units: Units, limit: str, axis: str, ticks: list[str]
) -> None:
    rep = make_rep_result()
    markup = plots.speed_plot(rep.series, rep.rep, [(2.5, "arrive under")], units=units)
    assert "brakes" in markup and "arrival" in markup
    assert limit in markup
    assert f"Ground speed over time, {axis}" in markup
    words = [each.text for each in parsed(markup).iter() if each.get("text-anchor") == "end"]
    assert [each for each in words if each in ticks] == ticks


def test_nothing_seen_makes_empty_plots_not_errors() -> None:
    series = make_series()
    blank = {
        name: np.full_like(array, np.nan) for name, array in vars(series).items() if name != "t_s"
    }
    series = replace(series, **blank)
    rep = Rep(0.4, None, 2.7, 3.7, None)
    assert not of_class(parsed(plots.knee_plot(series, rep, [], WINDOW)), "curve")
    assert not of_class(parsed(plots.speed_plot(series, rep, [])), "curve")


@pytest.mark.parametrize("braking_s", [1.0, 2.1])
def test_the_words_of_two_moments_keep_apart(braking_s: float) -> None:
    """The earlier one's stand before its line, whichever it is: a late braker arrives first."""
    rep = replace(make_rep_result("upright").rep, braking_s=braking_s, arrival_s=2.0)
    tree = parsed(plots.speed_plot(make_rep_result("upright").series, rep, []))
    words = {
        element.text: element for element in tree.iter() if element.text in ("brakes", "arrival")
    }
    earlier, later = sorted(words, key=lambda word: {"brakes": braking_s, "arrival": 2.0}[word])
    assert words[earlier].get("text-anchor") == "end"
    assert words[later].get("text-anchor") == "start"
    assert float(words[earlier].get("x", "nan")) < float(words[later].get("x", "nan"))
