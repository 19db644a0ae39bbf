"""What may be called a change, a fading or a side difference, and by which method.

Each question is asked of every player and habit, and only a difference that stands up to all of
these questions being asked is called: the share of false calls among all calls of one question is
held below ``FALSE_CALLS`` (Y. Benjamini, Y. Hochberg, Controlling the false discovery rate, J.
Royal Statistical Society B 57, 1995), and the 90 % interval must leave out zero. The rest is not
called "no change": ``least`` says how much it would have taken to show (minimal detectable change;
J. P. Weir, Quantifying test-retest reliability, J. Strength and Conditioning Research 19, 2005).

What is worse, and every side difference, is worth a look; why it is so, no figure here can say.
All sources from memory.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from posecheck.habits.dates import comparable, own_reps, points, readings, upright_calls
from posecheck.habits.estimates import Estimate, Group, Part, Spread
from posecheck.habits.habit import Habit
from posecheck.habits.season import HabitRep, PlayerId, Season
from posecheck.habits.tuning import (
    DAYS_A_MONTH,
    FALSE_CALLS,
    MIN_DATES,
    MIN_REPS,
    MIN_SIDE_REPS,
    MIN_SPREAD_DF,
    MOST_DATES_ORDERED,
)
from posecheck.maths.arrays import FloatArray
from posecheck.maths.shares import LEVEL, share_interval
from posecheck.practice.layout import Side


class Question(StrEnum):
    """What is asked of a habit."""

    TREND = "over all dates"
    """Does it go up or down from practice to practice? Slope of a random-effects meta-regression
    over the dates (G. Knapp, J. Hartung, Improved tests for a random effects meta-regression with a
    single covariate, Statistics in Medicine 22, 2003). For shares Kendall's rank test (H. B. Mann,
    Nonparametric tests against trend, Econometrica 13, 1945), a practice counting once, and the
    median slope of Theil and Sen (P. K. Sen, J. American Statistical Association 63, 1968)."""
    LAST = "last practice against earlier ones"
    """Is his last practice outside what his earlier ones vary by? Difference of random-effects
    means; the spread between earlier practices, which all players share, counts for the last one
    too, as in a prediction interval (J. P. T. Higgins, S. G. Thompson, D. J. Spiegelhalter, J.
    Royal Statistical Society A 172, 2009)."""
    SINCE = "from a date on against before"
    """Are practices from a date on different from those before? Difference of random-effects means
    over practices."""
    LATE = "late against early reps"
    """Are the later reps of a practice different from the earlier ones? Difference within each
    practice, then the random-effects mean over practices, whose spread all players share."""
    SIDES = "to his left against to his right"
    """Does he close out differently to his left? Likewise; the reading's own error, which the two
    sides need not share, is added once more and not averaged out."""


METHOD_OF_SHARES = "Fisher's exact test"
"""For shares of upright reps it answers every question but the trend (R. A. Fisher, The logic of
inductive inference, J. Royal Statistical Society 98, 1935), with the interval of the difference by
R. G. Newcombe's hybrid score (Statistics in Medicine 17, 1998). From practice to practice shares
scatter more than single reps would; where practices are compared, both allow for as much as is seen
of all players together."""


@dataclass(frozen=True)
class Change:
    """The answer to one question on one habit of one player.

    Attributes:
        who: the player.
        habit: what.
        question: asked.
        difference: last minus earlier, later minus before, late minus early, left minus right; of a
            trend the change in a month.
        low, high: its 90 % interval.
        df: degrees of freedom of that interval.
        n: reps on the first and on the second side; of a trend practices, and 0.
        p: two-sided.
        adjusted: the same, after Benjamini and Hochberg over all players and habits.
        called: whether it may be called a change.
        least: about how big it would have to be for that, with an error bar as long as it has.
    """

    who: PlayerId
    habit: Habit
    question: Question
    difference: float
    low: float
    high: float
    n: tuple[int, int]
    p: float
    df: float = math.inf
    adjusted: float = math.nan
    called: bool = False
    least: float = math.nan

    @property
    def better(self) -> int:
        """1 for a difference to the better, -1 for one to the worse, 0 when neither is known."""
        if self.question is Question.SIDES:
            return 0
        return self.habit.better * (1 if self.difference > 0 else -1)

    @property
    def worth_a_look(self) -> bool:
        """True for what is called and is to the worse, or differs by side."""
        return self.called and (self.question is Question.SIDES or self.better < 0)


def changes(
    season: Season, habits: Sequence[Habit], since: dt.date | None = None
) -> tuple[Change, ...]:
    """Every question that the reps of a season can answer, with what may be called.

    Args:
        season: all practices.
        habits: that are followed.
        since: first date of what is set against all before; None asks no such question.
    """
    players = {who: _practices(season, who) for who in season.players}
    asked: list[Change] = []
    for habit in habits:
        if habit.is_share:
            asked += _share_trends(season, habit)
            asked += _of_shares(players, habit, since)
        else:
            asked += _of_measure(players, habit, since)
    return tuple(_called(asked))


def _called(asked: Sequence[Change]) -> Iterator[Change]:
    from scipy.stats import false_discovery_control

    for question in Question:
        own = [each for each in asked if each.question is question]
        if not own:
            continue
        adjusted = false_discovery_control([each.p for each in own], method="bh")
        judged = [
            replace(
                each,
                adjusted=float(p),
                called=bool(p <= FALSE_CALLS and (each.low > 0 or each.high < 0)),
            )
            for each, p in zip(own, adjusted, strict=True)
        ]
        further = min(sum(each.called for each in judged) + 1, len(judged))
        for each in judged:
            yield replace(each, least=_least(each, FALSE_CALLS * further / len(judged)))


def _least(change: Change, p: float) -> float:
    """The size at which a difference with this error bar has that p."""
    from scipy.special import stdtrit

    reach = float(stdtrit(change.df, 1 - p / 2) / stdtrit(change.df, (1 + LEVEL) / 2))
    return reach * (change.high - change.low) / 2


@dataclass(frozen=True)
class _Practice:
    """A player's reps of one practice.

    Attributes:
        date: of it.
        reps: in order.
        alike: True when it was measured as the latest one.
    """

    date: dt.date
    reps: Sequence[HabitRep]
    alike: bool


def _practices(season: Season, who: PlayerId) -> list[_Practice]:
    """A player's practices. One that was measured in two ways is not even compared with itself."""
    alike = comparable(season)
    return [
        _Practice(practice.date, reps, any(practice is each for each in alike))
        for practice in season.practices
        if len(practice.made) == 1
        for reps in [own_reps(practice, who)]
        if reps
    ]


_Players = Mapping[PlayerId, Sequence[_Practice]]


# -- measures ------------------------------------------------------------------------------------


def _of_measure(players: _Players, habit: Habit, since: dt.date | None) -> Iterator[Change]:
    spreads = {
        who: Spread.of([own.own for each in practices if (own := readings(each.reps, habit)).n])
        for who, practices in players.items()
    }
    known = {who: own for who, own in players.items() if spreads[who].df >= MIN_SPREAD_DF}
    means = {
        who: [
            _Mean(each.date, spreads[who].fit(own.own).and_error(own.shared), own.n)
            for each in practices
            if each.alike
            for own in [readings(each.reps, habit)]
            if own.n
        ]
        for who, practices in known.items()
    }
    yield from _trend(means, habit)
    yield from _last(means, habit)
    if since is not None:
        yield from _since(means, habit, since)
    halves = {who: [_halves(each.reps) for each in own] for who, own in known.items()}
    yield from _within(Question.LATE, halves, spreads, habit)
    sides = {who: [_sides(each.reps) for each in own] for who, own in known.items()}
    yield from _within(Question.SIDES, sides, spreads, habit)


@dataclass(frozen=True)
class _Mean:
    """A measure's mean in one practice of a player, from so many reps."""

    date: dt.date
    mean: Estimate
    n: int


_Means = Mapping[PlayerId, Sequence[_Mean]]


def _trend(means: _Means, habit: Habit) -> Iterator[Change]:
    lines = {who: _line(own) for who, own in means.items() if len(own) >= MIN_DATES}
    lines = {who: line for who, line in lines.items() if np.ptp(line.design[:, 1]) > 0}
    spread = Spread.of(list(lines.values()))
    for who, line in lines.items():
        yield _change(who, habit, Question.TREND, spread.fit(line), (len(line.values), 0))


def _line(means: Sequence[_Mean]) -> Group:
    months = np.array([each.date.toordinal() / DAYS_A_MONTH for each in means])
    return Group.around_a_line([each.mean for each in means], months)


def _last(means: _Means, habit: Habit) -> Iterator[Change]:
    # How practices of a player differ is hardly seen from his few: from all players' together.
    spread = Spread.of([_group(own[:-1]) for own in means.values()])
    if spread.df < MIN_SPREAD_DF:
        return
    for who, own in means.items():
        if len(own) > 1 and own[-1].n >= MIN_REPS:
            *earlier, last = own
            found = last.mean.minus(spread.fit(_group(earlier))).and_error(spread.part)
            found = _no_surer(found, spread)
            yield _change(who, habit, Question.LAST, found, (_reps(earlier), last.n))


def _since(means: _Means, habit: Habit, since: dt.date) -> Iterator[Change]:
    split = {
        who: ([each for each in own if each.date < since], [e for e in own if e.date >= since])
        for who, own in means.items()
    }
    spread = Spread.of([_group(side) for sides in split.values() for side in sides])
    if spread.df < MIN_SPREAD_DF:
        return
    for who, (before, after) in split.items():
        if before and after:
            found = spread.fit(_group(after)).minus(spread.fit(_group(before)))
            found = _no_surer(found, spread)
            yield _change(who, habit, Question.SINCE, found, (_reps(before), _reps(after)))


def _no_surer(found: Estimate, spread: Spread) -> Estimate:
    """The same, with its error known no better than the spread between practices is.

    The error that reps share is only believed; what practices really differ by bears it out.
    """
    return Estimate(found.value, (Part(found.variance, min(found.df, spread.df)),))


def _group(means: Sequence[_Mean]) -> Group:
    return Group.of([each.mean for each in means])


def _reps(means: Sequence[_Mean]) -> int:
    return sum(each.n for each in means)


_Split = tuple[Sequence[HabitRep], Sequence[HabitRep]]
"""Reps of one practice in two groups."""


def _within(
    question: Question,
    splits: Mapping[PlayerId, Sequence[_Split]],
    spreads: Mapping[PlayerId, Spread],
    habit: Habit,
) -> Iterator[Change]:
    """Second minus first within each practice that shows both, then over all of them."""
    pairs = {
        who: [
            pair
            for first, second in own
            for pair in [(readings(first, habit), readings(second, habit))]
            if pair[0].n and pair[1].n
        ]
        for who, own in splits.items()
    }
    found = {
        who: [spreads[who].fit(b.own).minus(spreads[who].fit(a.own)) for a, b in own]
        for who, own in pairs.items()
    }
    shared = Spread.of([Group.of(each) for each in found.values()])
    for who, own in found.items():
        n = sum(first.n for first, _ in pairs[who]), sum(second.n for _, second in pairs[who])
        if min(n) < MIN_SIDE_REPS:
            continue
        if shared.df >= MIN_SPREAD_DF:
            # A practice's own error is known from few reps, its scatter from all practices.
            mean = shared.fit(Group.of(own))
        elif len(own) == 1:
            (mean,) = own
        else:
            alone = Group.of(own)
            mean = Spread.of([alone]).fit(alone)
        if question is Question.SIDES:
            errors = [each.shared.variance for pair in pairs[who] for each in pair]
            mean = mean.and_error(Part(2 * float(np.mean(errors)), math.inf))
        yield _change(who, habit, question, mean, n)


def _change(
    who: PlayerId, habit: Habit, question: Question, found: Estimate, n: tuple[int, int]
) -> Change:
    return Change(who, habit, question, found.value, *found.interval, n, found.p_value, found.df)


# -- shares --------------------------------------------------------------------------------------


def _share_trends(season: Season, habit: Habit) -> Iterator[Change]:
    from scipy.stats import theilslopes

    for who in season.players:
        series = [each for each in points(season, who, habit) if each.comparable and each.seen]
        if len(series) < MIN_DATES:
            continue
        days = np.array([each.practice.date.toordinal() for each in series], dtype=np.float64)
        values = np.array([each.value for each in series], dtype=np.float64)
        if np.ptp(values) == 0 or np.ptp(days) == 0:
            continue
        p = _rank_p(days, values)
        slope = theilslopes(values, days / DAYS_A_MONTH, alpha=LEVEL)
        ends = float(slope.slope), float(slope.low_slope), float(slope.high_slope)
        yield Change(who, habit, Question.TREND, *ends, (len(series), 0), p)


def _rank_p(days: FloatArray, values: FloatArray) -> float:
    """Two-sided p of Kendall's rank test.

    Shares are often alike, for which there is no exact law but all orders of the values. Of many
    practices the normal law with its correction for ties is near enough.
    """
    from scipy.stats import kendalltau, permutation_test

    if len(values) > MOST_DATES_ORDERED:
        return float(kendalltau(days, values).pvalue)
    one, other = np.triu_indices(len(values), 1)
    later = np.sign(days[other] - days[one])

    def rises(shares: FloatArray, axis: int = -1) -> FloatArray:
        return np.asarray((later * np.sign(shares[..., other] - shares[..., one])).sum(axis=axis))

    orders = permutation_test(
        (values,), rises, permutation_type="pairings", vectorized=True, n_resamples=np.inf
    )
    return float(orders.pvalue)


def _of_shares(players: _Players, habit: Habit, since: dt.date | None) -> Iterator[Change]:
    alike_of = {
        who: [each for each in practices if each.alike and sum(upright_calls(each.reps)) > 0]
        for who, practices in players.items()
    }
    earlier_of = [[each.reps for each in own[:-1]] for own in alike_of.values()]
    last_spread = _Scatter.of(earlier_of)
    since_spread = _Scatter.of(
        [each.reps for each in own if (each.date < since) is before]
        for own in alike_of.values()
        for before in (True, False)
        if since is not None
    )
    for who, practices in players.items():
        alike = alike_of[who]
        reps = [each.reps for each in practices]
        halves, sides = [_halves(each) for each in reps], [_sides(each) for each in reps]
        asked: list[tuple[Question, _Groups, _Groups, _Scatter]] = [
            (Question.LATE, [early for early, _ in halves], [late for _, late in halves], _NONE),
            (Question.SIDES, [right for right, _ in sides], [left for _, left in sides], _NONE),
        ]
        if alike and sum(upright_calls(alike[-1].reps)) >= MIN_REPS:
            earlier = [each.reps for each in alike[:-1]]
            asked.append((Question.LAST, earlier, [alike[-1].reps], last_spread))
        if since is not None:
            before = [each.reps for each in alike if each.date < since]
            after = [each.reps for each in alike if each.date >= since]
            asked.append((Question.SINCE, before, after, since_spread))
        for question, first, second, spread in asked:
            if spread.df < MIN_SPREAD_DF:
                continue
            found = _share_change(who, habit, question, _calls(first), _calls(second), spread)
            least = MIN_SIDE_REPS if spread is _NONE else 1
            if found is not None and min(found.n) >= least:
                yield found


_Groups = Sequence[Sequence[HabitRep]]
"""Reps by practice."""

_Calls = tuple[int, int]
"""Reps run out upright, and reps clear of it."""


@dataclass(frozen=True)
class _Scatter:
    """How much the shares of a player's practices scatter.

    Attributes:
        times: as much, in squares, as reps that are each a draw for itself would; at least 1.
            Pearson's chi-squared over its degrees of freedom (P. McCullagh, J. A. Nelder,
            Generalized Linear Models, 2nd ed. 1989, 4.5).
        df: degrees of freedom.
    """

    times: float
    df: float

    @classmethod
    def of(cls, players: Iterable[_Groups]) -> _Scatter:
        """Of the practices of several players, who share it. One who is upright in all reps or in
        none says nothing of it."""
        squares, df = 0.0, 0
        for practices in players:
            counts = np.array([upright_calls(reps) for reps in practices], np.float64)
            if len(counts) < 2 or not counts.sum(axis=0).all():
                continue
            n, share = counts.sum(axis=1), counts[:, 0].sum() / counts.sum()
            off = counts[:, 0] - n * share
            squares += float((off**2 / (n * share * (1 - share))).sum())
            df += len(counts) - 1
        return cls(max(1.0, squares / df) if df else 1.0, df)

    def widened(self, reach: float) -> float:
        """An error bar's length that allows for it."""
        from scipy.special import ndtri, stdtrit

        level = (1 + LEVEL) / 2
        return reach * math.sqrt(self.times) * float(stdtrit(self.df, level) / ndtri(level))

    def doubted(self, p: float) -> float:
        """A two-sided p that allows for it."""
        from scipy.special import ndtri, stdtr

        return 2 * float(stdtr(self.df, ndtri(p / 2) / math.sqrt(self.times)))


_NONE = _Scatter(1.0, math.inf)
"""Within a practice: reps of either kind share whatever is special about it."""


def _calls(practices: _Groups) -> _Calls:
    counts = [upright_calls(reps) for reps in practices]
    return sum(upright for upright, _ in counts), sum(clear for _, clear in counts)


def _share_change(
    who: PlayerId, habit: Habit, question: Question, a: _Calls, b: _Calls, spread: _Scatter
) -> Change | None:
    from scipy.stats import fisher_exact

    first, second = share_interval(a[0], sum(a)), share_interval(b[0], sum(b))
    if first is None or second is None:
        return None
    share_a, share_b = a[0] / sum(a), b[0] / sum(b)
    difference = share_b - share_a
    low = difference - spread.widened(math.hypot(share_b - second[0], first[1] - share_a))
    high = difference + spread.widened(math.hypot(second[1] - share_b, share_a - first[0]))
    p = spread.doubted(float(fisher_exact([a, b]).pvalue))
    n = sum(a), sum(b)
    return Change(
        who, habit, question, difference, max(low, -1.0), min(high, 1.0), n, p, df=spread.df
    )


# -- groups of reps ------------------------------------------------------------------------------


def _halves(reps: Sequence[HabitRep]) -> tuple[Sequence[HabitRep], Sequence[HabitRep]]:
    """The earlier and the later half; a rep in the middle is in neither."""
    half = len(reps) // 2
    return reps[:half], reps[len(reps) - half :]


def _sides(reps: Sequence[HabitRep]) -> tuple[list[HabitRep], list[HabitRep]]:
    """Reps to the right and to the left of the goal as the defender looks out."""
    right = [rep for rep in reps if rep.side is Side.RIGHT]
    return right, [rep for rep in reps if rep.side is Side.LEFT]
