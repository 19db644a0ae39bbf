"""The team plan: where the defence forces the attacker from a spot."""

from __future__ import annotations

from enum import StrEnum


class Plan(StrEnum):
    """Where the defence forces the attacker. Common practice, no source."""

    ALLEY = "alley"
    """Take away topside, force him down the alley."""
    MIDDLE = "middle"
    """Take away the alley, force him to the middle where help waits."""
    WEAK_HAND = "weak-hand"
    """Take away his strong-hand side, force him to his weak hand."""

    @property
    def where(self) -> str:
        """Where he is forced, as the practice's file, the pages and the terminal say it."""
        return _WHERE[self]

    @classmethod
    def written(cls) -> dict[str, Plan]:
        """What may be written in the practice's file: the words, or one word for short."""
        return {each.where: each for each in cls} | {each.value: each for each in cls}


_WHERE = {
    Plan.ALLEY: "down the alley",
    Plan.MIDDLE: "to the middle",
    Plan.WEAK_HAND: "to his weak hand",
}


def plan_words(plan: Plan) -> str:
    """A plan as a coach says it: "force him down the alley"."""
    return f"force him {plan.where}"
