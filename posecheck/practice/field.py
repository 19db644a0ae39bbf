"""Known points of the field: goal, crease, and the cones of common drills.

Metres from the middle of the goal line, x to the right looking out from the goal, y upfield;
"left" and "right" are the defender's, looking out.

Dimensions, from memory of the books named:

- Goal: 6 ft wide and 6 ft high between the pipes. NCAA Men's Lacrosse Rules, Rule 1 (goals);
  the same in NFHS Boys Lacrosse Rules, Rule 1, and in World Lacrosse's rules (1.83 m).
- Crease: a circle about the middle of the goal line, radius 9 ft. NCAA Men's Lacrosse Rules,
  Rule 1 (goal crease); NFHS Boys Lacrosse Rules, Rule 1. World Lacrosse's unified field has 3 m.
- Lines: the field is 60 yd wide; the end line is 15 yd behind the goal line, the restraining line
  20 yd before it. NCAA Men's Lacrosse Rules, Rule 1 (the field).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from posecheck.maths.units import FOOT_M, YARD_M
from posecheck.practice.layout import Layout, Point
from posecheck.practice.tuning import BEHIND_CONE_M

GOAL_WIDTH_M = 6 * FOOT_M
"""Source: rule book, NCAA Men's Lacrosse Rules, Rule 1 (from memory)"""
GOAL_HEIGHT_M = 6 * FOOT_M
"""Source: rule book, NCAA Men's Lacrosse Rules, Rule 1 (from memory)"""
CREASE_RADIUS_US_M = 9 * FOOT_M
"""Source: rule book, NCAA Men's Lacrosse Rules, Rule 1 (from memory)"""
CREASE_RADIUS_WORLD_M = 3.0
"""Source: rule book, World Lacrosse, unified field (from memory)"""

SIDELINE_M = 30 * YARD_M
"""From the goal's axis.

Source: rule book, NCAA Men's Lacrosse Rules, Rule 1 (from memory)
"""
END_LINE_M = -15 * YARD_M
"""From the goal line.

Source: rule book, NCAA Men's Lacrosse Rules, Rule 1 (from memory)
"""
RESTRAINING_LINE_M = 20 * YARD_M
"""From the goal line.

Source: rule book, NCAA Men's Lacrosse Rules, Rule 1 (from memory)
"""

CLOSEOUT_CONES: dict[str, Point] = {
    "inside": (0.0, 3.5),
    "top": (0.0, 15.0),
    "top-left": (-8.0, 12.5),
    "top-right": (8.0, 12.5),
    "side-left": (-11.5, 4.5),
    "side-right": (11.5, 4.5),
}
"""Cones of the closeout drill: where the defender starts, and the five spots, 9 to 12 m from him.

Source: common practice
"""


TWO_CONES: dict[str, Point] = {"inside": (0.0, 3.5), "top": (0.0, 13.5)}
"""Cones of a plain straight run of 10 m (11 yd).

Source: common practice
"""


def layout_points(crease_radius_m: float = CREASE_RADIUS_US_M) -> dict[str, Point]:
    """Points that the field itself offers as marks.

    Args:
        crease_radius_m: 9 ft under US rules, 3 m on the unified field.

    Returns:
        Name to position: bases of the two goal posts, and the crease circle's ends on the goal
        line and its point furthest upfield.
    """
    return {
        "goal-left": (-GOAL_WIDTH_M / 2, 0.0),
        "goal-right": (GOAL_WIDTH_M / 2, 0.0),
        "crease-left": (-crease_radius_m, 0.0),
        "crease-right": (crease_radius_m, 0.0),
        "crease-top": (0.0, crease_radius_m),
    }


def crease_radius_m(layout: Layout) -> float | None:
    """How far the crease of a layout reaches from the goal's middle, None where there is none."""
    top = layout.points.get("crease-top")
    return top[1] if layout.goal and top is not None else None


def closeout_layout(crease_radius_m: float = CREASE_RADIUS_US_M) -> Layout:
    """The closeout drill in front of a goal: field points, the inside cone and the five spots."""
    return Layout(
        points=layout_points(crease_radius_m) | CLOSEOUT_CONES,
        goal=True,
        cones=frozenset(CLOSEOUT_CONES),
    )


def waiting_at(cone_xy_m: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """``(2,)`` where the hips are of an attacker who waits at a cone ``(2,)`` before the goal."""
    out = cone_xy_m / np.linalg.norm(cone_xy_m)
    return np.asarray(cone_xy_m + BEHIND_CONE_M * out)


PRESETS: dict[str, dict[str, Point]] = {"five-spots": CLOSEOUT_CONES, "two-cones": TWO_CONES}
"""Cones of ready-made layouts, all before a goal, by the name that practice.toml may give.

Source: definition
"""
