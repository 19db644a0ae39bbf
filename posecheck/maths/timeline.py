"""Values over time: windows, the nearest frame, gaps."""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import BoolArray, FloatArray, IntArray
from posecheck.maths.tuning import ROUNDING_S


def nearest_frame(t_s: FloatArray, moment_s: float) -> int:
    """Number of the frame whose time is nearest to a moment, the earlier of two alike.

    Args:
        t_s: ``(n,)`` seconds, at least one.
        moment_s: within the times or beyond them.
    """
    return int(np.argmin(np.abs(t_s - moment_s)))


def in_window(t_s: FloatArray, from_s: float, to_s: float) -> BoolArray:
    """``(n,)`` True for the frames of a window, both ends included."""
    return np.asarray((t_s >= from_s - ROUNDING_S) & (t_s <= to_s + ROUNDING_S))


def stretches(
    t_s: FloatArray, where: BoolArray, *, bridged_s: float = 0.0, broken_s: float = np.inf
) -> list[IntArray]:
    """Frame numbers of the stretches in which something holds.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        where: ``(n,)`` True in the frames in which it holds.
        bridged_s: frames in which it does not hold are no break when the frames before and after
            them are at most this far apart.
        broken_s: a longer time from one frame to the next is a break, whatever the frames say.

    Returns:
        For each stretch the numbers of its frames in which it holds; none when there are none.
    """
    frames = np.flatnonzero(where).astype(np.int64)
    if not len(frames):
        return []
    step_s = np.diff(t_s[frames])
    breaks = ((np.diff(frames) > 1) & (step_s > bridged_s)) | (step_s > broken_s)
    return np.split(frames, np.flatnonzero(breaks) + 1)


def seen_or_bridged(t_s: FloatArray, seen: BoolArray, max_gap_s: float) -> BoolArray:
    """``(n,)`` True for frames seen and for those between two sightings that are near in time.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        seen: ``(n,)`` True where seen.
        max_gap_s: longest gap that counts, from sighting to sighting.
    """
    before, after = _sightings_around(seen)
    inside = (before >= 0) & (after < len(t_s))
    gap_s = t_s[np.minimum(after, len(t_s) - 1)] - t_s[np.maximum(before, 0)]
    return np.asarray(seen | (inside & (gap_s <= max_gap_s)))


def bridged(t_s: FloatArray, xy_m: FloatArray, max_gap_s: float) -> FloatArray:
    """Positions with short gaps filled by a straight line; long gaps and ends stay NaN.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        xy_m: ``(n, 2)``, NaN where not seen.
        max_gap_s: longest gap that is filled, from sighting to sighting.
    """
    seen = np.asarray(np.isfinite(xy_m).all(axis=1))
    gap = np.flatnonzero(seen_or_bridged(t_s, seen, max_gap_s) & ~seen)
    before, after = (around[gap] for around in _sightings_around(seen))
    share = ((t_s[gap] - t_s[before]) / (t_s[after] - t_s[before]))[:, None]
    filled = xy_m.copy()
    filled[gap] = (1 - share) * xy_m[before] + share * xy_m[after]
    return filled


def _sightings_around(seen: BoolArray) -> tuple[IntArray, IntArray]:
    """``(n,)`` the last sighting up to each frame, -1 for none; the next one, n for none."""
    frames = np.arange(len(seen))
    before = np.maximum.accumulate(np.where(seen, frames, -1))
    after = np.minimum.accumulate(np.where(seen, frames, len(seen))[::-1])[::-1]
    return before, after
