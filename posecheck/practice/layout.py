"""Known points of the field as a practice lays them out: cones, goal, crease."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Point = tuple[float, float]


SPOTS = ("top", "top-left", "top-right", "side-left", "side-right")
"""Where attackers wait; left and right as the defender looks out from the goal."""


INSIDE = "inside"
"""The cone where the defender starts: a cone, but no spot."""


@dataclass(frozen=True)
class Layout:
    """Known points of the field.

    Metres from the middle of the goal line; x to the right looking out from the goal, y upfield.

    Attributes:
        points: name to position: cones, and with ``goal`` the posts and crease points.
        goal: True when the goal stands at the origin, so that sides can be told.
        cones: the names among ``points`` that are cones.
    """

    points: Mapping[str, Point] = field(default_factory=dict)
    goal: bool = False
    cones: frozenset[str] = frozenset()
