"""Known points of the field as a practice lays them out: cones, goal, crease."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from posecheck.maths.arrays import FloatArray
from posecheck.practice.tuning import TOP_WITHIN_RAD

Point = tuple[float, float]


SPOTS = ("top", "top-left", "top-right", "side-left", "side-right")
"""Where attackers wait; left and right as the defender looks out from the goal."""


INSIDE = "inside"
"""The cone where the defender starts: a cone, but no spot."""


class Side(StrEnum):
    """Which side of the goal's axis a place lies on, as the defender looks out from the goal."""

    LEFT = "left"
    MIDDLE = "middle"
    """On the axis or near it: the top."""
    RIGHT = "right"


def side_at(xy_m: Point | FloatArray) -> Side:
    """The side of a place ``(2,)`` on the field's axes, by its angle as seen from the goal."""
    x, y = float(xy_m[0]), float(xy_m[1])
    if abs(math.atan2(x, y)) <= TOP_WITHIN_RAD:
        return Side.MIDDLE
    return Side.LEFT if x < 0 else Side.RIGHT


@dataclass(frozen=True)
class Layout:
    """Known points of the field.

    Metres from the middle of the goal line; x to the right looking out from the goal, y upfield.

    Attributes:
        points: name to position: cones, and with ``goal`` the posts and crease points.
        goal: True when the goal stands at the origin, so that there are sides.
        cones: the names among ``points`` that are cones.
    """

    points: Mapping[str, Point] = field(default_factory=dict)
    goal: bool = False
    cones: frozenset[str] = frozenset()

    @property
    def spots(self) -> tuple[str, ...]:
        """Where attackers may wait: the cones but the inside one, or the usual five."""
        cones = tuple(name for name in self.points if name in self.cones and name != INSIDE)
        return cones or SPOTS

    def side_of(self, spot: str | None) -> Side | None:
        """The side a spot lies on, whatever it is called.

        None when it is not known: no spot is named, it has no place in the layout, or no goal
        stands there to look out from.
        """
        place = self.points.get(spot or "")
        return side_at(place) if self.goal and place is not None else None
