"""The measures of one rep's run, from ground tracks: speed, side, heading, aftermath."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.ground.tuning import ACCELERATION_SD_MPS2, LASTING_SD_M
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import bridged
from posecheck.measures import aftermath, approach, closeout
from posecheck.measures.closeout import at_moment
from posecheck.measures.intervals import Intervals
from posecheck.measures.measure import Measure, missing
from posecheck.practice.field import BEHIND_CONE_SD_M
from posecheck.reps.rep import Rep
from posecheck.reps.tuning import AFTERMATH_S, MAX_GAP_S, STILL_MPS, WALK_MPS

START_SD_S = 0.05
"""How well the moment of leaving is known: a smoothed speed rises early by a frame or two."""

AT_ONCE_S = 0.3
"""Who brakes so soon after he comes into sight running may have been faster before."""

VAGUE_TIMES = 2.0
"""A place this many times less sure than the run's middle one is left out of the path's shape."""

PEAK_UNSEEN = "he is already braking when first seen, and was faster before"

NO_START = "he is already running when first seen, so the path lacks its beginning"

NO_SIDES = "the goal is not among the marked points, so sides cannot be told"


def run_measures(
    rep: Rep,
    arrival_s: float,
    defender: GroundTrack,
    attacker: GroundTrack | None,
    ground: Ground,
    *,
    cone_xy_m: FloatArray | None,
    spot: str | None,
    bars: Intervals,
) -> list[Measure]:
    """Every quantity that is read from places on the ground; args as for a whole rep.

    Args:
        arrival_s: the rep's moment of arrival, which must have been seen.
    """
    run = _Run.of(rep, arrival_s, defender, attacker, ground, cone_xy_m, bars)
    return [*_speed_measures(run), *_place_measures(run, spot), *_aftermath_measures(run, spot)]


@dataclass(frozen=True)
class _Run:
    """What the measures of a run share.

    Attributes:
        rep, arrival_s, defender, attacker, ground, bars: as given.
        speed: ``(n,)`` m/s.
        target_xy_m: ``(2,)`` attacker or cone at arrival, None when neither is there.
        target_sd_m: its standard deviation.
        target: its name for the page.
    """

    rep: Rep
    arrival_s: float
    defender: GroundTrack
    attacker: GroundTrack | None
    ground: Ground
    bars: Intervals
    speed: FloatArray
    target_xy_m: FloatArray | None
    target_sd_m: float
    target: str

    @staticmethod
    def of(
        rep: Rep,
        arrival_s: float,
        defender: GroundTrack,
        attacker: GroundTrack | None,
        ground: Ground,
        cone_xy_m: FloatArray | None,
        bars: Intervals,
    ) -> _Run:
        place, sd, name = cone_xy_m, BEHIND_CONE_SD_M, "the cone"
        if attacker is not None:
            there = at_moment(
                attacker.t_s, bridged(attacker.t_s, attacker.xy_m, MAX_GAP_S), arrival_s
            )
            if np.isfinite(there).all():
                place, sd, name = there, _sd_near(attacker, arrival_s), "the attacker"
        speed = defender.speed_mps
        return _Run(rep, arrival_s, defender, attacker, ground, bars, speed, place, sd, name)

    @property
    def entered_mps(self) -> float:
        """How fast he is already when first seen, 0 when the film shows him set off."""
        first_s = float(self.defender.t_s[np.isfinite(self.speed)][0])
        if self.rep.start_s > first_s:
            return 0.0
        return float(at_moment(self.defender.t_s, self.speed, self.rep.start_s))

    def at_arrival(self, values: FloatArray) -> FloatArray:
        return at_moment(self.defender.t_s, values, self.arrival_s)

    @property
    def place_sd_m(self) -> float:
        """Of the defender relative to the target at arrival."""
        return float(np.hypot(self.at_arrival(self.defender.sd_m), self.target_sd_m))

    @property
    def arrival_sd_s(self) -> float:
        """Of the arrival moment: the place's error over the speed of closing in, up to 0.3 s."""
        return min(self.place_sd_m / max(float(self.at_arrival(self.speed)), STILL_MPS), 0.3)

    @property
    def scale_sd(self) -> float:
        """Relative, of lengths along the run."""
        here = self.at_arrival(self.defender.xy_m)
        way = here - at_moment(self.defender.t_s, self.defender.xy_m, self.rep.start_s)
        return float(self.ground.relative_sd(here, way)) if way.any() else self.ground.scale_sd

    def measure(self, key: str, value: float, sd: float, unseen: float = 0.0) -> Measure:
        if not np.isfinite(value):
            return missing(key, "the defender is out of sight for part of the run")
        read_from = f"ground positions scaled from {self.ground.described}"
        return self.bars.ground_measure(
            key, value, float(np.nan_to_num(sd)), self.ground.source, read_from, unseen=unseen
        )


def _speed_measures(run: _Run) -> list[Measure]:
    t, v, track, rep = run.defender.t_s, run.speed, run.defender, run.rep
    top = closeout.closeout_speed(t, v, rep.start_s, run.arrival_s)
    during = (t >= rep.start_s) & (t <= run.arrival_s) & np.isfinite(v)
    top_sd = float(track.speed_sd_mps[during][np.argmax(v[during])]) if during.any() else np.nan
    peak_s = float(t[during][np.argmax(v[during])]) if during.any() else run.arrival_s
    braking = closeout.peak_braking(t, v, peak_s, run.arrival_s + AFTERMATH_S)
    arrival = float(run.at_arrival(v))
    distance = closeout.braking_distance(t, track.xy_m, rep.braking_s, run.arrival_s)
    # Braking starts where the speed leaves its peak: the flatter the peak, the vaguer.
    onset_sd_s = min(top_sd / max(braking, 1.0), 0.3) if np.isfinite(braking) else 0.3
    arrival_sd_mps = np.hypot(
        run.at_arrival(track.speed_sd_mps), np.nan_to_num(braking) * run.arrival_sd_s
    )
    distance_sd_m = np.linalg.norm([run.place_sd_m, run.scale_sd * distance, top * onset_sd_s])
    braking_sd = np.sqrt(2) * top_sd / closeout.BRAKING_OVER_S
    if run.entered_mps > STILL_MPS:
        duration = missing("time_to_arrival_s", "he is already running when first seen")
    else:
        duration = run.measure(
            "time_to_arrival_s",
            run.arrival_s - rep.start_s,
            float(np.hypot(run.arrival_sd_s, START_SD_S)),
        )
    keys = "closeout_speed_mps", "braking_distance_m"
    at_once = rep.braking_s is not None and rep.braking_s - rep.start_s < AT_ONCE_S
    if at_once and run.entered_mps > WALK_MPS:
        of_peak = [missing(key, PEAK_UNSEEN) for key in keys]
    else:
        of_peak = [
            run.measure(keys[0], top, top_sd),
            run.measure(keys[1], distance, float(distance_sd_m)),
        ]
    return [
        *of_peak,
        run.measure("arrival_speed_mps", arrival, float(arrival_sd_mps)),
        run.measure("peak_braking_mps2", braking, float(braking_sd)),
        duration,
    ]


def _place_measures(run: _Run, spot: str | None) -> list[Measure]:
    track, rep, target = run.defender, run.rep, run.target_xy_m
    keys = "overrun_m", "approach_offset_m", "bow_m", "heading_deg"
    if target is None:
        because = "neither the attacker nor his cone is there to measure to"
        return [missing(key, because) for key in keys]
    past = approach.overrun(track.t_s, track.xy_m, target, rep.start_s, run.arrival_s)
    found = [
        run.measure(
            "overrun_m",
            past,
            float(np.hypot(run.place_sd_m, run.scale_sd * past)),
            unseen=_unseen_way(run),
        )
    ]
    if not run.ground.on_field:
        return found + [missing(key, NO_SIDES) for key in keys[1:]]
    at_top = _at_top(target, spot)
    during = (track.t_s >= rep.start_s) & (track.t_s <= run.arrival_s)
    arrived = run.at_arrival(track.xy_m)
    path_sd_m = _median(track.sd_m[during])
    # At the film's first frames a place is vague, and a chord from there would bow every path.
    sure = during & (track.sd_m <= VAGUE_TIMES * path_sd_m)
    offset = approach.approach_offset(arrived, target, at_top)
    bow = approach.bow(np.vstack([track.xy_m[sure], arrived]), target, at_top)
    # The chord errs too: between its ends by half their variance.
    bow_sd_m = np.sqrt(1.5) * path_sd_m
    if run.entered_mps > WALK_MPS:
        bowed = missing(keys[2], NO_START)
    else:
        bowed = run.measure(keys[2], bow, float(np.hypot(bow_sd_m, run.scale_sd * bow)))
    way = approach.heading(track.t_s, track.xy_m, target, rep.start_s, run.arrival_s, at_top)
    # Both ends of the last steps err, but what lasts shifts them alike and turns nothing.
    end_sd_m = np.sqrt(max(path_sd_m**2 - LASTING_SD_M**2, 0.0))
    way_sd = np.sqrt(2) * end_sd_m / approach.HEADING_OVER_M
    return [
        *found,
        run.measure(keys[1], offset, float(np.hypot(run.place_sd_m, run.scale_sd * offset))),
        bowed,
        run.measure(keys[3], float(np.degrees(way)), float(np.degrees(way_sd))),
    ]


def _aftermath_measures(run: _Run, spot: str | None) -> list[Measure]:
    keys = "goal_side_m", "attacker_went_m"
    t, defender, attacker = run.defender.t_s, run.defender, run.attacker
    if attacker is None:
        return [missing(key, "the attacker is not seen") for key in keys]
    if not run.ground.on_field:
        return [missing(key, NO_SIDES) for key in keys]
    there = bridged(t, attacker.xy_m, MAX_GAP_S)
    worst = aftermath.worst_moment(t, defender.xy_m, there, run.arrival_s)
    if worst is None:
        margin = missing(keys[0], "the two are not seen together after arrival")
    else:
        value = float(aftermath.goal_side(defender.xy_m, there)[worst])
        sd = [defender.sd_m[worst], _sd_near(attacker, float(t[worst])), run.scale_sd * value]
        margin = run.measure(keys[0], value, float(np.linalg.norm(sd)))
        assert margin.low is not None
        margin = replace(margin, low=margin.low - _unseen_loss(run, attacker, there))
    at_top = spot == "top" if run.target_xy_m is None else _at_top(run.target_xy_m, spot)
    went = aftermath.went_across(t, there, run.arrival_s, at_top)
    if not np.isfinite(went):
        return [margin, missing(keys[1], "the attacker is not seen until a second after arrival")]
    ends_sd = [
        _sd_near(attacker, moment) for moment in (run.arrival_s, run.arrival_s + AFTERMATH_S)
    ]
    sd = [*ends_sd, run.scale_sd * went]
    return [margin, run.measure(keys[1], went, float(np.linalg.norm(sd)))]


def _unseen_loss(run: _Run, attacker: GroundTrack, there: FloatArray) -> float:
    """How much of his lead to the goal he may lose while the film no longer shows both, metres.

    As when each goes on at his last speed, one away from the goal and the other at it, and the
    attacker bursts as hard as players do.
    """
    t, defender = run.defender.t_s, run.defender
    left_s = aftermath.unseen_s(t, defender.xy_m, there, run.arrival_s)
    if left_s <= 2 * float(np.median(np.diff(t))):
        return 0.0
    last_s = run.arrival_s + AFTERMATH_S - left_s
    closing = sum(
        float(each.speed_mps[np.isfinite(each.speed_mps) & (t <= last_s + 1e-9)][-1])
        for each in (defender, attacker)
    )
    return closing * left_s + ACCELERATION_SD_MPS2 * left_s**2 / 2


def _at_top(target_xy_m: FloatArray, spot: str | None) -> bool:
    return approach.is_top(target_xy_m) if spot is None else spot == "top"


def _sd_near(track: GroundTrack, moment_s: float) -> float:
    """Of the place in the frame nearest to a moment among those in which he was seen."""
    seen = np.isfinite(track.sd_m)
    nearest = np.argmin(np.abs(track.t_s[seen] - moment_s))
    return float(track.sd_m[seen][nearest])


def _unseen_way(run: _Run) -> float:
    """How much further he may have run past while the film no longer shows him, metres."""
    after = (run.defender.t_s >= run.arrival_s) & np.isfinite(run.speed)
    after &= run.defender.t_s <= run.arrival_s + AFTERMATH_S
    if not after.any():
        return 0.0
    left_s = run.arrival_s + AFTERMATH_S - float(run.defender.t_s[after][-1])
    step_s = float(np.median(np.diff(run.defender.t_s)))
    return float(run.speed[after][-1]) * left_s if left_s > 2 * step_s else 0.0


def _median(values: FloatArray) -> float:
    seen = values[np.isfinite(values)]
    return float(np.median(seen)) if len(seen) else float("nan")
