"""A coach with limits of his own, who rules on invented reps: what tuning should find again."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from factories import make_clip_result, make_rep_result

from posecheck.agreement.ruled import RuledRep
from posecheck.files.names import OUTPUT_FOLDER, RECORD_FILE
from posecheck.judging.asked import Asked
from posecheck.judging.ruling import CLEAN, About, CoachRuling, Ruling
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, judge
from posecheck.measures.measure import Measure
from posecheck.measures.quantities import QUANTITIES
from posecheck.practice.practice import Practice
from posecheck.store.record import Record

AT = dt.datetime(2026, 5, 12, 19, 30, tzinfo=dt.UTC)

# (mean, spread) of the truth in a practice, and the error bars' standard deviations, which differ
# from rep to rep as film does.
SPREAD = {
    "knee_bend_deg": (46, 16, 2, 6),
    "trunk_lean_deg": (33, 11, 1.5, 4),
    "hip_drop": (0.18, 0.06, 0.01, 0.03),
    "hand_reach": (0.6, 0.17, 0.03, 0.09),
    "base_width": (1.95, 0.3, 0.05, 0.15),
    "arrival_speed_mps": (2.2, 1.0, 0.1, 0.3),
    "braking_distance_m": (2.3, 0.8, 0.1, 0.3),
    "speed_kept": (0.6, 0.18, 0.02, 0.08),
    "overrun_m": (0.3, 0.7, 0.05, 0.25),
    "goal_side_m": (1.2, 0.8, 0.1, 0.3),
    "approach_offset_m": (0.6, 0.3, 0.05, 0.15),
    "heading_deg": (0, 25, 2, 6),
}


@dataclass(frozen=True)
class Coach:
    """A coach.

    Attributes:
        limits: his own.
        slips: share of reps on which he rules the opposite of what he sees.
        names: share of the wrong calls for which he names another.
    """

    limits: Thresholds
    slips: float = 0.0
    names: float = 1.0


def rulings(
    coach: Coach,
    n: int,
    seed: int,
    machine: Thresholds | None = None,
    fixed: dict[str, float] | None = None,
    blurred: float = 1.0,
) -> list[RuledRep]:
    """``n`` reps judged by the machine's limits and ruled by a coach who sees the truth.

    The truth lies about each reading as its error bar states. Quantities in ``fixed`` are the same
    in every rep; error bars are ``blurred`` times as long as usual.
    """
    machine = machine or Thresholds()
    rng = np.random.default_rng(seed)
    asked = Asked()
    reps = []
    for _ in range(n):
        read, true = {}, {}
        late = rng.normal(2, 4)
        for quantity in QUANTITIES:
            key = quantity.key
            base = "knee_bend_deg" if key == "late_knee_bend_deg" else key
            middle, spread, least, most = SPREAD.get(base, (*_of_plot(quantity), 0.01, 0.02))
            value = rng.normal(middle, spread)
            if key == "late_knee_bend_deg":
                value = read["knee_bend_deg"].value + late
            if fixed and key in fixed:
                value, least, most = fixed[key], 1e-3, 2e-3
            error = blurred * rng.uniform(least, most)
            read[key] = _measure(key, value, error)
            true[key] = _measure(key, value + rng.normal(0, error), 0.0)
        verdict = judge(read, machine, asked)
        sees = judge(true, coach.limits, asked)
        reps.append(RuledRep(read, asked, _rule(coach, verdict, sees, machine, rng)))
    return reps


def on_record(folder: Path, reps: Sequence[RuledRep], machine: Thresholds | None = None) -> Path:
    """A practice whose one clip holds these reps, judged and ruled as they say; its record."""
    folder.mkdir(parents=True, exist_ok=True)
    practice, limits = Practice(folder.resolve(), folder.name), machine or Thresholds()
    results = tuple(
        dataclasses.replace(
            make_rep_result(number=number, start_s=10.0 * number, picture=False),
            measures=dict(rep.measures),
        )
        for number, rep in enumerate(reps, start=1)
    )
    clip = make_clip_result(practice.folder / "all.mp4", reps=results)
    path = folder / OUTPUT_FOLDER / RECORD_FILE
    with Record(path, make=True) as record:
        record.save(practice, clip)
        verdicts = {
            (clip.clip_digest, number): judge(rep.measures, limits, rep.asked)
            for number, rep in enumerate(reps, start=1)
        }
        record.save_verdicts(verdicts, limits)
        for number, rep in enumerate(reps, start=1):
            said = rep.ruling
            record.rule(clip.clip_digest, number, said.ruling, said.instead, said.at)
    return path


def _rule(coach, verdict, sees, machine, rng) -> CoachRuling:
    about = About.of(verdict, machine.digest())
    flags = [finding.rule for finding in sees.flags]
    if about.rule is not None:
        right = about.rule in flags
    elif about.call is Call.CLEAR:
        right = not flags
    else:
        right = False  # he can tell
    instead = None
    if rng.random() < coach.slips:
        right = not right
    elif not right and rng.random() < coach.names:
        instead = flags[0] if flags else CLEAN
        if instead == about.rule:  # cannot be: it would have been right
            raise AssertionError
    return CoachRuling(Ruling.RIGHT if right else Ruling.WRONG, about, AT, instead)


def _measure(key: str, value: float, error: float) -> Measure:
    return Measure(key, value, value - 1.645 * error, value + 1.645 * error, "made up")


def _of_plot(quantity) -> tuple[float, float]:
    low, high = quantity.plotted
    return (low + high) / 2, (high - low) / 10
