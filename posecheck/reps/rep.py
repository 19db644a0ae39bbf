"""One rep in time: when the defender leaves, brakes, arrives."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from posecheck.body import formulas as stance

RUN_MPS = 1.2
"""Faster than this for a while is moving off rather than shifting the feet."""
STILL_MPS = 0.5
"""Slower than this is near still: a standing player shifts his feet and estimates are noisy."""
SUSTAINED_S = 0.3
"""For a while: about one stride."""
WALK_MPS = 2.5
"""A movement that never gets faster than this is a walk or a jog back, no rep."""
MIN_APPROACH_M = 2.0
"""A rep closes at least this much of the distance; less is footwork around the attacker."""
BRAKING_SHARE = 0.95
"""Braking has begun once the speed has fallen for good below this share of its peak."""
AFTERMATH_S = 1.0
"""How long after arrival is looked at."""
MAX_GAP_S = 0.5
"""When a player is out of sight for longer, what he did meanwhile is unknown."""


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
        start_s: the defender leaves the inside (his speed passes 0.5 m/s).
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


def arrival_window(arrival_s: float) -> tuple[float, float]:
    """First and last moment of the stretch over which the stance at arrival is read."""
    return arrival_s - stance.BEFORE_ARRIVAL_S, arrival_s + stance.AFTER_ARRIVAL_S
