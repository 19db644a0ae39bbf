"""Which side was taken, against the plan, and how often."""

import numpy as np
import pytest
from factories import make_measures
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from posecheck.judging.asked import Asked
from posecheck.judging.plan import NO_SPOT, Kept, kept, share_words, side_taken, total
from posecheck.judging.rules import good_side, rules
from posecheck.judging.thresholds import Good, Thresholds
from posecheck.judging.verdict import Call, judge
from posecheck.measures.measure import Measure
from posecheck.practice.field import closeout_layout
from posecheck.practice.layout import Side
from posecheck.practice.plan import Plan

ON, OFF, OPEN = Call.CLEAR, Call.FLAGGED, Call.CANT_TELL
LIMITS = Thresholds()  # half a body is 0.3 m


def asked(plan, hand, spot):
    """Of a defender in the usual drill."""
    return Asked(plan, hand, spot, closeout_layout().side_of(spot))


ALLEY = asked(Plan.ALLEY, None, "top-left")


def offset(low, high):
    measure = Measure("approach_offset_m", (low + high) / 2, low, high, "ground positions")
    return make_measures("breakdown") | {"approach_offset_m": measure}


TOPSIDE, ALLEY_SIDE, STRAIGHT, OPEN_SIDE = (0.4, 0.9), (-0.9, -0.4), (-0.2, 0.2), (0.1, 0.8)


@pytest.mark.parametrize(
    ("call", "interval", "plan", "hand", "spot", "words"),
    [
        # Left of the goal an attacker who faces it has his right hand on the alley.
        (ON, TOPSIDE, Plan.ALLEY, None, "top-left",
         "On plan (down the alley). He took away the attacker's left shoulder (topside) and gave "
         "the right shoulder (the alley side)."),
        (ON, ALLEY_SIDE, Plan.WEAK_HAND, "right", "side-left",
         "On plan (to his weak hand). He took away the attacker's right shoulder (the alley side) "
         "and gave the left shoulder (topside)."),
        # At the top his right hand is on the defender's left.
        (ON, ALLEY_SIDE, Plan.WEAK_HAND, "right", "top",
         "On plan (to his weak hand). He took away the attacker's right shoulder (on the "
         "defender's left) and gave the left shoulder (on the defender's right)."),
        (OFF, TOPSIDE, Plan.MIDDLE, None, "side-right",
         "Off plan (to the middle). He took away the attacker's right shoulder (topside) and gave "
         "the left shoulder (the alley side)."),
        # To give both ways is off every plan.
        (OFF, STRAIGHT, Plan.ALLEY, None, "top-left",
         "Off plan (down the alley). He gave both ways."),
        # Somewhere from no side to the wrong side: off the plan whichever it is.
        (OFF, (-0.9, 0.1), Plan.ALLEY, None, "top-right",
         "Off plan (down the alley). He did not take away the attacker's right shoulder "
         "(topside)."),
        (OPEN, OPEN_SIDE, Plan.ALLEY, None, "top-left",
         "Can't tell whether on plan (down the alley): approach side 0.5 m (0.1–0.8 m) "  # noqa: RUF001
         "reaches across 0.3 m."),
        # The side is seen, but nobody has said which was wanted.
        (OPEN, TOPSIDE, None, None, "top-left",
         "No side is asked for: no plan is set for this spot. He took away the attacker's left "
         "shoulder (topside) and gave the right shoulder (the alley side)."),
        (OPEN, TOPSIDE, Plan.ALLEY, None, None,
         "No side is asked for: the attacker's spot is not stated."),
    ],
)  # fmt: skip
def test_side_taken(call, interval, plan, hand, spot, words):
    side = side_taken(offset(*interval), LIMITS, asked(plan, hand, spot))
    assert (side.call, side.words) == (call, words)


def test_a_side_that_was_not_measured():
    measures = make_measures(approach_offset_m=None)
    side = side_taken(measures, LIMITS, ALLEY)
    assert side.call is OPEN
    assert side.words == "Can't tell which side he took: the legs are out of the picture."
    del measures["approach_offset_m"]
    side = side_taken(measures, LIMITS, ALLEY)
    assert side.words == "Can't tell which side he took: not measured."


edges = st.floats(-2, 2)


@given(edges, edges, st.sampled_from([Plan.ALLEY, Plan.MIDDLE]))
def test_on_plan_agrees_with_the_rules(a, b, plan):
    """Nobody on plan is flagged for his side, and who is flagged for it is off plan."""
    low, high = sorted((a, b))
    measures = offset(low, high)
    call = side_taken(measures, LIMITS, asked(plan, None, "top-left")).call
    verdict = judge(measures, LIMITS, asked(plan, None, "top-left"))
    rules = {finding.rule for finding in verdict.flags} & {"wrong_side", "straight_up"}
    if rules:
        assert call is OFF
    if call is ON:
        sides = [f.call for f in verdict.findings if f.rule in ("wrong_side", "straight_up")]
        assert sides == [Call.CLEAR, Call.CLEAR]


@given(edges, edges)
def test_plans_mirror_each_other(a, b):
    low, high = sorted((a, b))
    alley = side_taken(offset(low, high), LIMITS, ALLEY).call
    middle = side_taken(offset(-high, -low), LIMITS, asked(Plan.MIDDLE, None, "top-left")).call
    assert alley is middle


PLAN = {"top": Plan.WEAK_HAND, "top-left": Plan.ALLEY, "side-left": Plan.ALLEY}


def test_counts_by_spot_in_the_plans_order():
    sides = [
        ("side-left", ON), ("top-left", OFF), ("side-left", OPEN), ("side-left", ON),
        ("outside", ON),  # no plan is set there
        (None, OPEN),
    ]  # fmt: skip
    rows = kept(PLAN, sides)
    assert rows == (
        Kept("top-left", Plan.ALLEY, 0, 1, 0),
        Kept("side-left", Plan.ALLEY, 2, 0, 1),
        Kept(NO_SPOT, None, 0, 0, 1),
    )
    assert total(rows) == Kept("all", None, 2, 1, 2)
    assert kept({}, sides) == ()
    assert kept(PLAN, []) == ()


@given(st.integers(0, 200), st.integers(0, 200))
def test_the_interval_solves_wilsons_equation(on, off):
    """His bounds are the shares that lie just z standard errors, at that share, off the count."""
    share = Kept("top", None, on, off, 7).share
    if on + off == 0:
        assert share is None
        return
    z, known = norm.ppf(0.95), on + off
    low, high = share
    assert 0 <= low <= on / known <= high <= 1
    for bound in (low, high):
        if 0 < bound < 1:
            error = np.sqrt(bound * (1 - bound) / known)
            assert abs(on / known - bound) == pytest.approx(z * error, rel=1e-6)


def test_a_share_in_words():
    # One of one: from z^2 = 2.7055, the lower bound is 1 / (1 + z^2) = 0.27. By hand.
    assert share_words(Kept("top", None, 1, 0, 0)) == "27 to 100 %"
    assert share_words(Kept("top", None, 0, 0, 4)) == ""


@pytest.mark.parametrize(
    ("plan", "side", "good", "words"),
    [
        (Plan.ALLEY, Side.LEFT, Good(low=0.3), "topside of him"),
        (Plan.MIDDLE, Side.RIGHT, Good(high=-0.3), "on his alley side"),
        # At the top only a strong hand that is stated names a side, and not one of the field.
        (Plan.ALLEY, Side.MIDDLE, None, "on the side that the plan names"),
        (None, Side.LEFT, None, "on the side that the plan names"),
    ],
)
def test_the_plan_says_which_approach_is_good(
    plan: Plan | None, side: Side, good: Good | None, words: str
) -> None:
    asked = Asked(plan, None, "spot", side)
    assert good_side("approach_offset_m", Thresholds(), asked) == good
    assert good_side("knee_bend_deg", Thresholds(), asked) == Good(low=45.0)
    (rule,) = (each for each in rules(Thresholds(), asked) if each.key == "wrong_side")
    assert words in rule.fix
