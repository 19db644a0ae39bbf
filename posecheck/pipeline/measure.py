"""From what a clip shows to measures: reps, their quantities, the film's grade, series to plot.

Judging is not here: a result is the same whatever the thresholds are. What this module imports
decides what measures on record are keyed by (``fingerprint.py``).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from posecheck.errors import NothingToMeasure
from posecheck.files.cut_name import cut_name
from posecheck.filming.arrival_frames import see_arrival
from posecheck.filming.drawn_body import drawn_xy_px
from posecheck.filming.grading import grade_film
from posecheck.filming.slow_motion import steps_of
from posecheck.filming.slow_part import PLAYS_SLOW, slow_part
from posecheck.filming.steps import Steps
from posecheck.ground.tracks import GroundTrack
from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.maths.stopwatch import Stage, stage
from posecheck.maths.timeline import in_window, nearest_frame
from posecheck.measures.of_rep import arrival_within_s, measure_rep
from posecheck.measures.result import ClipResult, RepResult, Series
from posecheck.measures.run import Run
from posecheck.pipeline.likely_cause import no_run, remarks
from posecheck.pipeline.observe import Observed, observe_clip
from posecheck.pipeline.other_places import not_measured_elsewhere
from posecheck.pipeline.other_runs import not_measured
from posecheck.pipeline.provenance import provenance
from posecheck.pipeline.settings import Settings
from posecheck.pose.open_readers import Readers
from posecheck.practice.layout import Side
from posecheck.practice.practice import Practice
from posecheck.reps.behind import held_behind
from posecheck.reps.hidden import said_of_expected
from posecheck.reps.reach import OutOfReach, out_of_reach
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.reps.splitting import find_reps, why_no_rep


def measure_clip(
    path: Path, practice: Practice, settings: Settings, readers: Readers
) -> ClipResult:
    """Measure every rep in a clip.

    Raises:
        ClipError: the clip cannot be measured; says why.
        RecordError: kept landmarks cannot be read or written.
    """
    seen = observe_clip(path, practice, settings, readers)
    with stage(Stage.MEASURES):
        return measure_observed(seen, practice, settings)


def measure_observed(seen: Observed, practice: Practice, settings: Settings) -> ClipResult:
    """Measure every rep of a clip that has been read.

    Raises:
        NothingToMeasure: nobody closes out in it.
    """
    path, made = seen.clip.path, provenance(settings, practice, seen.clip.path)
    notes = practice.notes_for(path)
    at_life_speed = practice.slow_motion_for(path) == 1  # the coach says so, and he knows
    clip, defender, attacker = seen.clip, seen.defender_ground, seen.attacker_ground
    if attacker and out_of_reach(defender, attacker, seen.ground, settings.reach_m):
        attacker = None  # he is somebody else
    reps = find_reps(
        defender.xy_m,
        _waiting(seen, attacker) if attacker else None,
        clip.t_s,
        defender.velocity_mps,
        cone_xy_m=seen.cone_xy_m,
        reach_m=settings.reach_m,
        stated_s=notes.arrival_s,
    )
    if notes.arrival_s is not None:
        _check_stated(seen, reps, notes.arrival_s)
    if not reps:
        steps = None if at_life_speed else _steps(seen)
        why = why_no_rep(defender.speed_mps)
        cause = no_run(why, clip, defender.speed_mps, defender.xy_m, steps)
        raise NothingToMeasure(path, cause.fault, cause.remedy)
    side = practice.layout.side_of(notes.spot)
    said = (*remarks(clip), *seen.faults)
    # What else a long film shows is listed with it.
    if cut_name(practice.clip_key(path)) is None:
        more = not_measured(seen.closeouts_s, reps)
        elsewhere = not_measured_elsewhere(clip.t_s, seen.motion)
        said += tuple(each for each in (more, elsewhere) if each is not None)
    return ClipResult(
        path=path,
        clip_digest=clip.digest,
        width_px=clip.width_px,
        height_px=clip.height_px,
        n_frames=clip.n_frames,
        duration_s=float(clip.t_s[-1]),
        rate_hz=clip.rate_hz,
        reps=tuple(
            _measured(
                seen,
                rep,
                number,
                side,
                _away(seen, rep, settings.reach_m),
                *_slow(seen, rep, at_life_speed, notes.slow_in_part or False),
                said,
            )
            for number, rep in enumerate(reps, 1)
        ),
        fault=None,
        provenance=made,
    )


def _waiting(seen: Observed, attacker: GroundTrack) -> FloatArray:
    """Where the attacker waits, the times included at which the defender hides him."""
    camera_xy_m = seen.ground.camera.centre_m[:2]
    return held_behind(seen.clip.t_s, attacker.xy_m, seen.defender_ground.xy_m, camera_xy_m)


def _check_stated(seen: Observed, reps: tuple[Rep, ...], arrival_s: float) -> None:
    """Refuse a stated arrival that cannot be one.

    Raises:
        NothingToMeasure: the film is over by then, or nobody has set out.
    """
    end_s = float(seen.clip.t_s[-1])
    why = f"the film ends at {end_s:.2f} s" if arrival_s > end_s else "nobody has set out by then"
    if arrival_s > end_s or not any(rep.source is ArrivalSource.STATED for rep in reps):
        raise NothingToMeasure(
            seen.clip.path,
            f"its arrival is stated at {arrival_s:.2f} s, but {why}",
            "set it again with posecheck names",
        )


def _steps(seen: Observed, where: BoolArray | None = None) -> Steps | None:
    return steps_of(seen.defender, seen.defender_ground, where, seen.clip.slow_motion)


def _slow_steps(seen: Observed, rep: Rep) -> Steps | None:
    """The defender's steps, if they show that the film plays slower than life."""
    until_s = rep.end_s if rep.arrival_s is None else rep.arrival_s
    steps = _steps(seen, in_window(seen.clip.t_s, rep.start_s, until_s))
    return steps if steps is not None and steps.slow else None


def _slow(
    seen: Observed, rep: Rep, at_life_speed: bool, in_part: bool
) -> tuple[Steps | None, str | None]:
    """Whether a rep plays slower than life: the steps that show it of the whole, and what shows it
    of a part.

    Args:
        seen: the clip.
        rep: in it.
        at_life_speed: the coach says that it plays at the speed of life.
        in_part: he says that only a part of it is slower.
    """
    if in_part:
        return None, "the coach says so"
    if at_life_speed:
        return None, None
    if (steps := _slow_steps(seen, rep)) is not None:
        return steps, None
    part = slow_part(seen.defender, seen.defender_ground, (rep.start_s, rep.end_s))
    return None, None if part is None else part.described


def _measured(
    seen: Observed,
    rep: Rep,
    number: int,
    spot_side: Side | None,
    away: OutOfReach | None,
    slow: Steps | None,
    slow_in_part: str | None,
    said_of_film: tuple[str, ...],
) -> RepResult:
    clip = seen.clip
    drawn = drawn_xy_px(seen.defender, seen.defender_close)
    with stage(Stage.PICTURES):
        picture, looks = see_arrival(clip, rep, seen.defender, drawn, seen.frames)
    within_s = None if slow or slow_in_part else _arrival_within_s(seen, rep, away)
    return RepResult(
        number=number,
        rep=rep,
        measures=measure_rep(
            rep,
            seen.stance,
            seen.defender_ground,
            None if away else seen.attacker_ground,
            seen.ground,
            cone_xy_m=seen.cone_xy_m,
            spot_side=spot_side,
            no_attacker_because=away.because if away else None,
            looks=looks,
            unfit_because=f"the film looks like slow motion: {slow.described}" if slow else None,
            untimed_because=PLAYS_SLOW if slow_in_part else None,
        ),
        series=_series(seen, rep, drawn),
        film=(*said_of_film, *said_of_expected(rep)),
        roles=f"{seen.roles}; nothing is measured against him: {away.because}"
        if away
        else seen.roles,
        scale=seen.ground.described,
        on_field=seen.ground.on_field,
        picture=picture.jpeg if picture else None,
        picture_scale=picture.scale if picture else 1.0,
        picture_t_s=picture.t_s if picture else None,
        quality=grade_film(
            rep,
            seen.stance,
            seen.motion,
            looks,
            size_px=(clip.width_px, clip.height_px),
            distance_m=_distance_m(seen, rep),
            # From players alone it is not known well enough to speak of.
            phone_m=float(seen.ground.camera.centre_m[2]) if seen.ground.on_field else np.nan,
            steps=slow,
            slow_in_part=slow_in_part,
        ),
        arrival_within_s=within_s,
    )


def _arrival_within_s(seen: Observed, rep: Rep, away: OutOfReach | None) -> float | None:
    if rep.arrival_s is None:
        return None
    attacker, because = (None, away.because) if away else (seen.attacker_ground, None)
    place, ground, cone_xy_m = seen.defender_ground, seen.ground, seen.cone_xy_m
    run = Run(rep, rep.arrival_s, place, attacker, ground, cone_xy_m, None, because)
    return arrival_within_s(run)


def _away(seen: Observed, rep: Rep, reach_m: float) -> OutOfReach | None:
    """The player taken for the attacker, when he is never within reach in this rep."""
    attacker = seen.attacker_ground
    if attacker is None:
        return None
    during = (rep.start_s, rep.end_s)
    if rep.source is ArrivalSource.STATED:
        during = (-np.inf, np.inf)  # the coach may call it arrival well before he is within reach
    return out_of_reach(seen.defender_ground, attacker, seen.ground, reach_m, *during)


def _distance_m(seen: Observed, rep: Rep) -> float:
    """From the camera to the defender's feet at arrival, NaN when not known."""
    if rep.arrival_s is None:
        return float("nan")
    arrival = nearest_frame(seen.clip.t_s, rep.arrival_s)
    there = np.append(seen.defender_ground.xy_m[arrival], 0.0)
    return float(np.linalg.norm(there - seen.ground.camera.centre_m))


def _series(seen: Observed, rep: Rep, drawn: FloatArray) -> Series:
    stance, attacker = seen.stance, seen.attacker
    during = (stance.t_s >= rep.start_s) & (stance.t_s <= rep.end_s)
    n = int(during.sum())
    place = seen.attacker_ground
    return Series(
        t_s=stance.t_s[during],
        knee_bend_deg=stance.knee_bend_deg[during],
        trunk_lean_deg=stance.trunk_lean_deg[during],
        speed_mps=seen.defender_ground.speed_mps[during],
        defender_xy_m=seen.defender_ground.xy_m[during],
        attacker_xy_m=place.xy_m[during] if place else np.full((n, 2), np.nan),
        defender_xy_px=drawn[during],
        attacker_xy_px=attacker.believed_xy_px[during] if attacker else np.full((n, 33, 2), np.nan),
    )
