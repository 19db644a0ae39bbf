"""How tall the players of a practice usually are, where it says what age they have or how tall."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from posecheck.practice.tuning import (
    ADULTS_M,
    HIGH_SCHOOL_M,
    OF_ONE_TEAM_SD_M,
    UNDER_10_M,
    UNDER_12_M,
    UNDER_14_M,
)


@dataclass(frozen=True)
class Stature:
    """What is believed of a player's stature, metres.

    Attributes:
        mean_m, sd_m: mean and standard deviation.
        known_by: where it comes from, in words; "" when nothing is known of the player.
    """

    mean_m: float
    sd_m: float
    known_by: str = ""


AGE_GROUPS: Mapping[str, Stature] = {
    name: Stature(*usual_m, f"as is usual for {name}")
    for name, usual_m in (
        ("under-10", UNDER_10_M),
        ("under-12", UNDER_12_M),
        ("under-14", UNDER_14_M),
        ("high school", HIGH_SCHOOL_M),
        ("adults", ADULTS_M),
    )
}
"""By the name that a practice states."""


def of_a_team(height_m: float) -> Stature:
    """Of one of several players who are about so tall, as their coach says."""
    return Stature(height_m, OF_ONE_TEAM_SD_M, "stated for all players")
