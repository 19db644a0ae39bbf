"""One rep in time: when the defender leaves, brakes, arrives."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class ArrivalSource(StrEnum):
    """What the arrival moment was read from."""

    ATTACKER = "attacker"
    """First moment within reach of the attacker."""
    CONE = "cone"
    """First moment within reach of the named cone."""
    BRAKING = "braking"
    """End of braking: neither an attacker nor a cone was there to measure to."""


@dataclass(frozen=True)
class Rep:
    """The moments of one rep, seconds of clip time; None where the film does not show it.

    Attributes:
        start_s: the defender leaves the inside.
        braking_s: the defender starts to slow down from peak speed.
        arrival_s: within reach of the attacker.
        end_s: last moment looked at, one second after arrival or the film's end.
        source: what arrival was read from.
    """

    start_s: float
    braking_s: float | None
    arrival_s: float | None
    end_s: float
    source: ArrivalSource | None
