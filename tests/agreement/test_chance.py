"""Chances of faults, against draws of the truth and the rules as judging has them."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from factories import make_measures

from posecheck.agreement.chance import chance_of_others, crossings, moving
from posecheck.judging.asked import Asked
from posecheck.judging.odds import Odds
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, judge
from posecheck.measures.measure import Measure
from posecheck.practice.layout import Side
from posecheck.practice.plan import Plan

LIMITS = Thresholds()
ASKED = Asked(plan=Plan.ALLEY, spot="top-left", side=Side.LEFT)
NAMES = [field.name for field in dataclasses.fields(Thresholds)]


def drawn(measures: dict[str, Measure], n: int) -> list[dict[str, Measure]]:
    """The rep with the truth in the place of every reading, drawn as its error bar states."""
    rng = np.random.default_rng(3)
    values = {
        key: rng.normal(each.value, (each.high - each.low) / 3.29, n)
        for key, each in measures.items()
    }
    return [
        {key: Measure(key, *[float(value[i])] * 3, "drawn") for key, value in values.items()}
        for i in range(n)
    ]


@pytest.mark.parametrize("name", NAMES)
def test_chances_are_those_of_drawing_the_truth(name: str) -> None:
    measures = make_measures("unclear")
    truths = drawn(measures, 400)
    conditions = moving(LIMITS, name, ASKED)
    assert conditions
    stands = np.array([getattr(LIMITS, name)])
    odds = Odds(measures, stands, np.zeros(1))
    calls = [
        {each.rule: each.call is Call.FLAGGED for each in judge(truth, LIMITS, ASKED).findings}
        for truth in truths
    ]
    for rule, condition in conditions.items():
        share = np.mean([each[rule] for each in calls])
        # Four standard errors of 400 draws at most.
        assert odds.of_any(condition)[0] == pytest.approx(share, abs=0.1)
    together = np.mean([any(each[rule] for rule in conditions) for each in calls])
    terms = tuple(term for condition in conditions.values() for term in condition)
    assert odds.of_any(terms)[0] == pytest.approx(together, abs=0.1)


@pytest.mark.parametrize("name", NAMES)
def test_a_limit_moves_in_its_own_place(name: str) -> None:
    """With a limit elsewhere chances are those of a table made with it there."""
    measures = make_measures("unclear")
    there = getattr(LIMITS, name) + 0.75
    moved = dataclasses.replace(LIMITS, **{name: there})
    for rule, condition in moving(LIMITS, name, ASKED).items():
        at = Odds(measures, np.array([there]), np.zeros(1))
        assert at.of_any(condition) == pytest.approx(
            at.of_any(moving(moved, name, ASKED)[rule]), abs=1e-9
        )


def test_broke_down_late_and_stayed_high_exclude_each_other() -> None:
    conditions = moving(LIMITS, "min_knee_bend_deg", ASKED)
    assert set(conditions) == {"late_breakdown", "no_breakdown"}
    odds = Odds(make_measures("unclear"), np.linspace(20, 60, 9), np.zeros(9))
    late, high = (odds.of_any(conditions[rule]) for rule in ("late_breakdown", "no_breakdown"))
    both = odds.of_any(conditions["late_breakdown"] + conditions["no_breakdown"])
    np.testing.assert_allclose(both, late + high)


def test_where_a_measure_crosses_the_limit() -> None:
    conditions = moving(LIMITS, "min_side_offset_m", ASKED)
    measures = make_measures(approach_offset_m=0.12)
    # Straight up is looked for on both sides of the line.
    assert sorted(crossings(conditions["straight_up"], measures)) == pytest.approx([-0.12, 0.12])


def test_a_missing_measure_is_there_or_not() -> None:
    measures = make_measures(hand_reach=None)
    condition = moving(LIMITS, "min_hand_reach", ASKED)["hands_in"]
    chances = [
        Odds(measures, np.zeros(1), np.zeros(1), there).of_any(condition) for there in (0, 1)
    ]
    assert chances == [[0], [1]]
    assert chance_of_others(LIMITS, "min_base_width", ASKED, measures) == 1
    assert chance_of_others(LIMITS, "min_base_width", ASKED, make_measures()) < 0.2
