"""The team plan as a small field: O at each spot, X where the defender wants to be, and an arrow
where the attacker is forced."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from markupsafe import Markup, escape

from posecheck.maths.arrays import FloatArray
from posecheck.pages.svg import svg
from posecheck.pages.tuning import (
    PLAN_ARROW_DEG,
    PLAN_ARROW_M,
    PLAN_DEFENDER_M,
    PLAN_MARGIN_M,
    PLAN_PX_PER_M,
)
from posecheck.practice.field import (
    CLOSEOUT_CONES,
    CREASE_RADIUS_US_M,
    GOAL_WIDTH_M,
    crease_radius_m,
)
from posecheck.practice.layout import Layout, Side, side_at
from posecheck.practice.plan import Plan


def plan_drawing(plan: Mapping[str, Plan], layout: Layout) -> Markup:
    """Draw the plan, the goal at the bottom.

    A spot that the layout does not place stands where the drill usually has it; one whose place is
    not known at all is left to the words. Where the plan names no side (weak hand; the top, where
    both sides are an alley) there is no arrow.

    Args:
        plan: by spot.
        layout: gives places.

    Returns:
        Empty when no spot has a place.
    """
    known = {**CLOSEOUT_CONES, **layout.points}
    places = {spot: np.array(known[spot]) for spot in plan if spot in known}
    if not places:
        return Markup("")
    crease_m = crease_radius_m(layout) or CREASE_RADIUS_US_M
    corners = np.array([*places.values(), (-crease_m, -crease_m), (crease_m, crease_m)])
    low, high = corners.min(axis=0) - PLAN_MARGIN_M, corners.max(axis=0) + PLAN_MARGIN_M
    width, height = (high - low) * PLAN_PX_PER_M

    def px(point: FloatArray) -> tuple[float, float]:
        x, y = (point - low) * PLAN_PX_PER_M
        return float(x), float(height - y)

    x, y = px(np.zeros(2))
    half = GOAL_WIDTH_M / 2 * PLAN_PX_PER_M
    parts = [
        f'<circle class="crease" cx="{x:.1f}" cy="{y:.1f}" r="{crease_m * PLAN_PX_PER_M:.1f}"/>',
        f'<path class="goal" d="M{x - half:.1f} {y:.1f}h{2 * half:.1f}"/>',
    ]
    for spot, place in places.items():
        x, y = px(place)
        parts.append(f'<text class="who" x="{x:.1f}" y="{y + 5:.1f}">O</text>')
        parts.append(f'<text x="{x:.1f}" y="{y - 11:.1f}">{escape(spot.replace("-", " "))}</text>')
        forced = forced_towards(plan[spot], place)
        if forced is None:
            parts.append(f'<text x="{x:.1f}" y="{y + 20:.1f}">{escape(_short(plan[spot]))}</text>')
            continue
        (a, b), (c, d) = px(place + 0.9 * forced), px(place + PLAN_ARROW_M * forced)
        parts.append(f'<path class="arrow" d="M{a:.1f} {b:.1f}L{c:.1f} {d:.1f}"/>')
        turn = np.degrees(np.arctan2(d - b, c - a))
        parts.append(
            f'<path class="head" d="M6 0L-4 -5L-4 5Z" '
            f'transform="translate({c:.1f} {d:.1f}) rotate({turn:.0f})"/>'
        )
        x, y = px(place + PLAN_DEFENDER_M * _turned(-place, _sign(plan[spot], place) * -30))
        parts.append(f'<text class="who" x="{x:.1f}" y="{y + 5:.1f}">X</text>')
    return svg("plan", float(width), float(height), "The plan from each spot", parts)


def forced_towards(plan: Plan, place: FloatArray) -> FloatArray | None:
    """The direction ``(2,)`` of length 1 in which a plan sends an attacker who stands at a place.

    None when the plan alone names none.
    """
    if plan is Plan.WEAK_HAND or side_at(place) is Side.MIDDLE:
        return None
    return _turned(-place, _sign(plan, place) * PLAN_ARROW_DEG)


def _sign(plan: Plan, place: FloatArray) -> int:
    """Which way round from the line to the goal: +1 counter-clockwise. The alley lies outside."""
    outside = -1 if side_at(place) is Side.LEFT else 1
    return outside if plan is Plan.ALLEY else -outside


def _turned(direction: FloatArray, degrees: float) -> FloatArray:
    angle = np.arctan2(direction[1], direction[0]) + np.radians(degrees)
    return np.array([np.cos(angle), np.sin(angle)])


def _short(plan: Plan) -> str:
    return {Plan.ALLEY: "alley", Plan.MIDDLE: "middle", Plan.WEAK_HAND: "weak hand"}[plan]
