"""What the practice asks of a defender in one clip: all of it that decides which side was wanted,
and the units in which it wants to read the answer.

Plain values, so that they can be kept beside the measures.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

from posecheck.maths.units import Units
from posecheck.practice.layout import Side
from posecheck.practice.notes import ClipNotes
from posecheck.practice.plan import Plan
from posecheck.practice.practice import Practice

NO_PLAN = "no plan is set for this spot"


@dataclass(frozen=True)
class Asked:
    """What decides the side a defender should take, and how figures are written.

    Attributes:
        plan: for the attacker's spot, None when none is set.
        strong_hand: the attacker's, "left" or "right", None when not stated.
        spot: where the attacker stood, None when not stated.
        side: of the field that the spot lies on, None when not known.
        units: in which sentences give figures.
    """

    plan: Plan | None = None
    strong_hand: str | None = None
    spot: str | None = None
    side: Side | None = None
    units: Units = Units.METRES

    @classmethod
    def of(cls, practice: Practice, notes: ClipNotes) -> Self:
        """What a practice asks in the clip that has these notes."""
        return cls(
            plan=None if notes.spot is None else practice.plan.get(notes.spot),
            strong_hand=None if notes.attacker is None else notes.attacker.strong_hand,
            spot=notes.spot,
            side=practice.layout.side_of(notes.spot),
            units=practice.units,
        )

    @property
    def wanted(self) -> int | str:
        """Which sign of the approach side the plan asks for, +1 or -1, or why that is not known.

        In the middle topside and alley do not exist, and only the strong hand decides.
        """
        if self.plan is None:
            return NO_PLAN
        if self.spot is None:
            return "the attacker's spot is not stated"
        if self.side is None:
            return (
                f"the layout does not place the spot {self.spot!r} beside a goal, so its side of "
                "the field is not known"
            )
        if self.plan is not Plan.WEAK_HAND:
            if self.side is Side.MIDDLE:
                return (
                    "at the top there is an alley on both sides, so only forcing him to his weak "
                    "hand names one"
                )
            return 1 if self.plan is Plan.ALLEY else -1
        if self.strong_hand is None:
            return "the attacker's strong hand is not stated"
        right = right_shoulder(self.side)
        return right if self.strong_hand == "right" else -right


def right_shoulder(side: Side) -> int:
    """On which sign of the approach side the attacker has his right shoulder.

    He faces the goal, so his right is on the alley side (-) left of the goal, on topside (+) right
    of it, and on the defender's left (-) in the middle.
    """
    return 1 if side is Side.RIGHT else -1
