"""One rep in time: when the defender leaves, brakes, arrives."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from posecheck.reps.tuning import AFTER_ARRIVAL_S, BEFORE_ARRIVAL_S


class ArrivalSource(StrEnum):
    """What the moment of arrival was read from."""

    ATTACKER = "attacker"
    """First moment within reach of the attacker."""
    CONE = "cone"
    """First moment within reach of the named cone."""
    BRAKING = "braking"
    """End of braking: neither an attacker nor a cone was there to measure to."""
    STATED = "stated"
    """The coach has said when it is."""


@dataclass(frozen=True)
class Rep:
    """The moments of one rep, seconds of clip time; None where the film does not show one.

    Attributes:
        start_s: the defender leaves the inside (his speed passes 0.5 m/s).
        braking_s: the defender starts to slow down from peak speed.
        arrival_s: within reach of the attacker.
        end_s: last moment of the rep, one second after arrival, seen or expected, or the film's
            end.
        source: what arrival was read from.
        expected_s: of an arrival that the film does not show, because the defender is lost to sight
            at his run shortly before: when he would be within reach had he gone on as last seen.
            It says when the rep is; nothing is measured at it.
    """

    start_s: float
    braking_s: float | None
    arrival_s: float | None
    end_s: float
    source: ArrivalSource | None
    expected_s: float | None = None

    @property
    def about_s(self) -> float | None:
        """Arrival as it is seen, else as it is expected."""
        return self.expected_s if self.arrival_s is None else self.arrival_s


def arrival_window(arrival_s: float) -> tuple[float, float]:
    """First and last moment of the stretch over which the stance at arrival is read."""
    return arrival_s - BEFORE_ARRIVAL_S, arrival_s + AFTER_ARRIVAL_S
