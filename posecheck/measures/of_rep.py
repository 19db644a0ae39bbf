"""Every measure of one rep, from stance and ground tracks."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from posecheck.body.stance_track import StanceTrack
from posecheck.filming.conditions import StanceReading
from posecheck.filming.look import NO_LOOKS, Looks
from posecheck.filming.stance_reading import stance_reading
from posecheck.filming.tuning import MIN_RATE_HZ
from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.ground.tuning import NINE_IN_TEN_SDS
from posecheck.maths.arrays import FloatArray
from posecheck.measures.intervals import Elsewhen, Intervals, default_intervals
from posecheck.measures.measure import Measure, missing
from posecheck.measures.of_run import run_measure
from posecheck.measures.quantities import AT_ARRIVAL_S, QUANTITIES, Quantity, ReadFrom
from posecheck.measures.run import Run
from posecheck.measures.tuning import ARRIVAL_BAR_SDS, ARRIVAL_STEPS_SDS, ARRIVAL_WITHIN_SDS
from posecheck.practice.layout import Side
from posecheck.reps.rep import ArrivalSource, Rep

NO_ARRIVAL = "the film does not show the arrival"
LOST_BEFORE = "the defender is lost to sight before he arrives"

STATED_ARRIVAL = "arrival as stated"


def measure_rep(
    rep: Rep,
    stance_track: StanceTrack,
    defender: GroundTrack,
    attacker: GroundTrack | None,
    ground: Ground,
    *,
    cone_xy_m: FloatArray | None = None,
    spot_side: Side | None = None,
    no_attacker_because: str | None = None,
    looks: Looks = NO_LOOKS,
    unfit_because: str | None = None,
    untimed_because: str | None = None,
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
        spot_side: of the field that the named spot lies on. Without it the place of the attacker
            decides.
        no_attacker_because: why there is no attacker to measure against, when it is not only that
            none is seen.
        looks: how the defender looks in the pictures around the arrival.
        unfit_because: why nothing can be measured in this film, None when it can.
        untimed_because: why its times are not those of life, None when they are. The stance at
            arrival is the same at any speed of play, and alone is measured then.
        intervals: error bars, by default those that come with posecheck.

    Returns:
        Every quantity by key, in the order of ``QUANTITIES``; what cannot be known is missing
        with the reason.
    """
    intervals = intervals or default_intervals()
    rate_hz = round(1 / float(np.median(np.diff(stance_track.t_s))), 1)
    if rate_hz < MIN_RATE_HZ:
        unfit_because = (
            f"the film has only {rate_hz:.0f} frames a second, {MIN_RATE_HZ:.0f} are needed"
        )
    if unfit_because is not None:
        return {q.key: missing(q.key, unfit_because) for q in QUANTITIES}
    if rep.arrival_s is None:
        because = NO_ARRIVAL if rep.expected_s is None else LOST_BEFORE
        return {q.key: missing(q.key, because) for q in QUANTITIES}
    run = Run(
        rep, rep.arrival_s, defender, attacker, ground, cone_xy_m, spot_side, no_attacker_because
    )
    measures = {
        quantity.key: missing(quantity.key, untimed_because)
        if untimed_because is not None and not _of_one_moment(quantity)
        else _stance_measure(quantity, run, stance_track, looks, intervals)
        if quantity.read_from is ReadFrom.STANCE
        else run_measure(quantity.key, run, intervals)
        for quantity in QUANTITIES
    }
    if rep.source is not ArrivalSource.STATED:
        return measures
    return {key: _as_stated(measure) for key, measure in measures.items()}


def arrival_within_s(run: Run) -> float:
    """Half the 90 % interval of the moment of arrival, seconds."""
    if run.rep.source is ArrivalSource.STATED:
        return NINE_IN_TEN_SDS * run.arrival_sd_s
    return ARRIVAL_BAR_SDS[run.ground.source] * run.arrival_sd_s


def _of_one_moment(quantity: Quantity) -> bool:
    """Whether it is a stance at arrival, and neither later nor over a stretch of time."""
    return quantity.read_from is ReadFrom.STANCE and quantity.window_s == AT_ARRIVAL_S


def _as_stated(measure: Measure) -> Measure:
    """The measure of a rep whose arrival is the coach's own: all of them hang on that moment."""
    if measure.value is None:
        return measure
    return replace(measure, read_from=f"{measure.read_from}; {STATED_ARRIVAL}")


def _stance_measure(
    quantity: Quantity, run: Run, track: StanceTrack, looks: Looks, intervals: Intervals
) -> Measure:
    """A stance over its window; its error bar holds what it is should he have arrived a little
    earlier or later, each moment by its own likelihood."""

    def at(moment_s: float) -> StanceReading:
        window_s = moment_s + quantity.window_s[0], moment_s + quantity.window_s[1]
        return stance_reading(quantity.base, track, window_s, looks)

    sd_s = run.arrival_sd_s / ARRIVAL_WITHIN_SDS
    elsewhen = [
        Elsewhen(math.exp(-(sds**2) / 2), at(run.arrival_s + sds * sd_s))
        for sds in ARRIVAL_STEPS_SDS
    ]
    return intervals.stance_measure(
        quantity.key, at(run.arrival_s), elsewhen, source=run.ground.source
    )
