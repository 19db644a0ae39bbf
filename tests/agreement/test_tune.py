"""Limits planted in the rulings of simulated coaches are found again, within their error bars."""

from __future__ import annotations

import dataclasses
from functools import cache

import pytest
from coach import Coach, rulings
from scipy.stats import binomtest

from posecheck.agreement.tune import Outcome, Proposal, agreement, decided, enough, propose, tune
from posecheck.judging.ruling import Ruling
from posecheck.judging.thresholds import Thresholds, in_order
from posecheck.maths.shares import LEVEL

USUAL = Thresholds()


@cache
def proposed(planted: tuple[tuple[str, float], ...], n: int, seed: int, **coach: float):
    reps = rulings(Coach(dataclasses.replace(USUAL, **dict(planted)), **coach), n, seed)
    return propose(reps, USUAL)


def of(proposals: tuple[Proposal, ...], name: str) -> Proposal:
    (found,) = [each for each in proposals if each.name == name]
    return found


def holds(proposal: Proposal, planted: float) -> bool:
    assert proposal.fit is not None
    low, high = proposal.fit.low, proposal.fit.high
    return (low is None or low <= planted) and (high is None or planted <= high)


def assert_as_often_as_nominal(held: list[bool]) -> None:
    """Refuse a share that an interval of the nominal coverage would give once in a hundred."""
    assert binomtest(sum(held), len(held), LEVEL).pvalue > 0.01, f"{sum(held)} of {len(held)}"


PLANTED = {
    "min_knee_bend_deg": (38.0, 52.0),
    "max_overrun_m": (0.5, 1.4),
    "min_hand_reach": (0.33, 0.58),
    "min_trunk_lean_deg": (27.0,),
}


@pytest.mark.parametrize("slips", [0.0, 0.1])
def test_planted_limits_lie_within_their_error_bars(slips: float) -> None:
    """Over limits, planted values and seeds as often as a 90 % interval should, also for a coach
    who rules one rep in ten the opposite of what he sees."""
    held, outcomes = [], []
    for name, values in PLANTED.items():
        for value in values:
            for seed in range(6):
                _, proposals = proposed(((name, value),), 90, seed, slips=slips)
                found = of(proposals, name)
                if found.fit is not None:
                    held.append(holds(found, value))
                    outcomes.append(found.outcome)
    assert len(held) >= 30
    assert_as_often_as_nominal(held)
    # And they say something: most planted limits are proposed.
    assert outcomes.count(Outcome.PROPOSED) > len(outcomes) / 2


def test_several_limits_planted_together_are_found_together() -> None:
    planted = {"min_knee_bend_deg": 52.0, "max_overrun_m": 0.5, "min_hand_reach": 0.6}
    held, wrongly = [], 0
    for seed in range(6):
        _, proposals = proposed(tuple(planted.items()), 150, seed, names=0.5)
        held += [holds(of(proposals, name), value) for name, value in planted.items()]
        wrongly += sum(each.value is not None and each.name not in planted for each in proposals)
    assert_as_often_as_nominal(held)
    assert wrongly <= 2


def test_a_coach_of_the_same_limits_is_left_alone() -> None:
    """Of six tunings fewer than two should propose anything; the rule allows one in ten."""
    moved = sum(proposed((), 90, seed)[0] != USUAL for seed in range(6))
    assert moved <= 2


def test_the_limits_of_an_upright_run_out_are_found_where_the_rest_of_it_is_plain() -> None:
    coach = Coach(dataclasses.replace(USUAL, upright_knee_bend_deg=26.0))
    fixed = {"trunk_lean_deg": 8.0, "arrival_speed_mps": 4.5, "speed_kept": 0.5}
    fixed |= {"braking_distance_m": 3.0, "overrun_m": 0.0}
    held = []
    for seed in range(5):
        reps = rulings(coach, 150, seed, fixed=fixed, blurred=0.3)
        _, proposals = propose(reps, USUAL)
        found = of(proposals, "upright_knee_bend_deg")
        held.append(holds(found, 26.0))
        assert found.outcome is Outcome.PROPOSED
    assert sum(held) >= 4


def test_too_few_rulings_of_one_kind_propose_nothing() -> None:
    reps = rulings(Coach(USUAL), 60, 1)
    agreeing = [rep for rep in reps if rep.ruling.ruling is Ruling.RIGHT]
    without = [rep for rep in agreeing if rep.ruling.about.rule is None]
    limits, proposals = propose(without, USUAL)
    assert limits == USUAL
    assert {each.outcome for each in proposals} == {Outcome.TOO_FEW}
    assert all(each.seen == 0 for each in proposals)


def test_rulings_that_are_all_far_from_the_limit_say_nothing() -> None:
    """Nobody was ruled between the plain ones, so a limit may lie anywhere between."""
    reps = [
        rep
        for rep in rulings(Coach(USUAL), 400, 2, fixed={"overrun_m": 0.2})
        if not 30 < rep.measures["knee_bend_deg"].value < 65
        and not 30 < rep.measures["late_knee_bend_deg"].value < 65
    ]
    _, proposals = propose(reps, USUAL)
    found = of(proposals, "min_knee_bend_deg")
    assert found.outcome in {Outcome.TOO_WIDE, Outcome.TOO_FEW}
    assert found.value is None


def test_agreement_is_counted_on_reps_kept_out_of_the_fit() -> None:
    coach = Coach(dataclasses.replace(USUAL, min_knee_bend_deg=55.0, max_overrun_m=0.4))
    reps = rulings(coach, 100, 4)
    tuned = tune(reps, USUAL)
    assert tuned.proposed != USUAL
    assert in_order(tuned.proposed)
    assert tuned.now == agreement(reps, [USUAL] * len(reps))
    assert tuned.then is not None
    total = tuned.now.same + tuned.now.against + tuned.now.open
    assert total == tuned.then.same + tuned.then.against + tuned.then.open
    assert tuned.then.same > tuned.now.same
    assert tuned.then.against < tuned.now.against
    assert tuned.stands == USUAL


def test_enough_counts_right_and_wrong_only() -> None:
    reps = rulings(Coach(USUAL), 20, 5)
    assert enough(reps)
    one = dataclasses.replace(reps[0].ruling, ruling=Ruling.UNDECIDED, instead=None)
    fewer = [dataclasses.replace(reps[0], ruling=one), *reps[1:]]
    assert decided(fewer) == 19
    assert not enough(fewer)


def test_a_proposal_that_crosses_another_limit_is_refused() -> None:
    """The coach calls upright what he also calls broken down: both cannot be limits."""
    stands = dataclasses.replace(USUAL, min_knee_bend_deg=40.0, upright_knee_bend_deg=40.0)
    reps = rulings(Coach(dataclasses.replace(stands, min_knee_bend_deg=30.0)), 150, 6, stands)
    limits, proposals = propose(reps, stands)
    found = of(proposals, "min_knee_bend_deg")
    assert found.outcome is Outcome.OUT_OF_ORDER
    assert found.fit.high < 40
    assert in_order(limits)
    assert limits.min_knee_bend_deg == 40.0
