"""Habits and changes as a coach says them, with their intervals."""

from __future__ import annotations

import datetime as dt

from posecheck.habits.changes import Change, Question
from posecheck.habits.dates import Point
from posecheck.habits.habit import Habit
from posecheck.maths.units import Units
from posecheck.measures.figures import MINUS, digits, figure

CAUTION = (
    "A coaching aid, not a medical or injury assessment. Worth a look means: watch the clips and "
    "ask the player. Why a figure changed, or why the sides differ, it does not say."
)


def day(date: dt.date) -> str:
    """A date as it is said: 1 Sep."""
    return f"{date.day} {date:%b}"


def habit_figure(habit: Habit, value: float, units: Units) -> str:
    """A value with its unit: 48°, 2.2 m/s, 17 %."""
    return f"{100 * value:.0f} %" if habit.is_share else figure(habit.key, value, units)


def habit_digits(habit: Habit, value: float, units: Units) -> str:
    """A value without its unit."""
    return f"{100 * value:.0f}" if habit.is_share else digits(habit.key, value, units)


def between(habit: Habit, low: float, high: float, units: Units) -> str:
    """An interval with its unit: 44 to 52°."""
    return f"{habit_digits(habit, low, units)} to {habit_figure(habit, high, units)}"


def short_count(point: Point) -> str:
    """The same where there is little room: 6, or 4/6."""
    return str(point.reps) if point.seen == point.reps else f"{point.seen}/{point.reps}"


def count(point: Point) -> str:
    """How many reps show it: 6, or 4 of 6 where some do not."""
    return str(point.reps) if point.seen == point.reps else f"{point.seen} of {point.reps}"


def amount(change: Change, units: Units) -> str:
    """How much more or less, with its 90 % interval; of a share in reps of 100."""
    habit = change.habit
    more = change.difference > 0
    ends = sorted((change.low, change.high), key=abs) if change.low * change.high > 0 else None
    if habit.is_share:
        words = f"in {abs(100 * change.difference):.0f} {'more' if more else 'fewer'} of 100 reps"
        if ends is None:
            return words
        return f"{words} ({abs(100 * ends[0]):.0f} to {abs(100 * ends[1]):.0f})"
    words = f"{habit_figure(habit, abs(change.difference), units)} {'more' if more else 'less'}"
    if ends is None:
        return words
    return f"{words} ({between(habit, abs(ends[0]), abs(ends[1]), units)})"


def change_words(change: Change, units: Units, last: dt.date | None, since: dt.date | None) -> str:
    """A change as one sentence.

    Args:
        change: of a player's habit.
        units: of the season.
        last: date of the player's last practice.
        since: date that practices were parted at.
    """
    label, much = change.habit.label, amount(change, units)
    first, second = change.n
    reps = f"{second} reps against {first}"
    on = "" if last is None else f" on {day(last)}"
    match change.question:
        case Question.TREND:
            return f"{label}: {much} a month, over {first} practices."
        case Question.LAST:
            return f"{label}{on}: {much} than in his earlier practices; {reps}."
        case Question.SINCE:
            start = "" if since is None else f" from {day(since)} on"
            return f"{label}{start}: {much} than before; {reps}."
        case Question.LATE:
            return f"{label} late in a practice: {much} than early; {reps}."
        case Question.SIDES:
            return f"{label} to his left: {much} than to his right; {reps}."


def difference_figure(habit: Habit, size: float, units: Units) -> str:
    """How big a difference is, without its sign; of a share in reps of 100, as in a sentence."""
    return f"{100 * size:.0f} of 100" if habit.is_share else habit_figure(habit, size, units)


def change_figure(change: Change, units: Units) -> str:
    """A difference with its sign and unit; no sign before zero."""
    size = difference_figure(change.habit, abs(change.difference), units)
    if not _shows(habit_digits(change.habit, change.difference, units)):
        return size
    return f"{'+' if change.difference > 0 else MINUS}{size}"


def change_interval(change: Change, units: Units) -> str:
    """Its 90 % interval, with signs and without the unit."""
    low, high = (_signed(change.habit, each, units) for each in (change.low, change.high))
    return f"{low} to {high}"


def _signed(habit: Habit, value: float, units: Units) -> str:
    text = habit_digits(habit, value, units).replace("-", MINUS)
    if not _shows(text):
        return text.lstrip(MINUS)
    return f"+{text}" if value > 0 else text


def _shows(text: str) -> bool:
    """True when a figure is not all zeros."""
    return any(digit in text for digit in "123456789")
