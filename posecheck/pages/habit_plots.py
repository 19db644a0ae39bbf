"""Small plots of a habit by date, as inline SVG in the manner of the other plots."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from posecheck.habits.dates import Point
from posecheck.habits.habit import Habit
from posecheck.habits.words import between, count, day, habit_digits, habit_figure, short_count
from posecheck.maths.units import Units
from posecheck.pages.svg import svg

WIDTH, HEIGHT = 280.0, 172.0
"""Size of a plot in its own units.

Source: definition
"""
LEFT, RIGHT, TOP, BOTTOM = 34.0, 12.0, 8.0, 40.0
"""Its margins, which hold the figures along the axes.

Source: definition
"""
COUNT_EVERY = 24.0
"""Counts below the axis stand at least so far apart, so that they can be read.

Source: definition
"""


@dataclass(frozen=True)
class _Axes:
    """Dates across, a habit up."""

    first: dt.date
    last: dt.date
    span: tuple[float, float]
    left: float
    right: float
    top: float
    foot: float

    def x(self, date: dt.date) -> float:
        days = (self.last - self.first).days
        share = (date - self.first).days / days if days else 0.5
        return self.left + 8 + (self.right - self.left - 16) * share

    def y(self, value: float) -> float:
        low, high = self.span
        share = min(max((value - low) / (high - low), 0.0), 1.0)
        return self.foot - (self.foot - self.top) * share


def habit_plot(
    habit: Habit,
    points: Sequence[Point],
    dates: tuple[dt.date, dt.date],
    units: Units,
    title: str,
) -> Markup:
    """A habit of one player by date: means, 90 % intervals, and how many reps show it.

    Args:
        habit: what.
        points: by date.
        dates: first and last of the season, the same for all players.
        units: in which the axis is written.
        title: for those who hear the page.
    """
    axes = _Axes(*dates, habit.plotted, LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM)
    parts = _good(habit, axes)
    for share in (0.0, 0.5, 1.0):
        tick = habit.plotted[0] + share * (habit.plotted[1] - habit.plotted[0])
        y = axes.y(tick)
        parts.append(
            f'<line class="grid" x1="{LEFT:.0f}" x2="{WIDTH - RIGHT:.0f}" y1="{y:.1f}" '
            f'y2="{y:.1f}"/><text x="{LEFT - 5:.0f}" y="{y + 4:.1f}" text-anchor="end">'
            f"{escape(habit_digits(habit, tick, units))}</text>"
        )
    counted_to = -COUNT_EVERY
    for point in points:
        parts += _mark(point, axes, units, 3.6)
        x = axes.x(point.practice.date)
        if x - counted_to >= COUNT_EVERY:
            counted_to = x
            parts.append(
                f'<text class="reps" x="{x:.1f}" y="{axes.foot + 15:.0f}" '
                f'text-anchor="middle">{short_count(point)}</text>'
            )
    for date, anchor, x in ((dates[0], "start", LEFT), (dates[1], "end", WIDTH - RIGHT)):
        if date != dates[0] or anchor == "start":
            parts.append(
                f'<text x="{x:.0f}" y="{HEIGHT - 7:.0f}" text-anchor="{anchor}">{day(date)}</text>'
            )
    return svg("plot habit", WIDTH, HEIGHT, title, parts)


def small_habit_plot(
    habit: Habit, points: Sequence[Point], dates: tuple[dt.date, dt.date], units: Units
) -> Markup:
    """The same without figures, to stand in a line of the printed sheet."""
    width, height = 120.0, 30.0
    axes = _Axes(*dates, habit.plotted, 0, width, 2, height - 2)
    parts = [*_good(habit, axes), f'<line class="grid" x1="0" x2="{width:.0f}" y1="28" y2="28"/>']
    for point in points:
        parts += _mark(point, axes, units, 1.9)
    return svg("plot habit", width, height, f"{habit.label} by date", parts)


def _good(habit: Habit, axes: _Axes) -> list[str]:
    if habit.good is None:
        return []
    low, high = habit.good.low, habit.good.high
    top = axes.top if high is None else axes.y(high)
    foot = axes.foot if low is None else axes.y(low)
    return [
        f'<rect class="good" x="{axes.left:.0f}" y="{top:.1f}" '
        f'width="{axes.right - axes.left:.0f}" height="{foot - top:.1f}"/>'
    ]


def _mark(point: Point, axes: _Axes, units: Units, radius: float) -> list[str]:
    """A mean with its interval: full, hollow from one rep alone, a square if not comparable."""
    x, habit = axes.x(point.practice.date), point.habit
    when = f"{day(point.practice.date)}, {point.practice.described.name}"
    if point.value is None or point.low is None or point.high is None:
        words = f"{when}: not seen in {point.reps}"
        y = axes.foot
        return [
            f'<g><title>{escape(words)}</title><path class="unseen" d="M{x - radius:.1f} '
            f"{y - radius:.1f}l{2 * radius:.1f} {2 * radius:.1f}m0 {-2 * radius:.1f}"
            f'l{-2 * radius:.1f} {2 * radius:.1f}"/></g>'
        ]
    words = (
        f"{when}: {habit_figure(habit, point.value, units)} "
        f"({between(habit, point.low, point.high, units)}), {count(point)} "
        f"{'rep' if point.reps == 1 else 'reps'}"
    )
    y, low, high = axes.y(point.value), axes.y(point.low), axes.y(point.high)
    kind = "one" if point.seen == 1 else "many"
    if not point.comparable:
        words += ", not measured as the latest practice"
        shape = (
            f'<rect class="{kind} other" x="{x - radius:.1f}" y="{y - radius:.1f}" '
            f'width="{2 * radius:.1f}" height="{2 * radius:.1f}"/>'
        )
    else:
        shape = f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>'
    return [
        f"<g><title>{escape(words)}</title>"
        f'<line class="span" x1="{x:.1f}" x2="{x:.1f}" y1="{high:.1f}" y2="{low:.1f}"/>'
        f"{_cut(point.low, point.high, x, axes, radius)}{shape}</g>"
    ]


def _cut(low: float, high: float, x: float, axes: _Axes, size: float) -> str:
    """An arrow at each end of a bar that goes on beyond the plot."""
    ends = ((low < axes.span[0], axes.foot, -size), (high > axes.span[1], axes.top, size))
    return "".join(
        f'<path class="cut" d="M{x - size:.1f} {y + down:.1f}'
        f'l{size:.1f} {-down:.1f}l{size:.1f} {down:.1f}"/>'
        for beyond, y, down in ends
        if beyond
    )
