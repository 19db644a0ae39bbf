"""The formulas of a run, from ground tracks: speed, side, heading, aftermath.

Each stands under the key of its quantity and gives a reading, or a sentence that says why there is
none.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from posecheck.ground.tuning import ACCELERATION_SD_MPS2, LASTING_SD_M
from posecheck.maths.arrays import FloatArray
from posecheck.maths.tuning import ROUNDING_S
from posecheck.measures import aftermath, approach, closeout
from posecheck.measures.closeout import at_moment
from posecheck.measures.intervals import GroundReading, Intervals
from posecheck.measures.measure import Measure, missing
from posecheck.measures.run import Run, sd_near
from posecheck.measures.tuning import (
    BRAKING_OVER_S,
    HARD_BRAKING_SHORT,
    HEADING_OVER_M,
    START_SD_S,
    VAGUE_TIMES,
)
from posecheck.reps.tuning import AFTERMATH_S, STILL_MPS, WALK_MPS

OUT_OF_SIGHT = "the defender is out of sight for part of the run"

PEAK_UNSEEN = "he is already braking when first seen, and was faster before"

START_UNSEEN = "he is already running when first seen"

NO_START = "he is already running when first seen, so the path lacks its beginning"

NO_TARGET = "neither the attacker nor his cone is there to measure to"

NO_SIDES = "the goal is not among the marked points, so sides are not known"

NO_ATTACKER = "the attacker is not seen"

NOT_TOGETHER = "the two are not seen together after arrival"

ATTACKER_LOST = "the attacker is not seen until a second after arrival"

Formula = Callable[[Run], GroundReading | str]

FORMULAS: dict[str, Formula] = {}
"""By key of the quantity."""


def formula(key: str) -> Callable[[Formula], Formula]:
    """Enter a formula under the key of its quantity."""

    def enter(made: Formula) -> Formula:
        FORMULAS[key] = made
        return made

    return enter


def run_measure(key: str, run: Run, intervals: Intervals) -> Measure:
    """One quantity that is read from places on the ground.

    Args:
        key: of the quantity.
        run: what it is read from.
        intervals: error bars.
    """
    reading = FORMULAS[key](run)
    if isinstance(reading, str):
        return missing(key, reading)
    if not np.isfinite(reading.value):
        return missing(key, OUT_OF_SIGHT)
    read_from = f"ground positions scaled from {run.ground.described}"
    return intervals.ground_measure(key, reading, run.ground.source, read_from)


def _read(
    value: float, *sds: float, unseen_below: float = 0.0, unseen_above: float = 0.0
) -> GroundReading:
    """A reading whose standard deviation comes from parts that err apart; an unknown one is 0."""
    sd = sds[0] if len(sds) == 1 else float(np.linalg.norm(sds))
    return GroundReading(value, float(np.nan_to_num(sd)), unseen_below, unseen_above)


# -- speed -----------------------------------------------------------------------------------------


@formula("closeout_speed_mps")
def _closeout_speed(run: Run) -> GroundReading | str:
    if run.peak_unseen:
        return PEAK_UNSEEN
    return _read(run.top_speed_mps, run.top_speed_sd_mps, unseen_above=run.hidden_speed_mps)


@formula("arrival_speed_mps")
def _arrival_speed(run: Run) -> GroundReading | str:
    speed_sd = run.at_arrival(run.defender.speed_sd_mps)
    moment_sd = np.nan_to_num(run.peak_braking_mps2) * run.arrival_sd_s
    return _read(float(run.at_arrival(run.speed_mps)), float(np.hypot(speed_sd, moment_sd)))


@formula("braking_distance_m")
def _braking_distance(run: Run) -> GroundReading | str:
    if run.peak_unseen:
        return PEAK_UNSEEN
    track = run.defender
    distance = closeout.braking_distance(track.t_s, track.xy_m, run.rep.braking_s, run.arrival_s)
    onset_sd = run.top_speed_mps * run.onset_sd_s
    less, more = run.hidden_braking_m
    return _read(
        distance,
        run.place_sd_m,
        run.scale_sd * distance,
        onset_sd,
        unseen_below=less,
        unseen_above=more,
    )


@formula("speed_kept")
def _speed_kept(run: Run) -> GroundReading | str:
    if run.peak_unseen:
        return PEAK_UNSEEN
    kept = run.speed_kept
    less = kept * (1 - run.top_speed_mps / (run.top_speed_mps + run.hidden_speed_mps))
    return _read(kept, run.speed_kept_sd, unseen_below=less)


@formula("peak_braking_mps2")
def _peak_braking(run: Run) -> GroundReading | str:
    peak, sd_mps = run.peak_braking_mps2, float(np.sqrt(2) * run.top_speed_sd_mps)
    above = max(_unseen_braking_mps2(run), HARD_BRAKING_SHORT * (peak - ACCELERATION_SD_MPS2), 0.0)
    return _read(peak, sd_mps / BRAKING_OVER_S, unseen_above=above)


@formula("time_to_arrival_s")
def _time_to_arrival(run: Run) -> GroundReading | str:
    if run.entered_mps > STILL_MPS:
        return START_UNSEEN
    sd_s = float(np.hypot(run.arrival_sd_s, START_SD_S))
    return _read(run.arrival_s - run.rep.start_s, sd_s)


# -- side and direction ----------------------------------------------------------------------------


@formula("overrun_m")
def _overrun(run: Run) -> GroundReading | str:
    target, track = run.target_xy_m, run.defender
    if target is None:
        return run.no_attacker_because or NO_TARGET
    past = _past_m(run, run.arrival_s)
    farthest = approach.farthest_past(track.t_s, track.xy_m, target, run.rep.start_s, run.arrival_s)
    if farthest is None:
        return OUT_OF_SIGHT
    return _read(
        past,
        float(track.sd_m[farthest]),
        run.target_sd_m,
        run.scale_sd * past,
        _past_by_moment_m(run, past),
        unseen_above=_unseen_run_m(run),
    )


@formula("approach_offset_m")
def _approach_offset(run: Run) -> GroundReading | str:
    target = run.target_xy_m
    if target is None:
        return run.no_attacker_because or NO_TARGET
    if not run.ground.on_field:
        return NO_SIDES
    offset = _offset_m(run, target, run.arrival_s)
    moments_s = [run.arrival_s + sign * run.arrival_sd_s for sign in (-1, 1)]
    changes = [abs(_offset_m(run, target, moment_s) - offset) for moment_s in moments_s]
    by_moment = max((each for each in changes if np.isfinite(each)), default=0.0)
    return _read(offset, run.place_sd_m, run.scale_sd * offset, by_moment)


@formula("bow_m")
def _bow(run: Run) -> GroundReading | str:
    target, track = run.target_xy_m, run.defender
    if target is None:
        return run.no_attacker_because or NO_TARGET
    if not run.ground.on_field:
        return NO_SIDES
    if run.entered_mps > WALK_MPS:
        return NO_START
    # At the film's first frames a place is vague, and a chord from there would bow every path.
    sure = run.during & (track.sd_m <= VAGUE_TIMES * run.path_sd_m)
    path = np.vstack([track.xy_m[sure], run.at_arrival(track.xy_m)])
    bow = approach.bow(path, target, run.side(target))
    # The chord errs too: between its ends by half their variance.
    bow_sd_m = np.sqrt(1.5) * run.path_sd_m
    return _read(bow, float(np.hypot(bow_sd_m, run.scale_sd * bow)))


@formula("heading_deg")
def _heading(run: Run) -> GroundReading | str:
    target, track = run.target_xy_m, run.defender
    if target is None:
        return run.no_attacker_because or NO_TARGET
    if not run.ground.on_field:
        return NO_SIDES
    heading = approach.heading(
        track.t_s, track.xy_m, target, run.rep.start_s, run.arrival_s, run.side(target)
    )
    # Both ends of the last steps err, but what lasts shifts them alike and turns nothing.
    end_sd_m = np.sqrt(max(run.path_sd_m**2 - LASTING_SD_M**2, 0.0))
    heading_sd = np.sqrt(2) * end_sd_m / HEADING_OVER_M
    return _read(float(np.degrees(heading)), float(np.degrees(heading_sd)))


# -- the second after arrival ----------------------------------------------------------------------


@formula("goal_side_m")
def _goal_side(run: Run) -> GroundReading | str:
    defender, attacker, there = run.defender, run.attacker, run.attacker_xy_m
    if attacker is None or there is None:
        return run.no_attacker_because or NO_ATTACKER
    if not run.ground.on_field:
        return NO_SIDES
    worst = aftermath.worst_moment(defender.t_s, defender.xy_m, there, run.arrival_s)
    if worst is None:
        return NOT_TOGETHER
    margin = float(aftermath.goal_side(defender.xy_m, there)[worst])
    return _read(
        margin,
        defender.sd_m[worst],
        sd_near(attacker, float(defender.t_s[worst])),
        run.scale_sd * margin,
        unseen_below=_unseen_loss_m(run),
    )


@formula("attacker_went_m")
def _attacker_went(run: Run) -> GroundReading | str:
    attacker, there, target = run.attacker, run.attacker_xy_m, run.target_xy_m
    if attacker is None or there is None:
        return run.no_attacker_because or NO_ATTACKER
    if not run.ground.on_field:
        return NO_SIDES
    if target is None:
        return ATTACKER_LOST
    went = aftermath.went_across(run.defender.t_s, there, run.arrival_s, run.side(target))
    if not np.isfinite(went):
        return ATTACKER_LOST
    ends_s = run.arrival_s, run.arrival_s + AFTERMATH_S
    return _read(went, *(sd_near(attacker, end_s) for end_s in ends_s), run.scale_sd * went)


def _offset_m(run: Run, target_xy_m: FloatArray, arrival_s: float) -> float:
    """The approach's offset, had he arrived at this moment; metres, NaN when not seen."""
    arrived = at_moment(run.defender.t_s, run.defender.xy_m, arrival_s)
    return approach.approach_offset(arrived, target_xy_m, run.side(target_xy_m))


def _past_m(run: Run, arrival_s: float) -> float:
    """How far past the attacker, had he arrived at this moment; metres, NaN when not seen."""
    target, track = run.target_at(arrival_s), run.defender
    if target is None:
        return float("nan")
    return approach.overrun(track.t_s, track.xy_m, target, run.rep.start_s, arrival_s)


def _past_by_moment_m(run: Run, past_m: float) -> float:
    """How much further or less far past he is read when arrival is read a standard deviation early
    or late, metres.

    One who runs on is still moving when the second after arrival is over, and an attacker who
    dodges has stood elsewhere.
    """
    moments_s = [run.arrival_s + sign * run.arrival_sd_s for sign in (-1, 1)]
    changes = [abs(_past_m(run, moment_s) - past_m) for moment_s in moments_s]
    return max((each for each in changes if np.isfinite(each)), default=0.0)


# -- what the film does not show -------------------------------------------------------------------


def _unseen_run_m(run: Run) -> float:
    """How much further he may have run past while the film no longer shows him, metres."""
    last_mps, left_s = _unseen_end(run)
    return last_mps * left_s


def _unseen_braking_mps2(run: Run) -> float:
    """How much harder he may have braked while the film no longer shows him, m/s².

    At most he stood within the time that braking is taken over.
    """
    last_mps, left_s = _unseen_end(run)
    return last_mps / BRAKING_OVER_S - run.peak_braking_mps2 if left_s else 0.0


def _unseen_end(run: Run) -> tuple[float, float]:
    """Speed when last seen in the second after arrival, m/s, and how much of it was left, seconds;
    zeros when it is all seen or none of it is."""
    t_s, end_s = run.defender.t_s, run.arrival_s + AFTERMATH_S
    after = (t_s >= run.arrival_s) & np.isfinite(run.speed_mps) & (t_s <= end_s)
    if not after.any():
        return 0.0, 0.0
    left_s = end_s - float(t_s[after][-1])
    return (0.0, 0.0) if run.shown_to_the_end(left_s) else (float(run.speed_mps[after][-1]), left_s)


def _unseen_loss_m(run: Run) -> float:
    """How much of his lead to the goal he may lose while the film no longer shows both, metres.

    As when each goes on at his last speed, one away from the goal and the other at it, and the
    attacker bursts as hard as players do.
    """
    defender, attacker, there = run.defender, run.attacker, run.attacker_xy_m
    assert attacker is not None and there is not None
    t_s = defender.t_s
    left_s = aftermath.unseen_s(t_s, defender.xy_m, there, run.arrival_s)
    if run.shown_to_the_end(left_s):
        return 0.0
    last_s = run.arrival_s + AFTERMATH_S - left_s
    closing = sum(
        float(each.speed_mps[np.isfinite(each.speed_mps) & (t_s <= last_s + ROUNDING_S)][-1])
        for each in (defender, attacker)
    )
    return closing * left_s + ACCELERATION_SD_MPS2 * left_s**2 / 2
