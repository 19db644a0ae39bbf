"""The moments of one rep: when the defender leaves, brakes, arrives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.tuning import ROUNDING_S
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.reps.tuning import AFTERMATH_S, BRAKING_SHARE, MAX_GAP_S, RUN_MPS, STILL_MPS


def rep_moments(
    t: FloatArray,
    v: FloatArray,
    begin: int,
    last: int,
    arrival_s: float | None,
    source: ArrivalSource | None,
    film_end_s: float,
) -> Rep:
    """The moments of one run of the defender, interpolated between frames.

    Args:
        t: ``(n,)`` seconds, of the frames in which he is seen.
        v: ``(n,)`` his speed, m/s.
        begin, last: first and last frame of the run.
        arrival_s: moment within reach of the target; None takes the end of braking for it.
        source: of that moment.
        film_end_s: last moment of the film.
    """
    before_arrival = t[begin : last + 1] <= (np.inf if arrival_s is None else arrival_s)
    peak = begin + int(np.argmax(np.where(before_arrival, v[begin : last + 1], -np.inf)))
    if arrival_s is None:
        arrival_s = _falls_to(t, v, RUN_MPS, peak)
        source = None if arrival_s is None else ArrivalSource.BRAKING
    end_s = film_end_s if arrival_s is None else min(arrival_s + AFTERMATH_S, film_end_s)
    return Rep(
        start_s=_leaves(t, v, begin),
        braking_s=_braking(t, v, peak, arrival_s, end_s),
        arrival_s=arrival_s,
        end_s=end_s if arrival_s is not None else float(t[last]),
        source=source,
    )


def expecting(rep: Rep, expected_s: float, seen_until_s: float, film_end_s: float) -> Rep:
    """A rep that is not seen to end, with the moment at which he is expected to arrive.

    Args:
        rep: without arrival.
        expected_s: as :func:`~posecheck.reps.hidden.expected_arrival` gives it.
        seen_until_s: last moment of the run that is seen; braking after it is not known.
        film_end_s: last moment of the film.
    """
    brakes_in_sight = rep.braking_s is not None and rep.braking_s <= seen_until_s
    return replace(
        rep,
        braking_s=rep.braking_s if brakes_in_sight else None,
        expected_s=expected_s,
        end_s=min(expected_s + AFTERMATH_S, film_end_s),
    )


def _leaves(t: FloatArray, v: FloatArray, begin: int) -> float:
    """Moment of leaving: the speed passes that of standing, or the first frame of the film."""
    if begin == 0 or v[begin - 1] > STILL_MPS or t[begin] - t[begin - 1] > MAX_GAP_S:
        return float(t[begin])
    return _crossing(t, v, STILL_MPS, begin - 1)


def _braking(
    t: FloatArray, v: FloatArray, peak: int, arrival_s: float | None, end_s: float
) -> float | None:
    """Last moment near peak speed; before arrival if the speed had fallen by then."""
    near_peak = v >= BRAKING_SHARE * v[peak]
    for until_s in (end_s if arrival_s is None else arrival_s, end_s):
        frames = np.flatnonzero((np.arange(len(t)) >= peak) & (t <= until_s + ROUNDING_S))
        last = int(frames[near_peak[frames]][-1])
        if last < frames[-1]:
            return _crossing(t, v, BRAKING_SHARE * v[peak], last)
    return None


def _falls_to(t: FloatArray, v: FloatArray, level: float, start: int) -> float | None:
    """First moment from frame ``start`` on at which the speed is no more than a level."""
    # What he does while he is out of sight for long is not known, nor is it the same run after.
    gaps = np.flatnonzero(np.diff(t[start:]) > MAX_GAP_S)
    until = start + int(gaps[0]) if len(gaps) else len(t) - 1
    below = np.flatnonzero(v[start : until + 1] <= level)
    if not len(below) or not below[0]:
        return None
    return _crossing(t, v, level, start + int(below[0]) - 1)


def _crossing(t: FloatArray, v: FloatArray, level: float, before: int) -> float:
    """Moment between two frames at which the speed passes a level."""
    share = (level - v[before]) / (v[before + 1] - v[before])
    return float(t[before] + share * (t[before + 1] - t[before]))
