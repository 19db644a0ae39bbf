"""Judging as tables: measures, and the call a coach expects."""

import pytest
from factories import make_measures
from hypothesis import given
from hypothesis import strategies as st

from posecheck.judging.asked import Asked
from posecheck.judging.plan import side_taken
from posecheck.judging.rules import rule_name, rules
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, conjunction, disjunction, judge, negation
from posecheck.maths.units import Units
from posecheck.measures.measure import Measure, missing
from posecheck.practice.field import closeout_layout
from posecheck.practice.layout import Layout
from posecheck.practice.plan import Plan

F, C, U = Call.FLAGGED, Call.CLEAR, Call.CANT_TELL
LIMITS = Thresholds()


def rep(**intervals):
    """Measures of a good breakdown, single ones replaced by ``(low, high)`` or None."""
    measures = make_measures("breakdown")
    for key, interval in intervals.items():
        if interval is None:
            measures |= {key: make_measures(**{key: None})[key]}
        else:
            low, high = interval
            measures[key] = Measure(key, (low + high) / 2, low, high, "38 of 41 frames")
    return measures


def asked(plan=None, hand=None, spot=None, layout=None):
    """Of a defender in the usual drill, or on another layout."""
    return Asked(plan, hand, spot, (layout or closeout_layout()).side_of(spot))


def call(rule, measures, plan=None, strong_hand=None, spot=None):
    verdict = judge(measures, LIMITS, asked(plan, strong_hand, spot))
    return next(finding for finding in verdict.findings if finding.rule == rule)


UPRIGHT = {"knee_bend_deg": (8, 20), "trunk_lean_deg": (3, 11)}
FAST, CALM = {"arrival_speed_mps": (4.8, 5.2)}, {"arrival_speed_mps": (1.4, 1.8)}
PAST, SHORT = {"overrun_m": (1.8, 2.4)}, {"overrun_m": (0, 0.2)}


@pytest.mark.parametrize(
    ("expected", "measures"),
    [
        # The worst rep: straight legs, straight back, full speed, past him.
        (F, UPRIGHT | FAST | PAST),
        # Runs out upright but stops in front: speed alone is enough.
        (F, UPRIGHT | FAST | SHORT),
        # Jogs up and strolls past, upright: overrun alone is enough.
        (F, UPRIGHT | CALM | PAST),
        # The attacker is hidden, so overrun is not known; the speed settles it.
        (F, UPRIGHT | FAST | {"overrun_m": None}),
        # Walks up tall and stops: not broken down, but no run-out.
        (C, UPRIGHT | CALM | SHORT),
        # Fast and past, but bent: another fault, not this one.
        (C, {"knee_bend_deg": (52, 64), "trunk_lean_deg": (3, 11)} | FAST | PAST),
        # Straight legs but bent at the waist: another fault, not this one.
        (C, {"knee_bend_deg": (8, 20), "trunk_lean_deg": (30, 40)} | FAST | PAST),
        # Bent knees settle it even when nothing else can be seen.
        (C, {"knee_bend_deg": (52, 64), "trunk_lean_deg": None, "overrun_m": None} | FAST),
        # The legs are out of the picture.
        (U, UPRIGHT | FAST | PAST | {"knee_bend_deg": None}),
        # Knee bend may lie on either side of 35.
        (U, UPRIGHT | FAST | PAST | {"knee_bend_deg": (30, 40)}),
        # Upright for sure, calm for sure, past perhaps.
        (U, UPRIGHT | CALM | {"overrun_m": (0.8, 1.2)}),
        # Exactly on the limits: a limit itself is still good.
        (C, UPRIGHT | FAST | PAST | {"knee_bend_deg": (35, 41)}),
        (U, UPRIGHT | FAST | PAST | {"knee_bend_deg": (29, 35)}),
        (C, UPRIGHT | FAST | PAST | {"trunk_lean_deg": (20, 20)}),
        (C, UPRIGHT | SHORT | {"arrival_speed_mps": (2.1, 2.5)}),
        (C, UPRIGHT | CALM | {"overrun_m": (0.6, 1.0)}),
        # Each of the two is 5 % likely, one of them nearly 10 %.
        (U, UPRIGHT | {"arrival_speed_mps": (2.1, 2.5), "overrun_m": (0.6, 1.0)}),
        # Each of the three is a little over 95 % likely, all of them 87 %.
        (
            U,
            PAST
            | {
                "knee_bend_deg": (24, 34.9),
                "trunk_lean_deg": (9, 19.9),
                "arrival_speed_mps": (2.51, 3.5),
                "overrun_m": (0, 0.2),
            },
        ),
        # Perhaps not too fast and perhaps not past him, but surely one of the two...
        (F, UPRIGHT | {"arrival_speed_mps": (2.3, 4.5), "overrun_m": (0.8, 2.0)}),
        # ...which the speed alone does not say.
        (U, UPRIGHT | {"arrival_speed_mps": (2.3, 4.5), "overrun_m": None}),
        (U, UPRIGHT | {"arrival_speed_mps": (2.3, 4.5), "overrun_m": (0.0, 1.1)}),
        # Legs, chest and speed may each be on the bad side; all three are not.
        (
            C,
            {"knee_bend_deg": (33, 45), "trunk_lean_deg": (18, 30), "arrival_speed_mps": (2.0, 2.6)}
            | SHORT,
        ),
    ],
)
def test_upright_run_out(expected, measures):
    assert call("upright_run_out", rep(**measures)).call is expected


@pytest.mark.parametrize(
    ("rule", "expected", "measures"),
    [
        ("ran_past", F, {"overrun_m": (1.01, 1.5)}),
        ("ran_past", C, {"overrun_m": (0.2, 1.0)}),
        ("never_braked", F, FAST | {"braking_distance_m": (0.1, 0.6)}),
        # A short stop that works: he arrives under control, whatever the distance.
        ("never_braked", C, CALM | {"braking_distance_m": (0.1, 0.6)}),
        # Braked long, yet arrives fast: he did brake.
        ("never_braked", C, FAST | {"braking_distance_m": (1.5, 2.5)}),
        # Where braking began cannot be said of one who never braked; what he kept can.
        ("never_braked", F, FAST | {"braking_distance_m": (0, 3.4), "speed_kept": (0.88, 1.0)}),
        ("never_braked", U, FAST | {"braking_distance_m": (0, 3.4), "speed_kept": (0.7, 0.9)}),
        ("never_braked", U, FAST | {"braking_distance_m": (0, 3.4), "speed_kept": (0.5, 0.8)}),
        ("never_braked", C, CALM | {"braking_distance_m": None, "speed_kept": (0.88, 1.0)}),
        ("late_breakdown", F, {"knee_bend_deg": (20, 32), "late_knee_bend_deg": (50, 62)}),
        # In his stance on time.
        ("late_breakdown", C, {"knee_bend_deg": (50, 62), "late_knee_bend_deg": (50, 62)}),
        # Never in it: the next rule, not this one.
        ("late_breakdown", C, {"knee_bend_deg": (20, 32), "late_knee_bend_deg": (20, 32)}),
        ("no_breakdown", F, {"knee_bend_deg": (20, 32), "late_knee_bend_deg": (20, 32)}),
        ("no_breakdown", C, {"knee_bend_deg": (20, 32), "late_knee_bend_deg": (45, 57)}),
        # The film ends at arrival: late and never look the same.
        ("no_breakdown", U, {"knee_bend_deg": (20, 32), "late_knee_bend_deg": None}),
        ("late_breakdown", U, {"knee_bend_deg": (20, 32), "late_knee_bend_deg": None}),
        # Either may be just under 45, but hardly both; and if the later one is not, he was on time.
        ("no_breakdown", C, {"knee_bend_deg": (44.5, 64.5), "late_knee_bend_deg": (40, 60)}),
        ("late_breakdown", C, {"knee_bend_deg": (44.5, 64.5), "late_knee_bend_deg": (40, 60)}),
        ("no_breakdown", U, {"knee_bend_deg": (44.5, 64.5), "late_knee_bend_deg": (20, 40)}),
        (
            "never_braked",
            C,
            {
                "arrival_speed_mps": (1.9, 2.55),
                "speed_kept": (0.6, 0.9),
                "braking_distance_m": (1.0, 2.2),
            },
        ),
        (
            "never_braked",
            U,
            {
                "arrival_speed_mps": (1.9, 2.55),
                "speed_kept": (0.7, 1.0),
                "braking_distance_m": (0.0, 1.0),
            },
        ),
        ("high_hips", F, {"hip_drop": (0.02, 0.11)}),
        ("high_hips", C, {"hip_drop": (0.12, 0.2)}),
        ("bent_over", F, {"trunk_lean_deg": (51, 60)}),
        ("bent_over", C, {"trunk_lean_deg": (42, 50)}),
        ("stiff_trunk", F, {"trunk_lean_deg": (8, 19)}),
        ("hands_in", F, {"hand_reach": (0.1, 0.3)}),
        ("hands_in", U, {"hand_reach": (0.3, 0.5)}),
        ("narrow_base", F, {"base_width": (0.9, 1.2)}),
        ("narrow_base", C, {"base_width": (1.6, 2.2)}),
        # Kept between him and the goal, level with him, beaten.
        ("beaten_goal_side", C, {"goal_side_m": (0.8, 1.4)}),
        ("beaten_goal_side", C, {"goal_side_m": (0.0, 0.6)}),
        ("beaten_goal_side", U, {"goal_side_m": (-0.2, 0.4)}),
        ("beaten_goal_side", F, {"goal_side_m": (-1.4, -0.8)}),
        ("beaten_goal_side", U, {"goal_side_m": None}),
        # More across the attacker than at him, to either side.
        ("too_flat", F, {"heading_deg": (46, 70)}),
        ("too_flat", F, {"heading_deg": (-70, -46)}),
        ("too_flat", C, {"heading_deg": (-45, 45)}),
        ("too_flat", U, {"heading_deg": (30, 60)}),
        ("too_flat", U, {"heading_deg": None}),
    ],
)
def test_other_rules(rule, expected, measures):
    assert call(rule, rep(**measures)).call is expected


@pytest.mark.parametrize(
    ("expected", "offset"),
    [
        (F, (-0.2, 0.25)),
        (C, (0.3, 0.6)),
        (C, (-0.6, -0.3)),
        (U, (0.1, 0.5)),
        (U, None),
    ],
)
def test_giving_both_ways_is_a_fault_under_every_plan(expected, offset):
    measures = rep(approach_offset_m=offset)
    for plan in Plan:
        assert call("straight_up", measures, plan, None, "top-left").call is expected
    # Without a plan nobody has asked for a side, and a good breakdown stays one.
    found = call("straight_up", measures, None, None, "top-left")
    assert (found.call, found.reason) == (U, "No plan is set for this spot.")
    assert judge(measures, LIMITS, asked(None, None, "top-left")).call is C


TOPSIDE, ALLEY_SIDE = (0.4, 0.9), (-0.9, -0.4)


@pytest.mark.parametrize(
    ("expected", "offset", "plan", "hand", "spot"),
    [
        # Take away topside, and he comes from topside.
        (C, TOPSIDE, Plan.ALLEY, None, "top-left"),
        (F, ALLEY_SIDE, Plan.ALLEY, None, "top-left"),
        (F, TOPSIDE, Plan.MIDDLE, None, "side-right"),
        (C, ALLEY_SIDE, Plan.MIDDLE, None, "side-right"),
        # Straight up is not the wrong side; it has its own rule.
        (C, (-0.3, 0.2), Plan.ALLEY, None, "side-left"),
        (U, (-0.5, 0.2), Plan.ALLEY, None, "side-left"),
        # A right-hander left of the goal has his strong hand towards the alley...
        (C, ALLEY_SIDE, Plan.WEAK_HAND, "right", "side-left"),
        (F, TOPSIDE, Plan.WEAK_HAND, "right", "top-left"),
        # ...and right of the goal towards the middle.
        (C, TOPSIDE, Plan.WEAK_HAND, "right", "top-right"),
        (F, TOPSIDE, Plan.WEAK_HAND, "left", "side-right"),
        # At the top he faces the goal, his right hand on the defender's left, which is negative.
        (C, ALLEY_SIDE, Plan.WEAK_HAND, "right", "top"),
        (F, ALLEY_SIDE, Plan.WEAK_HAND, "left", "top"),
        # What the coach has not said cannot be judged.
        (U, TOPSIDE, None, None, "top"),
        (U, TOPSIDE, Plan.ALLEY, None, None),
        (U, TOPSIDE, Plan.WEAK_HAND, None, "top"),
        (U, TOPSIDE, Plan.ALLEY, "right", "top"),
        (U, TOPSIDE, Plan.WEAK_HAND, "right", "outside"),
    ],
)
def test_wrong_side(expected, offset, plan, hand, spot):
    found = call("wrong_side", rep(approach_offset_m=offset), plan, hand, spot)
    assert found.call is expected
    not_asked = found.reason.partition(" ")[0] not in ("Approach", "Too")
    assert bool(found.fix) == (expected is F or not_asked)


def test_the_wanted_side_says_what_is_missing():
    assert asked(None, "right", "top").wanted == "no plan is set for this spot"
    assert asked(Plan.WEAK_HAND, None, "top").wanted == "the attacker's strong hand is not stated"
    unknown = "beside a goal, so its side of the field is not known"
    no_goal = Layout({"top-left": (-8.0, 12.5)}, cones=frozenset({"top-left"}))
    for without in (
        asked(Plan.ALLEY, None, "top-left", no_goal),
        asked(Plan.ALLEY, None, "somewhere"),
        asked(Plan.WEAK_HAND, "right", "top-left", Layout()),
    ):
        assert without.wanted == f"the layout does not place the spot {without.spot!r} {unknown}"
    found = call("wrong_side", rep(approach_offset_m=TOPSIDE), Plan.ALLEY, None, "somewhere")
    assert found.call is U
    assert "its side of the field is not known" in found.reason
    assert "in its layout the goal and the spot's cone" in found.fix


@pytest.mark.parametrize(
    ("name", "place", "side_like"),
    [
        ("north", (0.5, 14.0), "top"),
        ("west", (-11.0, 5.0), "side-left"),
        ("top", (9.0, 11.0), "top-right"),  # the name is the coach's own business
        ("by the right bench", (-8.0, 10.0), "top-left"),
    ],
)
def test_the_side_is_where_the_cone_stands_whatever_it_is_called(name, place, side_like):
    own = Layout({name: place}, goal=True, cones=frozenset({name}))
    for plan, hand in ((Plan.ALLEY, None), (Plan.MIDDLE, None), (Plan.WEAK_HAND, "right")):
        usual = asked(plan, hand, side_like)
        assert asked(plan, hand, name, own).wanted == usual.wanted
        for offset in (TOPSIDE, ALLEY_SIDE):
            measures = rep(approach_offset_m=offset)
            verdict = judge(measures, LIMITS, asked(plan, hand, name, own))
            assert verdict == judge(measures, LIMITS, usual)
            words = side_taken(measures, LIMITS, asked(plan, hand, name, own)).words
            assert words == side_taken(measures, LIMITS, usual).words


def test_reasons_carry_the_figures():
    found = call("upright_run_out", rep(**UPRIGHT, **FAST, **SHORT))
    assert found.reason == (
        "Knee bend 14° (8–20°), should be at least 45°; "  # noqa: RUF001
        "trunk lean 7° (3–11°), should be at least 20°; "  # noqa: RUF001
        "arrival speed 5.0 m/s (4.8–5.2 m/s), should be at most 2.5 m/s."  # noqa: RUF001
    )
    assert call("hands_in", rep(hand_reach=(0.3, 0.5))).reason == (
        "Too close to call: hands out 0.40 (0.30–0.50) reaches across 0.45. "  # noqa: RUF001
        "Watch it and decide."
    )
    assert call("ran_past", rep(overrun_m=None)).reason == (
        "Overrun not measured (the legs are out of the picture)."
    )
    side = call("wrong_side", rep(approach_offset_m=(-0.9, -0.4)), Plan.ALLEY, None, "top-left")
    assert side.reason == "Approach side −0.7 m (−0.9 to −0.4 m), should be at least +0.3 m."  # noqa: RUF001


@pytest.mark.parametrize(
    ("key", "low", "high", "limit", "said"),
    [
        ("overrun_m", 1.02, 1.6, "at most 1.0 m", "(1.02–1.60 m)"),  # noqa: RUF001
        ("overrun_m", 1.002, 1.6, "at most 1.0 m", "(1.002–1.600 m)"),  # noqa: RUF001
        ("overrun_m", 1.2, 1.6, "at most 1.0 m", "(1.2–1.6 m)"),  # noqa: RUF001
        ("goal_side_m", -0.9, -0.02, "at least 0.0 m", "(−0.90 to −0.02 m)"),  # noqa: RUF001
    ],
)
def test_figures_do_not_contradict_a_call(
    key: str, low: float, high: float, limit: str, said: str
) -> None:
    """A bar that ends just beyond a limit is written with the digits that show it."""
    rule = {"overrun_m": "ran_past", "goal_side_m": "beaten_goal_side"}[key]
    found = call(rule, rep(**{key: (low, high)}))
    assert found.call is Call.FLAGGED
    assert limit in found.reason and said in found.reason


def test_what_several_measures_settle_together_is_said_so():
    """0.911 and 0.863 by tables of the normal distribution: 1 - 0.089 x 0.137 = 0.988."""
    found = call(
        "upright_run_out", rep(**UPRIGHT, arrival_speed_mps=(2.3, 4.5), overrun_m=(0.8, 2))
    )
    assert found.reason == (
        "Knee bend 14° (8–20°), should be at least 45°; "  # noqa: RUF001
        "trunk lean 7° (3–11°), should be at least 20°; "  # noqa: RUF001
        "arrival speed 3.4 m/s (2.3–4.5 m/s) reaches across 2.5 m/s; "  # noqa: RUF001
        "overrun 1.4 m (0.8–2.0 m) reaches across 1.0 m. "  # noqa: RUF001
        "Taken together a fault is 99 % likely."
    )
    vague = rep(knee_bend_deg=(24, 34.9), trunk_lean_deg=(9, 19.9), arrival_speed_mps=(2.51, 3.5))
    found = call("upright_run_out", vague)
    assert found.reason.startswith(
        "Too close to call: knee bend 29° (24.0–34.9°), should be at least 45°"  # noqa: RUF001
    )
    assert found.reason.endswith("Taken together a fault is 87 % likely. Watch it and decide.")
    clear = rep(knee_bend_deg=(44.5, 64.5), late_knee_bend_deg=(40, 60))
    assert call("no_breakdown", clear).reason.endswith("Taken together a fault is 1 % likely.")
    assert judge(clear, LIMITS, asked()).call is C


def test_value_and_limit_stand_in_the_units_of_the_practice():
    """10 mph is 4.4704 m/s and a yard 0.9144 m (international yard and pound agreement, 1959)."""
    fast = rep(arrival_speed_mps=(4.4704, 4.4704), speed_kept=(0.9, 1), overrun_m=(1.8288, 1.8288))
    wanted = Asked(units=Units.YARDS)
    reasons = {f.rule: f.reason for f in judge(fast, LIMITS, wanted).findings}
    assert reasons["ran_past"] == "Overrun 2.0 yd (2.0–2.0 yd), should be at most 1.1 yd."  # noqa: RUF001
    assert "arrival speed 10.0 mph" in reasons["never_braked"].lower()
    assert "m/s" not in " ".join(reasons.values())
    # A reason kept beside the measures is metric in the record.
    far = rep() | {"overrun_m": missing("overrun_m", "he is never within 1.8 m of anybody")}
    reasons = {f.rule: f.reason for f in judge(far, LIMITS, wanted).findings}
    assert reasons["ran_past"] == "Overrun not measured (he is never within 2.0 yd of anybody)."


def test_every_rule_has_one_name_and_no_two_are_alike():
    table = rules(LIMITS, Asked())
    names = [rule_name(rule.key) for rule in table]
    assert names == [rule.fault for rule in table]
    assert len(set(names)) == len(names)
    assert not [rule.key for rule in table if rule_name(rule.key) == rule.key.replace("_", " ")]
    # The chest and the approach are not to be taken for each other.
    assert rule_name("stiff_trunk") == "Chest straight up"
    assert "straight" not in rule_name("straight_up").lower()


def test_the_rep_as_a_whole():
    good = judge(make_measures("breakdown"), LIMITS, asked(Plan.ALLEY, None, "top-left"))
    assert (good.call, good.flags) == (C, ())
    assert good.headline == "Broken down and under control: knee bend 58° (52–64°)."  # noqa: RUF001

    bad = judge(make_measures("upright"), LIMITS, asked(Plan.ALLEY, None, "top-left"))
    assert bad.call is F
    assert bad.flags[0].rule == "upright_run_out"
    assert bad.headline.startswith("Ran out upright: Knee bend 17°")

    open_one = judge(make_measures("unclear"), LIMITS, asked(Plan.ALLEY, None, "top-left"))
    assert (open_one.call, open_one.flags) == (U, ())
    assert open_one.headline.startswith("Too close to call: knee bend 40°")
    hidden = judge(rep(knee_bend_deg=None), LIMITS, asked(Plan.ALLEY, None, "top-left"))
    assert hidden.headline.startswith("Can't tell: Knee bend not measured (the legs are out")

    # Without a plan the side stays open, but a good stance is still a good rep.
    assert judge(make_measures("breakdown"), LIMITS, Asked()).call is C


def test_a_quantity_that_is_not_on_record_stays_open():
    """A record made before posecheck looked at it: judged all the same, and said so."""
    measures = make_measures("breakdown")
    del measures["goal_side_m"]
    found = call("beaten_goal_side", measures)
    assert found.call is U
    assert found.reason == (
        "Goal side not measured (the clip was measured before this was looked at; check it again)."
    )


def test_a_new_threshold_changes_the_call_without_new_measures():
    measures = make_measures("breakdown")
    assert judge(measures, LIMITS, Asked()).call is C
    strict = Thresholds(min_knee_bend_deg=70.0)
    rules = [finding.rule for finding in judge(measures, strict, Asked()).flags]
    assert rules == ["no_breakdown"]


calls = st.sampled_from(list(Call))


@given(calls, calls, calls)
def test_kleene_logic(a, b, c):
    assert negation(negation(a)) is a
    for combine in (conjunction, disjunction):
        assert combine(a, b) is combine(b, a)
        assert combine(a, combine(b, c)) is combine(combine(a, b), c)
        assert combine(a, a) is a
    assert conjunction(a, F) is a
    assert disjunction(a, C) is a
    assert conjunction(a, C) is C
    assert disjunction(a, F) is F
    assert conjunction(a, disjunction(a, b)) is a
    assert conjunction(a, disjunction(b, c)) is disjunction(conjunction(a, b), conjunction(a, c))
    assert negation(conjunction(a, b)) is disjunction(negation(a), negation(b))


@given(calls, calls)
def test_cant_tell_never_settles_what_either_answer_could_change(a, b):
    # An open answer must cover both of what it may turn out to be.
    for combine in (conjunction, disjunction):
        outcomes = {combine(a_, b_) for a_ in settled(a) for b_ in settled(b)}
        assert combine(a, b) is (outcomes.pop() if len(outcomes) == 1 else U)


def settled(call):
    return (F, C) if call is U else (call,)
