"""How a defender runs out and brakes: speeds and distances from ground positions.

Pure functions of arrays. A moment that was not seen (NaN) gives NaN, never a plausible number.
"""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.tuning import ROUNDING_S
from posecheck.measures.tuning import BRAKING_OVER_S


def at_moment(t_s: FloatArray, values: FloatArray, moment_s: float) -> FloatArray:
    """Values at a moment between frames, by straight line.

    Args:
        t_s: ``(n,)`` increasing.
        values: ``(n,)`` or ``(n, d)``.
        moment_s: within the times; NaN comes out beyond them, or beside a frame not seen.
    """
    if not t_s[0] <= moment_s <= t_s[-1]:
        return np.full(values.shape[1:], np.nan)
    after = min(int(np.searchsorted(t_s, moment_s)), len(t_s) - 1)
    if t_s[after] == moment_s:
        return np.asarray(values[after], dtype=np.float64)
    share = (moment_s - t_s[after - 1]) / (t_s[after] - t_s[after - 1])
    between = (1 - share) * values[after - 1] + share * values[after]
    return np.asarray(between, dtype=np.float64)


def closeout_speed(
    t_s: FloatArray, speed_mps: FloatArray, start_s: float, arrival_s: float
) -> float:
    """Highest speed from start to arrival, m/s; NaN when no moment of it was seen.

    Args:
        t_s, speed_mps: ``(n,)``.
    """
    during = speed_mps[(t_s >= start_s) & (t_s <= arrival_s)]
    seen = during[np.isfinite(during)]
    return float(seen.max()) if len(seen) else float("nan")


def path_length(t_s: FloatArray, xy_m: FloatArray, from_s: float, to_s: float) -> float:
    """Ground covered between two moments, metres.

    Frames not seen are bridged by a straight line; NaN when an end was not seen.

    Args:
        t_s: ``(n,)``.
        xy_m: ``(n, 2)``.
    """
    between = (t_s > from_s) & (t_s < to_s) & np.isfinite(xy_m).all(axis=1)
    ends = at_moment(t_s, xy_m, from_s), at_moment(t_s, xy_m, to_s)
    steps = np.diff(np.vstack([ends[0], xy_m[between], ends[1]]), axis=0)
    return float(np.linalg.norm(steps, axis=1).sum())


def braking_distance(
    t_s: FloatArray, xy_m: FloatArray, braking_s: float | None, arrival_s: float
) -> float:
    """Ground covered from the last moment at peak speed to arrival, metres.

    The last one, because a run may hold its peak for a while. A run that had not begun to brake
    by arrival (``braking_s`` None or later) braked over 0 m: that is measured, not missing.
    """
    if braking_s is None or braking_s >= arrival_s:
        return 0.0
    return path_length(t_s, xy_m, braking_s, arrival_s)


def peak_braking(t_s: FloatArray, speed_mps: FloatArray, from_s: float, to_s: float) -> float:
    """Strongest loss of speed between two moments, m/s², over any 0.2 s of it; at least 0.

    NaN when no 0.2 s of it were seen.

    Args:
        t_s, speed_mps: ``(n,)``.
    """
    losses = [
        (speed - at_moment(t_s, speed_mps, moment + BRAKING_OVER_S)) / BRAKING_OVER_S
        for moment, speed in zip(t_s, speed_mps, strict=True)
        if from_s <= moment and moment + BRAKING_OVER_S <= to_s + ROUNDING_S
    ]
    seen = [float(loss) for loss in losses if np.isfinite(loss)]
    return max(0.0, *seen) if seen else float("nan")
