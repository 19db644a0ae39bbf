"""The team plan: which side the defence takes away at a spot."""

from __future__ import annotations

from enum import StrEnum


class Plan(StrEnum):
    """What the defence takes away at a spot. Common practice, no source."""

    ALLEY = "alley"
    """Take away topside, force down the side."""
    MIDDLE = "middle"
    """Take away the alley, force to the middle where help waits."""
    WEAK_HAND = "weak-hand"
    """Take away the attacker's strong-hand side."""
