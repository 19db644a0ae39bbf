"""What may be called a change: hardly anything where nothing changed, and what was planted."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom
from seasons import FIRST, MADE, ROSTER, Truth, made_up_season

from posecheck.habits.changes import Change, Question, _least, changes
from posecheck.habits.habit import UPRIGHT, habits
from posecheck.habits.season import PlayerId, Season
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import Call

HABITS = habits(DEFAULT_THRESHOLDS)
SHARES = [each for each in HABITS if each.key == UPRIGHT]
SINCE = FIRST + dt.timedelta(days=28)
STEADY = {player: Truth() for player in ROSTER[:6]}
FIRST_PLAYER = PlayerId.of(ROSTER[0])


def answers(season: Season) -> tuple[Change, ...]:
    return changes(season, HABITS, SINCE)


@pytest.mark.parametrize("shared", [0.0, 0.3, 0.6])
def test_where_nothing_changed_hardly_anything_is_called(shared: float) -> None:
    """Of 90 % error bars at most one in ten leaves out the truth, and at most one question in ten
    calls anything at all, whatever part of the readings' error a practice has in common."""
    outside: Counter[Question] = Counter()
    asked: Counter[Question] = Counter()
    loud = 0
    seasons = 8
    for seed in range(seasons):
        found = answers(made_up_season(np.random.default_rng(seed), STEADY, shared=shared))
        for each in found:
            asked[each.question] += 1
            outside[each.question] += each.low > 0 or each.high < 0
        loud += len({each.question for each in found if each.called})
    for question in Question:
        # Habits of one player come from the same reps: a quarter counts as independent.
        independent = asked[question] // 4
        allowed = binom.ppf(0.999, independent, 0.1) / independent
        assert outside[question] / asked[question] <= allowed, question
    assert loud <= binom.ppf(0.999, seasons * len(Question), 0.1)


@pytest.mark.parametrize(
    ("truth", "question", "change"),
    [
        (Truth(last={"knee_bend_deg": -22}), Question.LAST, -22),
        (Truth(trend={"knee_bend_deg": 2.5}), Question.TREND, 2.5 * 30 / 7),
        (Truth(late={"knee_bend_deg": -9}), Question.LATE, -9),
        (Truth(left={"knee_bend_deg": -18}), Question.SIDES, -18),
    ],
)
def test_what_was_planted_is_found(truth: Truth, question: Question, change: float) -> None:
    called = inside = 0
    for seed in range(8):
        season = made_up_season(np.random.default_rng(seed), STEADY | {ROSTER[0]: truth})
        (own,) = (
            each
            for each in answers(season)
            if each.who == FIRST_PLAYER
            and each.habit.key == "knee_bend_deg"
            and each.question is question
        )
        called += own.called
        inside += own.low <= change <= own.high
        assert not own.called or own.worth_a_look == (change < 0)
    assert called >= 6
    assert inside >= 6


def test_fewer_upright_reps_are_called_better_and_more_worth_a_look() -> None:
    for upright, better in (
        (lambda practice: 0.9 if practice < 4 else 0.05, 1),
        (lambda practice: 0.05 if practice < 4 else 0.9, -1),
    ):
        season = made_up_season(
            np.random.default_rng(4), STEADY | {ROSTER[0]: Truth(upright=upright)}
        )
        (own,) = (
            each
            for each in answers(season)
            if each.who == FIRST_PLAYER
            and each.habit.key == UPRIGHT
            and each.question is Question.SINCE
        )
        assert own.called
        assert own.better == better
        assert own.worth_a_look == (better < 0)


def test_shares_that_differ_from_practice_to_practice_are_no_change() -> None:
    """A share of 0.3 on average, between practices 0.2 more or less (a beta law): nothing over
    time changes, and reps of one practice are more alike than draws for themselves."""
    outside: Counter[Question] = Counter()
    asked: Counter[Question] = Counter()
    loud, seasons = 0, 12
    shape = 0.3 * 0.7 / 0.2**2 - 1
    for seed in range(seasons):
        rng = np.random.default_rng(seed)
        truths = {
            each: Truth(upright=list(rng.beta(0.3 * shape, 0.7 * shape, 12)).__getitem__)
            for each in ROSTER[:8]
        }
        found = [
            each
            for each in changes(made_up_season(rng, truths, practices=8, reps=12), SHARES, SINCE)
            if each.question in (Question.LAST, Question.SINCE)
        ]
        for each in found:
            asked[each.question] += 1
            outside[each.question] += each.low > 0 or each.high < 0
        loud += len({each.question for each in found if each.called})
    for question in (Question.LAST, Question.SINCE):
        assert outside[question] <= binom.ppf(0.999, asked[question], 0.1), question
    assert loud <= binom.ppf(0.999, seasons * 2, 0.1)


@pytest.mark.parametrize(
    ("shares", "p"),
    [
        # All 120 orders of five, counted by hand: both ends of what cannot be more orderly.
        ([0, 0.1, 0.2, 0.3, 0.4], 2 / 120),
        ([0, 0, 0, 0, 1], 2 / 5),
        ([0, 0, 0, 1, 1], 2 / 10),
        ([0, 0, 0.5, 0.5, 1], 2 / 30),
    ],
)
def test_a_trend_of_few_practices_is_judged_by_every_order(shares: list[float], p: float) -> None:
    found = shares_of(shares)
    assert found.p == pytest.approx(p)


def shares_of(shares: list[float]) -> Change:
    """The trend of one player with so many of ten reps upright in each practice."""
    rng = np.random.default_rng(0)
    season = made_up_season(rng, {ROSTER[0]: Truth()}, practices=len(shares), reps=10, unseen=0)
    practices = tuple(
        replace(
            practice,
            reps=tuple(
                replace(rep, upright=Call.FLAGGED if number < round(10 * share) else Call.CLEAR)
                for number, rep in enumerate(practice.reps)
            ),
        )
        for practice, share in zip(season.practices, shares, strict=True)
    )
    (found,) = (
        each
        for each in answers(replace(season, practices=practices))
        if each.habit.key == UPRIGHT and each.question is Question.TREND
    )
    return found


def test_one_late_rep_is_not_set_against_the_early_ones() -> None:
    rng = np.random.default_rng(0)
    season = made_up_season(rng, {ROSTER[0]: Truth()}, practices=1, reps=10, unseen=0)
    (practice,) = season.practices

    def late_shares(late: list[Call]) -> list[Change]:
        calls = [Call.CLEAR] * 5 + late
        reps = tuple(
            replace(rep, upright=call) for rep, call in zip(practice.reps, calls, strict=True)
        )
        found = answers(replace(season, practices=(replace(practice, reps=reps),)))
        return [e for e in found if e.habit.key == UPRIGHT and e.question is Question.LATE]

    assert not late_shares([Call.CANT_TELL] * 4 + [Call.FLAGGED])
    assert late_shares([Call.CANT_TELL] * 2 + [Call.FLAGGED] * 3)


def test_what_is_called_is_bigger_than_what_it_takes() -> None:
    truth = Truth(last={"knee_bend_deg": -25})
    season = made_up_season(np.random.default_rng(1), STEADY | {ROSTER[0]: truth})
    found = [each for each in answers(season) if not each.habit.is_share]
    called = [each for each in found if each.called]
    assert called and all(abs(each.difference) >= 0.9 * each.least for each in called)
    for each in found:
        assert each.least >= (each.high - each.low) / 2 * (1 - 1e-9)


def test_what_it_takes_is_worked_by_hand() -> None:
    """A normal law's 90 % bar of 8 either way: 8 x 1.960 / 1.645 has p = 0.05."""
    habit = HABITS[0]
    change = Change(FIRST_PLAYER, habit, Question.LAST, 3.0, -5.0, 11.0, (9, 9), 0.5)
    assert _least(change, 0.05) == pytest.approx(9.53, abs=0.01)
    few = replace(change, df=4.0)  # Student's t: 2.776 and 2.132
    assert _least(few, 0.05) == pytest.approx(8 * 2.776 / 2.132, abs=0.01)


def test_practices_measured_otherwise_are_not_compared() -> None:
    """A step that lies between two versions of posecheck is no change of the player's."""
    rng = np.random.default_rng(5)
    season = made_up_season(rng, {each: Truth(last={"knee_bend_deg": -30}) for each in ROSTER[:6]})
    *earlier, last = season.practices
    other = replace(last, made=frozenset({replace(MADE, version="0.9.0")}))
    found = answers(replace(season, practices=(*earlier, other)))
    over_time = {Question.TREND, Question.LAST, Question.SINCE}
    assert not [each for each in found if each.question in over_time]
    assert {each.question for each in found} == {Question.LATE, Question.SIDES}


def test_one_practice_answers_what_lies_within_it_and_nothing_over_time() -> None:
    season = made_up_season(np.random.default_rng(6), STEADY, practices=1, reps=12, unseen=0)
    assert {each.question for each in changes(season, HABITS)} == {Question.LATE, Question.SIDES}


def test_single_reps_are_never_compared() -> None:
    season = made_up_season(np.random.default_rng(7), STEADY, practices=2, reps=1)
    assert not [each for each in changes(season, HABITS) if each.called]
