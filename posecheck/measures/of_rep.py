"""Every measure of one rep, from stance and ground tracks."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from posecheck.body import formulas as stance
from posecheck.body.stance_track import STANCE, StanceTrack
from posecheck.filming.look import NO_LOOKS, Looks
from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.measures.intervals import (
    MIN_RATE_HZ,
    Conditions,
    Intervals,
    StanceReading,
    default_intervals,
)
from posecheck.measures.measure import QUANTITIES, Measure, missing
from posecheck.measures.of_run import run_measures
from posecheck.reps.rep import Rep

FloatArray = npt.NDArray[np.float64]

LATER_S = (0.5, 1.0)
"""A stance that came late is looked for this long after arrival."""

NO_ARRIVAL = "the film does not show the arrival"


def measure_rep(
    rep: Rep,
    stance_track: StanceTrack,
    defender: GroundTrack,
    attacker: GroundTrack | None,
    ground: Ground,
    *,
    cone_xy_m: FloatArray | None = None,
    spot: str | None = None,
    looks: Looks = NO_LOOKS,
    intervals: Intervals | None = None,
) -> dict[str, Measure]:
    """Measure one rep.

    Args:
        rep: its moments.
        stance_track: the defender's, over the clip's frames.
        defender, attacker: ground tracks over the same frames; attacker None when not there.
        ground: where metres come from.
        cone_xy_m: ``(2,)`` where one waits at the named cone; stands in for an attacker who is
            not there.
        spot: its name; "top" decides how sides are told. Without it the place decides.
        looks: how the defender looks in the pictures around the arrival.
        intervals: error bars, by default those that come with posecheck.

    Returns:
        Every quantity by key, in the order of ``QUANTITIES``; what cannot be known is missing
        with the reason.
    """
    bars = intervals or default_intervals()
    rate_hz = round(1 / float(np.median(np.diff(stance_track.t_s))), 1)
    if rate_hz < MIN_RATE_HZ:
        because = f"the film has only {rate_hz:.0f} frames a second, {MIN_RATE_HZ:.0f} are needed"
        return {q.key: missing(q.key, because) for q in QUANTITIES}
    found = _stance_measures(rep, stance_track, looks, bars)
    if rep.arrival_s is None:
        return {q.key: found.get(q.key, missing(q.key, NO_ARRIVAL)) for q in QUANTITIES}
    of_run = run_measures(
        rep, rep.arrival_s, defender, attacker, ground, cone_xy_m=cone_xy_m, spot=spot, bars=bars
    )
    found |= {measure.key: measure for measure in of_run}
    return {quantity.key: found[quantity.key] for quantity in QUANTITIES}


def stance_reading(
    key: str, track: StanceTrack, window_s: tuple[float, float], looks: Looks = NO_LOOKS
) -> StanceReading:
    """What is read of one measure of the stance over a stretch of time.

    Args:
        key: one of ``STANCE``.
        track: the player's stance.
        window_s: first and last moment.
        looks: how he looks in the pictures.
    """
    values = getattr(track, key)
    window = stance.in_window(track.t_s, *window_s)
    seen = window & np.isfinite(values)
    # Counted against the window's whole length, so that a film that ends early shows.
    step_s = float(np.median(np.diff(track.t_s)))
    conditions = Conditions(
        view_deg=_median(track.view_deg[seen]),
        height_px=_median(track.height_px[seen]),
        score=_median(track.score[seen]),
        seen=int(seen.sum()),
        of=max(round((window_s[1] - window_s[0]) / step_s) + 1, int(window.sum())),
        look=looks.between(*window_s),
    )
    return StanceReading(
        value=_median(values[seen]),
        below=_median(track.below[key][seen]),
        above=_median(track.above[key][seen]),
        conditions=conditions,
    )


def arrival_window(arrival_s: float) -> tuple[float, float]:
    """First and last moment of the stretch over which the stance at arrival is read."""
    return arrival_s - stance.BEFORE_ARRIVAL_S, arrival_s + stance.AFTER_ARRIVAL_S


def _stance_measures(
    rep: Rep, track: StanceTrack, looks: Looks, bars: Intervals
) -> dict[str, Measure]:
    if rep.arrival_s is None:
        return {}
    arrival = arrival_window(rep.arrival_s)
    later = rep.arrival_s + LATER_S[0], rep.arrival_s + LATER_S[1]
    found = {
        key: bars.stance_measure(key, stance_reading(key, track, arrival, looks)) for key in STANCE
    }
    key = "late_knee_bend_deg"
    reading = stance_reading("knee_bend_deg", track, later, looks)
    return found | {key: bars.stance_measure(key, reading)}


def _median(values: FloatArray) -> float:
    seen = values[np.isfinite(values)]
    return float(np.median(seen)) if len(seen) else float("nan")
