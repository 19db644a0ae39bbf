"""What is looked for in a rep: the table of rules, most serious first."""

from __future__ import annotations

from dataclasses import dataclass

from posecheck.judging.thresholds import Thresholds
from posecheck.measures.measure import Measure
from posecheck.measures.quantities import QUANTITY
from posecheck.practice.plan import Plan


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


@dataclass(frozen=True)
class Rule:
    """One thing looked for in a rep.

    Attributes:
        key: name in record and pages.
        condition: what makes it a fault; a sentence when nothing can be looked for.
        fault: what is seen, in a coach's words.
        fix: what to work on.
        core: True when a rep cannot be called clear without having judged it.
    """

    key: str
    condition: Condition | str
    fault: str
    fix: str
    core: bool = False


def rules(limits: Thresholds, side: int | str) -> tuple[Rule, ...]:
    """All rules, most serious first.

    Args:
        limits: thresholds.
        side: from :func:`wanted_side`.
    """

    def under(key: str, limit: float, wanted: float | None = None) -> Fault:
        least = limit if wanted is None else wanted
        return Fault(key, limit, True, f"at least {figure(key, least)}")

    def over(key: str, limit: float) -> Fault:
        return Fault(key, limit, False, f"at most {figure(key, limit)}")

    knees_up = under("knee_bend_deg", limits.min_knee_bend_deg)
    knees_up_later = under("late_knee_bend_deg", limits.min_knee_bend_deg)
    knees_bent_later = Fault(
        "late_knee_bend_deg", limits.min_knee_bend_deg, False, "that before arrival"
    )
    too_fast = over("arrival_speed_mps", limits.max_arrival_speed_mps)
    past = over("overrun_m", limits.max_overrun_m)
    offset, margin = "approach_offset_m", limits.min_side_offset_m
    to_line = f"at least {figure(offset, margin)} to one side"
    across = "heading_deg"
    lean = f"{figure(across, limits.min_heading_deg)} to {figure(across, limits.max_heading_deg)}"
    wrong_side: Condition | str
    if isinstance(side, str):
        wrong_side = side
    elif side > 0:
        wrong_side = Fault(offset, -margin, True, f"at least +{figure(offset, margin)}")
    else:
        wrong_side = Fault(offset, margin, False, f"at most {figure(offset, -margin)}")
    return (
        Rule(
            "upright_run_out",
            AllOf(
                (
                    under("knee_bend_deg", limits.upright_knee_bend_deg, limits.min_knee_bend_deg),
                    under(
                        "trunk_lean_deg", limits.upright_trunk_lean_deg, limits.min_trunk_lean_deg
                    ),
                    AnyOf((too_fast, past)),
                )
            ),
            "Ran out upright",
            "Start sitting down three steps before you get there: short steps, knees bent, "
            "chest over the knees.",
            core=True,
        ),
        Rule(
            "ran_past",
            past,
            "Ran past",
            "Aim to stop a stick's length short of him, and keep him in front of you.",
            core=True,
        ),
        Rule(
            "never_braked",
            AllOf((too_fast, under("braking_distance_m", limits.min_braking_distance_m))),
            "Did not slow down",
            "Sprint the first two thirds, then chop your feet: the last steps are brakes.",
            core=True,
        ),
        Rule(
            "late_breakdown",
            AllOf((knees_up, knees_bent_later)),
            "Broke down late",
            "The stance is there, it comes a moment late: be in it when you arrive.",
            core=True,
        ),
        Rule(
            "no_breakdown",
            AllOf((knees_up, knees_up_later)),
            "Stayed high",
            "Bend your knees until you could sit on a high stool, and stay there.",
            core=True,
        ),
        Rule(
            "beaten_goal_side",
            under("goal_side_m", limits.min_goal_side_m),
            "Beaten goal-side",
            "Get your feet down a step earlier, then open your hips and run with him: stay between "
            "him and the goal.",
        ),
        Rule(
            "high_hips",
            under("hip_drop", limits.min_hip_drop),
            "Hips high",
            "Let your hips sink as you arrive; low wins the first step.",
        ),
        Rule(
            "bent_over",
            over("trunk_lean_deg", limits.max_trunk_lean_deg),
            "Bent at the waist",
            "Get low with your knees and keep your chest up, weight under you.",
        ),
        Rule(
            "stiff_trunk",
            under("trunk_lean_deg", limits.min_trunk_lean_deg),
            "Chest straight up",
            "Bring your chest forward a little, nose over toes.",
        ),
        Rule(
            "hands_in",
            under("hand_reach", limits.min_hand_reach),
            "Hands in",
            "Put hands and stick out in front before you arrive.",
        ),
        Rule(
            "narrow_base",
            under("base_width", limits.min_base_width),
            "Feet close together",
            "Land wide, feet outside your shoulders.",
        ),
        Rule(
            "wrong_side",
            wrong_side,
            "Came from the wrong side",
            "Take away the side the plan names: shape your run so that you arrive on it.",
        ),
        Rule(
            "straight_up",
            AllOf((Fault(offset, margin, True, to_line), Fault(offset, -margin, False, to_line))),
            "Came straight up",
            "Do not give him both ways: arrive half a body to the side the plan takes away.",
        ),
        Rule(
            "too_flat",
            AnyOf(
                (
                    Fault(across, limits.min_heading_deg, True, lean),
                    Fault(across, limits.max_heading_deg, False, lean),
                )
            ),
            "Came in too flat",
            "Get on his line to the goal early, then come up at him: your last steps go at him, "
            "not across him.",
        ),
    )


def wanted_side(plan: Plan | None, strong_hand: str | None, spot: str | None) -> int | str:
    """Which sign of the approach side the plan asks for, +1 or -1, or why that is not known.

    At the top topside and alley do not exist, and only the strong hand can say which side is
    wanted.
    """
    if plan is None:
        return "no plan is set for this spot"
    if spot is None:
        return "the attacker's spot is not stated"
    if plan is not Plan.WEAK_HAND and spot != "top":
        return 1 if plan is Plan.ALLEY else -1
    if plan is not Plan.WEAK_HAND:
        return "at the top both sides are an alley, so only the plan weak-hand names a side"
    if strong_hand is None:
        return "the attacker's strong hand is not stated"
    right = right_shoulder(spot)
    if right is None:
        return f"the spot {spot!r} does not say on which side of the goal it lies"
    return right if strong_hand == "right" else -right


def right_shoulder(spot: str | None) -> int | None:
    """On which sign of the approach side the attacker has his right shoulder.

    He faces the goal, so his right is on the alley side (-) at a left spot, on topside (+) at a
    right spot, and on the defender's left (-) at the top. None when the spot does not say.
    """
    if spot is None or not (spot == "top" or spot.endswith(("left", "right"))):
        return None
    return 1 if spot.endswith("right") else -1


_STANCE_FILM = (
    "Film the defender at least a quarter of the picture's height tall, in focus and in good "
    "light, and keep his feet and hips in view until a second after he arrives."
)
GROUND_FILM = (
    "Mark four or more known points (cones, goal posts, crease) for this camera position, and "
    "keep both players in view until a second after arrival."
)
_SIDE_FILM = "Mark four or more known points with the goal among them, so that sides can be told."
_STANCE = ("knee_bend_deg", "late_knee_bend_deg", "trunk_lean_deg", "hip_drop", "hand_reach")
_AFTERMATH_FILM = (
    "Mark four or more known points with the goal among them, and keep both players in view until "
    "a second after arrival."
)
FILMING = dict.fromkeys((*_STANCE, "base_width"), _STANCE_FILM) | {
    "approach_offset_m": _SIDE_FILM,
    "heading_deg": _SIDE_FILM,
    "goal_side_m": _AFTERMATH_FILM,
}
"""By measure, what filming change would settle it; for the others ``GROUND_FILM``."""


def figure(key: str, value: float) -> str:
    """A value with its unit: 14°, 2.5 m/s."""
    unit = QUANTITY[key].unit
    return f"{digits(key, value)}{' ' if unit not in ('', '°') else ''}{unit}"


def digits(key: str, value: float) -> str:
    """A value as printed without unit; no minus sign before zero."""
    text = f"{value:.{QUANTITY[key].decimals}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "\N{MINUS SIGN}")


def span(measure: Measure) -> str:
    """An interval with its unit, 8 to 20°, joined by a dash where no minus sign is about.

    Raises:
        ValueError: the measure is missing.
    """
    if measure.low is None or measure.high is None:
        raise ValueError(f"{measure.key}: there is no interval ({measure.missing_because})")
    joint = " to " if measure.low < 0 else "\N{EN DASH}"
    return f"{digits(measure.key, measure.low)}{joint}{figure(measure.key, measure.high)}"
