"""Each player's habits by practice: a mean with its interval, and how many reps show it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from posecheck.habits.estimates import Readings, practice_mean
from posecheck.habits.habit import Habit
from posecheck.habits.season import HabitRep, PlayerId, PracticeReps, Season
from posecheck.judging.verdict import Call
from posecheck.maths.shares import share_interval
from posecheck.measures.quantities import QUANTITY


@dataclass(frozen=True)
class Point:
    """One habit of one player in one practice.

    Attributes:
        practice: in which.
        habit: what.
        value, low, high: mean and 90 % interval, None when no rep shows it.
        seen: reps that show it.
        reps: reps of his in this practice.
        comparable: False when the practice was not measured as the latest one.
    """

    practice: PracticeReps
    habit: Habit
    value: float | None
    low: float | None
    high: float | None
    seen: int
    reps: int
    comparable: bool

    @property
    def missing(self) -> int:
        """Reps that do not show it; of upright run-outs, the *can't tell* ones."""
        return self.reps - self.seen


def own_reps(practice: PracticeReps, who: PlayerId) -> tuple[HabitRep, ...]:
    """A player's reps of a practice, in order."""
    return tuple(rep for rep in practice.reps if rep.who == who)


def readings(reps: Sequence[HabitRep], habit: Habit) -> Readings:
    """What reps read of a measure."""
    return Readings.of([rep.measures[habit.key] for rep in reps if habit.key in rep.measures])


def upright_calls(reps: Sequence[HabitRep]) -> tuple[int, int]:
    """How many reps are run out upright, and how many are clear of it; can't tell is in neither."""
    calls = [rep.upright for rep in reps]
    return calls.count(Call.FLAGGED), calls.count(Call.CLEAR)


def comparable(season: Season) -> list[PracticeReps]:
    """The practices that were measured as the latest one, which alone are compared over time."""
    if not season.practices:
        return []
    latest = season.practices[-1].made
    return [each for each in season.practices if each.made == latest and len(latest) == 1]


def points(season: Season, who: PlayerId, habit: Habit) -> Iterator[Point]:
    """A habit of a player by date; practices without a rep of his are left out."""
    alike = comparable(season)
    for practice in season.practices:
        reps = own_reps(practice, who)
        if not reps:
            continue
        alongside = any(practice is each for each in alike)
        value, low, high, seen = (_share if habit.is_share else _mean)(reps, habit)
        yield Point(practice, habit, value, low, high, seen, len(reps), alongside)


_Values = tuple[float | None, float | None, float | None, int]


def _share(reps: Sequence[HabitRep], habit: Habit) -> _Values:
    upright, clear = upright_calls(reps)
    known = upright + clear
    ends = share_interval(upright, known)
    return (None, None, None, 0) if ends is None else (upright / known, *ends, known)


def _mean(reps: Sequence[HabitRep], habit: Habit) -> _Values:
    own = readings(reps, habit)
    if own.n == 0:
        return None, None, None, 0
    if own.n == 1:
        (only,) = (
            measure
            for rep in reps
            if (measure := rep.measures.get(habit.key)) is not None and measure.value is not None
        )
        return only.value, only.low, only.high, 1
    mean = practice_mean(own)
    least, most = QUANTITY[habit.key].plausible
    low, high = mean.interval
    return mean.value, max(low, least), min(high, most), own.n
