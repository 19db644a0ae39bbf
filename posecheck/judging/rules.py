"""What is looked for in a rep: the table of rules, most serious first."""

from __future__ import annotations

from dataclasses import dataclass

from posecheck.judging.asked import NO_PLAN, Asked
from posecheck.judging.thresholds import Good, Thresholds
from posecheck.measures.figures import figure
from posecheck.practice.layout import Side

HEADLINE_RULE = "upright_run_out"
"""The worst of all, which pages show first and accuracy counts."""


@dataclass(frozen=True)
class Fault:
    """A measure on the bad side of one limit.

    Attributes:
        key: of the measure.
        limit: itself still good.
        below: True when less than the limit is bad, False when more is.
        wants: what is wanted instead, in words.
    """

    key: str
    limit: float
    below: bool
    wants: str


@dataclass(frozen=True)
class AllOf:
    """All parts together."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True)
class AnyOf:
    """At least one of the parts."""

    parts: tuple[Condition, ...]


Condition = Fault | AllOf | AnyOf


def faults_of(condition: Condition) -> list[Fault]:
    """All that a condition looks at, in its order."""
    if isinstance(condition, Fault):
        return [condition]
    return [fault for part in condition.parts for fault in faults_of(part)]


@dataclass(frozen=True)
class Rule:
    """One thing looked for in a rep.

    Attributes:
        key: name in the record.
        condition: what makes it a fault; a sentence when nothing can be looked for.
        fix: what to work on.
        core: True when a rep cannot be called clear without having judged it.
    """

    key: str
    condition: Condition | str
    fix: str
    core: bool = False

    @property
    def fault(self) -> str:
        """What is seen, in a coach's words."""
        return rule_name(self.key)


_FAULT = {
    HEADLINE_RULE: "Ran out upright",
    "ran_past": "Ran past",
    "never_braked": "Did not slow down",
    "late_breakdown": "Broke down late",
    "no_breakdown": "Stayed high",
    "beaten_goal_side": "Beaten goal-side",
    "high_hips": "Hips high",
    "bent_over": "Bent at the waist",
    "stiff_trunk": "Chest straight up",
    "hands_in": "Hands in",
    "narrow_base": "Feet close together",
    "wrong_side": "Came from the wrong side",
    "straight_up": "Gave both ways",
    "too_flat": "Came in too flat",
}


def rule_name(key: str) -> str:
    """A rule as printed everywhere, from its key in the record: the fault in a coach's words.

    A rule that is not looked for any more goes by its key.
    """
    return _FAULT.get(key, key.replace("_", " ").capitalize())


def good_side(key: str, limits: Thresholds, asked: Asked) -> Good | None:
    """The good side of a quantity in a rep, None when nothing limits it there: of the approach by
    the plan, of any other by the thresholds alone."""
    if key != "approach_offset_m" or isinstance(asked.wanted, str):
        return limits.good(key)
    margin = limits.min_side_offset_m
    return Good(low=margin) if asked.wanted > 0 else Good(high=-margin)


def _side_words(asked: Asked) -> str:
    """Where the plan wants the defender to arrive; in the middle no side of the field is named."""
    if isinstance(asked.wanted, str) or asked.side in (None, Side.MIDDLE):
        return "on the side that the plan names"
    return "topside of him" if asked.wanted > 0 else "on his alley side"


def rules(limits: Thresholds, asked: Asked) -> tuple[Rule, ...]:
    """All rules, most serious first.

    Args:
        limits: thresholds.
        asked: which side is wanted, and in which units limits are written.
    """
    side = asked.wanted

    def shown(key: str, value: float) -> str:
        return figure(key, value, asked.units)

    def under(key: str, limit: float, wanted: float | None = None) -> Fault:
        least = limit if wanted is None else wanted
        return Fault(key, limit, True, f"at least {shown(key, least)}")

    def over(key: str, limit: float) -> Fault:
        return Fault(key, limit, False, f"at most {shown(key, limit)}")

    knees_up = under("knee_bend_deg", limits.min_knee_bend_deg)
    knees_up_later = under("late_knee_bend_deg", limits.min_knee_bend_deg)
    knees_bent_later = Fault(
        "late_knee_bend_deg", limits.min_knee_bend_deg, False, "there on arrival"
    )
    too_fast = over("arrival_speed_mps", limits.max_arrival_speed_mps)
    braked_short = under("braking_distance_m", limits.min_braking_distance_m)
    past = over("overrun_m", limits.max_overrun_m)
    offset, margin = "approach_offset_m", limits.min_side_offset_m
    to_line = f"at least {shown(offset, margin)} to one side"
    across = "heading_deg"
    lean = f"{shown(across, limits.min_heading_deg)} to {shown(across, limits.max_heading_deg)}"
    # A coach who has set no plan has not asked for a side.
    both_ways: Condition | str = NO_PLAN
    if asked.plan is not None:
        both_ways = AllOf(
            (Fault(offset, margin, True, to_line), Fault(offset, -margin, False, to_line))
        )
    wrong_side: Condition | str
    if isinstance(side, str):
        wrong_side = side
    elif side > 0:
        wrong_side = Fault(offset, -margin, True, f"at least +{shown(offset, margin)}")
    else:
        wrong_side = Fault(offset, margin, False, f"at most {shown(offset, -margin)}")
    return (
        Rule(
            HEADLINE_RULE,
            AllOf(
                (
                    under("knee_bend_deg", limits.upright_knee_bend_deg, limits.min_knee_bend_deg),
                    under(
                        "trunk_lean_deg", limits.upright_trunk_lean_deg, limits.min_trunk_lean_deg
                    ),
                    AnyOf((too_fast, past)),
                )
            ),
            "Start sitting down three steps before you get there: short steps, knees bent, "
            "chest over the knees.",
            core=True,
        ),
        Rule(
            "ran_past",
            past,
            "Aim to stop a stick's length short of him, and keep him in front of you.",
            core=True,
        ),
        Rule(
            "never_braked",
            AllOf((too_fast, AnyOf((over("speed_kept", limits.max_speed_kept), braked_short)))),
            "Sprint the first two thirds, then chop your feet: the last steps are brakes.",
            core=True,
        ),
        Rule(
            "late_breakdown",
            AllOf((knees_up, knees_bent_later)),
            "The stance is there, it comes a moment late: be in it when you arrive.",
            core=True,
        ),
        Rule(
            "no_breakdown",
            AllOf((knees_up, knees_up_later)),
            "Bend your knees until you could sit on a high stool, and stay there.",
            core=True,
        ),
        Rule(
            "beaten_goal_side",
            under("goal_side_m", limits.min_goal_side_m),
            "Get your feet down a step earlier, then open your hips and run with him: stay between "
            "him and the goal.",
        ),
        Rule(
            "high_hips",
            under("hip_drop", limits.min_hip_drop),
            "Let your hips sink as you arrive; low wins the first step.",
        ),
        Rule(
            "bent_over",
            over("trunk_lean_deg", limits.max_trunk_lean_deg),
            "Get low with your knees and keep your chest up, weight under you.",
        ),
        Rule(
            "stiff_trunk",
            under("trunk_lean_deg", limits.min_trunk_lean_deg),
            "Bring your chest forward a little, nose over toes.",
        ),
        Rule(
            "hands_in",
            under("hand_reach", limits.min_hand_reach),
            "Put hands and stick out in front before you arrive.",
        ),
        Rule(
            "narrow_base",
            under("base_width", limits.min_base_width),
            "Land wide, feet outside your shoulders.",
        ),
        Rule(
            "wrong_side",
            wrong_side,
            f"Arrive {_side_words(asked)}: shape your run for the side that sends him where the "
            "plan wants him.",
        ),
        Rule(
            "straight_up",
            both_ways,
            "Do not give him both ways: arrive half a body to one side, the one that sends "
            "him where the plan wants him.",
        ),
        Rule(
            "too_flat",
            AnyOf(
                (
                    Fault(across, limits.min_heading_deg, True, lean),
                    Fault(across, limits.max_heading_deg, False, lean),
                )
            ),
            "Get on his line to the goal early, then come up at him: your last steps go at him, "
            "not across him.",
        ),
    )
