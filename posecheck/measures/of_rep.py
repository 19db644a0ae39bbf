"""Every measure of one rep, from stance and ground tracks."""

from __future__ import annotations

import numpy as np

from posecheck.body.stance_track import STANCE, StanceTrack
from posecheck.filming.look import NO_LOOKS, Looks
from posecheck.filming.stance_reading import stance_reading
from posecheck.filming.tuning import MIN_RATE_HZ
from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.maths.arrays import FloatArray
from posecheck.measures.intervals import Intervals, default_intervals
from posecheck.measures.measure import Measure, missing
from posecheck.measures.of_run import run_measures
from posecheck.measures.quantities import QUANTITIES
from posecheck.reps.rep import Rep, arrival_window

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
