"""Measured against truth: how far off posecheck is on film whose truth is known."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from posecheck.errors import UsageError
from posecheck.judging.rules import HEADLINE_RULE
from posecheck.judging.verdict import Call, Verdict
from posecheck.maths.arrays import BoolArray, finite_median
from posecheck.measures.quantities import QUANTITIES, Quantity
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pipeline.settings import Settings
from posecheck.pose.skeleton import SKELETON
from posecheck.practice.practice import Practice
from posecheck.scoring.groups import (
    FrameErrors,
    Reading,
    frame_error,
    frame_errors_of,
    readings_of,
)
from posecheck.scoring.truth import Truth, read_truth
from posecheck.scoring.tuning import (
    ARRIVAL_WITHIN_FRAMES,
    FOLLOWED_SHARE,
    FOLLOWED_WITHIN,
    SAME_MOMENT_S,
)


@dataclass(frozen=True)
class Row:
    """One line of the accuracy table.

    Attributes:
        quantity: what is compared.
        n: how many comparisons.
        mean_abs_error, bias, worst: over them, in the quantity's unit; None when n is 0.
        within_interval: share of truths inside the 90 % interval, None where there is none.
        unit: as printed.
        own_error: half of the truth's own 90 % interval, median over the comparisons; None where
            the truth is exact.
    """

    quantity: str
    n: int
    mean_abs_error: float | None
    bias: float | None
    worst: float | None
    within_interval: float | None
    unit: str
    own_error: float | None = None


@dataclass(frozen=True)
class FlagCount:
    """The headline flag against truth.

    Attributes:
        hits: upright run-outs flagged.
        misses: upright run-outs called clear.
        open: upright run-outs where posecheck can't tell, or found no rep.
        false_flags: other reps flagged.
        clear: other reps called clear.
        open_others: other reps where posecheck can't tell, or found no rep.
    """

    hits: int
    misses: int
    open: int
    false_flags: int
    clear: int
    open_others: int


@dataclass(frozen=True)
class Accuracy:
    """Results set beside truth.

    Attributes:
        rows: the table of all quantities.
        flag: the headline flag against truth.
        followed: share of frames from start to arrival in which the defender's hips are followed.
        right_player: reps in which he was chosen, of all reps.
        arrival_within_two_frames: reps, of all reps.
        readings: every figure of every rep that was read.
        frames: errors in single frames of the reps.
    """

    rows: tuple[Row, ...]
    flag: FlagCount
    followed: float
    right_player: tuple[int, int]
    arrival_within_two_frames: tuple[int, int]
    readings: tuple[Reading, ...]
    frames: tuple[FrameErrors, ...]


def measure_accuracy(practice: Practice, settings: Settings, jobs: int = 1) -> Accuracy:
    """Check every clip of a practice that has truth, and set the results beside it.

    Raises:
        UsageError: no clip of the practice has truth.
    """
    from posecheck.files.names import RECORD_FILE
    from posecheck.judging.thresholds import Thresholds
    from posecheck.pipeline.batch import Checked, check_clips
    from posecheck.pipeline.judge import judge_rep
    from posecheck.store.record import Record
    from posecheck.video.folder import find_clips

    truths = {
        path: read_truth(practice.folder, path.stem)
        for path in find_clips([practice.folder])
        if (practice.folder / "truth" / f"{path.stem}.json").exists()
    }
    if not truths:
        raise UsageError(
            f"{practice.folder}: no clip here has truth beside it; name a folder that holds clips "
            "and their truth, such as sample_clips."
        )
    results: list[ClipResult] = []

    def on_result(checked: Checked) -> None:
        if checked.result is not None:
            results.append(checked.result)

    with (
        tempfile.TemporaryDirectory() as folder,
        Record(Path(folder) / RECORD_FILE, make=True) as record,
    ):
        # Truth is of each film as it lies there.
        check_clips(truths, practice, settings, record, jobs, on_result, whole=True)
    limits = Thresholds()
    return compare(
        [
            (
                truths[result.path],
                result,
                [judge_rep(rep.measures, practice, result.path, limits) for rep in result.reps],
            )
            for result in results
        ]
    )


def compare(pairs: Sequence[tuple[Truth, ClipResult, Sequence[Verdict]]]) -> Accuracy:
    """Set results beside truth.

    Args:
        pairs: for each clip its truth, its result, and a verdict for each of its reps.
    """
    matched = [
        (truth, rep, verdict)
        for truth, result, verdicts in pairs
        if truth.has_rep
        for rep, verdict in [_matching_rep(truth, result, verdicts)]
        if rep is not None and verdict is not None
    ]
    rows = [
        *(_frame_row(quantity, matched) for quantity in QUANTITIES if quantity.each_frame),
        *(_measure_row(quantity, matched) for quantity in QUANTITIES if quantity.in_accuracy_table),
    ]
    arrival_errors = [
        (rep.rep.arrival_s - truth.facts["arrival_s"]) / float(np.median(np.diff(truth.t_s)))
        for truth, rep, _ in matched
        if rep.rep.arrival_s is not None
    ]
    rows.append(_row("Arrival moment", arrival_errors, None, "frames"))
    close = [each for each in (_hips_close(t, rep) for t, rep, _ in matched) if len(each)]
    with_rep = sum(truth.has_rep for truth, _, _ in pairs)
    return Accuracy(
        rows=tuple(rows),
        flag=_count_flags(pairs),
        followed=float(np.mean(np.concatenate(close))) if close else float("nan"),
        right_player=(sum(bool(np.mean(each) > FOLLOWED_SHARE) for each in close), with_rep),
        arrival_within_two_frames=(
            sum(abs(e) <= ARRIVAL_WITHIN_FRAMES for e in arrival_errors),
            with_rep,
        ),
        readings=tuple(r for truth, rep, _ in matched for r in readings_of(truth, rep)),
        frames=tuple(f for truth, rep, _ in matched for f in frame_errors_of(truth, rep)),
    )


def _matching_rep(
    truth: Truth, result: ClipResult, verdicts: Sequence[Verdict]
) -> tuple[RepResult | None, Verdict | None]:
    """The rep whose arrival is nearest to the true one."""
    candidates = [
        (abs((rep.rep.arrival_s or np.inf) - truth.facts["arrival_s"]), number)
        for number, rep in enumerate(result.reps)
    ]
    if not candidates:
        return None, None
    _, number = min(candidates)
    return result.reps[number], verdicts[number]


def _row(quantity: str, errors: Iterable[float], inside: list[bool] | None, unit: str) -> Row:
    error = np.asarray([e for e in errors if np.isfinite(e)])
    if not len(error):
        return Row(quantity, 0, None, None, None, None, unit)
    return Row(
        quantity,
        len(error),
        float(np.mean(np.abs(error))),
        float(np.mean(error)),
        float(error[np.argmax(np.abs(error))]),
        float(np.mean(inside)) if inside else None,
        unit,
    )


def _measure_row(quantity: Quantity, matched: Sequence[tuple[Truth, RepResult, Verdict]]) -> Row:
    errors: list[float] = []
    inside: list[bool] = []
    own_errors: list[float] = []
    for truth, rep, _ in matched:
        want, got = truth.facts.get(quantity.key), rep.measures[quantity.key]
        if want is None or got.value is None or got.low is None or got.high is None:
            continue
        errors.append(got.value - want)
        inside.append(got.low <= want <= got.high)
        own_errors.append(truth.own_error.get(quantity.key, float("nan")))
    # Beside a row of single frames it has to be said which moment is meant.
    label = f"{quantity.label} at arrival" if quantity.each_frame else quantity.label
    own_error = finite_median(own_errors)
    row = _row(label, errors, inside, quantity.unit)
    return replace(row, own_error=own_error) if np.isfinite(own_error) else row


def _frame_row(quantity: Quantity, matched: Sequence[tuple[Truth, RepResult, Verdict]]) -> Row:
    errors = [frame_error(truth, rep, quantity.key) for truth, rep, _ in matched]
    label = f"{quantity.label}, each frame"
    return _row(label, np.concatenate(errors) if errors else [], None, quantity.unit)


def _hips_close(truth: Truth, rep: RepResult) -> BoolArray:
    """For each true frame from start to arrival: do the measured hips sit on the true ones?"""
    hips = [SKELETON.index("left_hip"), SKELETON.index("right_hip")]
    during = (truth.t_s >= truth.facts["start_s"]) & (truth.t_s <= truth.facts["arrival_s"])
    # Frames that only one phone shows have no truth.
    during &= np.isfinite(truth.hip_px).all(axis=1)
    measured = rep.series.defender_xy_px[:, hips].mean(axis=1)
    nearest = np.abs(rep.series.t_s[None] - truth.t_s[during][:, None]).argmin(axis=1)
    same_moment = np.abs(rep.series.t_s[nearest] - truth.t_s[during]) < SAME_MOMENT_S
    distance = np.linalg.norm(measured[nearest] - truth.hip_px[during], axis=1)
    close: BoolArray = same_moment & (distance <= FOLLOWED_WITHIN * truth.height_px[during])
    return close


def _count_flags(pairs: Sequence[tuple[Truth, ClipResult, Sequence[Verdict]]]) -> FlagCount:
    counts = dict.fromkeys(["hits", "misses", "open", "false_flags", "clear", "open_others"], 0)
    for truth, result, verdicts in pairs:
        if not truth.has_rep:
            # A flag where nobody closes out is as wrong as one on a clean rep.
            counts["false_flags"] += sum(_headline_call(v) is Call.FLAGGED for v in verdicts)
            continue
        if HEADLINE_RULE in truth.open_rules:
            continue
        _, verdict = _matching_rep(truth, result, verdicts)
        call = _headline_call(verdict) if verdict else Call.CANT_TELL
        upright = HEADLINE_RULE in truth.facts["flags_expected"]
        name = {
            (True, Call.FLAGGED): "hits",
            (True, Call.CLEAR): "misses",
            (True, Call.CANT_TELL): "open",
            (False, Call.FLAGGED): "false_flags",
            (False, Call.CLEAR): "clear",
            (False, Call.CANT_TELL): "open_others",
        }[upright, call]
        counts[name] += 1
    return FlagCount(**counts)


def _headline_call(verdict: Verdict) -> Call:
    return next(f.call for f in verdict.findings if f.rule == HEADLINE_RULE)
