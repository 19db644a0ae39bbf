"""How one player closes on another: from the distance between two over time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.players.tuning import RUN_MIDDLE


@dataclass(frozen=True)
class Closing:
    """How a gap closes until arrival.

    Attributes:
        by: how much nearer they come, in the gap's unit.
        speed: over the middle of the run, the gap's unit a second.
        leaves: the frame in which the gap is widest, where the run begins.
        run_s: start and end of the run in seconds, had all of it been as fast as its middle. It
            leaves out a wait before the run and creeping up on the other after it.
    """

    by: float
    speed: float
    leaves: int
    run_s: tuple[float, float]


def arrival_frame(gap: FloatArray) -> int | None:
    """The frame at which a run that closes a gap ``(n,)`` is over; None when the two are hardly
    ever seen together."""
    both = np.flatnonzero(np.isfinite(gap))
    return int(both[np.argmin(gap[both])]) if len(both) >= 2 else None


def closing(gap: FloatArray, arrival: int, t_s: FloatArray) -> Closing:
    """How a gap ``(n,)`` closes until the frame of arrival."""
    before = gap[: arrival + 1]
    widest = int(np.nanargmax(before))
    by = float(before[widest] - before[arrival])
    if by <= 0:
        return Closing(0.0, 0.0, widest, (float(t_s[widest]), float(t_s[arrival])))
    left = np.where(np.isfinite(before), (before - before[arrival]) / by, np.nan)
    leaves = int(np.flatnonzero(left >= RUN_MIDDLE[0])[-1])
    there = leaves + int(np.flatnonzero(left[leaves:] <= RUN_MIDDLE[1])[0])
    speed = float((before[leaves] - before[there]) / (t_s[there] - t_s[leaves]))
    run_s = (
        float(t_s[leaves]) - (before[widest] - before[leaves]) / speed,
        float(t_s[there]) + (before[there] - before[arrival]) / speed,
    )
    return Closing(by, speed, widest, (float(run_s[0]), float(run_s[1])))
