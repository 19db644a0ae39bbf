"""Judge what is on record: the practice's plan and the thresholds meet the measures.

No pixel is touched, so a season is judged again in seconds.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from posecheck.filming.quality import NOT_GRADED, FilmQuality
from posecheck.judging.asked import Asked
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, Verdict, judge
from posecheck.measures.measure import Measure
from posecheck.measures.result import ClipResult
from posecheck.pipeline.sides import turned
from posecheck.practice.practice import Practice
from posecheck.store.record import MeasuredRep, Record


@dataclass(frozen=True)
class Rejudged:
    """A rep on record with the verdict it gets now."""

    rep: MeasuredRep
    verdict: Verdict

    @property
    def changed(self) -> bool:
        """True when another call than before is made of the rep or of one of the rules."""
        before = self.rep.verdict
        return before is None or _calls(before) != _calls(self.verdict)


def judge_rep(
    measures: Mapping[str, Measure],
    practice: Practice,
    clip: Path,
    thresholds: Thresholds,
    film: FilmQuality = NOT_GRADED,
) -> Verdict:
    """Judge one rep of a clip by what the practice says of it; ``film`` gives the advice."""
    return judge(measures, thresholds, Asked.of(practice, practice.notes_for(clip)), film)


def judge_clip(
    record: Record, practice: Practice, result: ClipResult, thresholds: Thresholds
) -> tuple[Verdict, ...]:
    """Judge a clip's reps, in order, and keep the verdicts.

    Raises:
        RecordError: they cannot be kept.
    """
    verdicts = tuple(
        judge_rep(rep.measures, practice, result.path, thresholds, rep.quality)
        for rep in result.reps
    )
    numbered = zip(result.reps, verdicts, strict=True)
    record.save_verdicts(
        {(result.clip_digest, rep.number): verdict for rep, verdict in numbered}, thresholds
    )
    return verdicts


def rejudge(
    record: Record,
    practice: Practice,
    thresholds: Thresholds,
    turn: Collection[str] = (),
) -> list[Rejudged]:
    """What every rep of a practice gets now; nothing is kept.

    Args:
        record: of the practice.
        practice: as described now.
        thresholds: to judge by.
        turn: digests of clips whose sides have the other sign than on record.

    Raises:
        RecordError: the record cannot be read.
    """
    reps = [
        replace(rep, measures=turned(rep.measures)) if rep.clip_digest in turn else rep
        for rep in record.measured_reps(practice)
    ]
    return [
        Rejudged(rep, judge_rep(rep.measures, practice, rep.clip, thresholds, rep.quality))
        for rep in reps
    ]


def keep(record: Record, rejudged: list[Rejudged], thresholds: Thresholds) -> None:
    """Write verdicts in place of earlier ones.

    Raises:
        RecordError: they cannot be kept.
    """
    record.save_verdicts(
        {(each.rep.clip_digest, each.rep.number): each.verdict for each in rejudged}, thresholds
    )


def _calls(verdict: Verdict) -> dict[str, Call]:
    return {"": verdict.call} | {each.rule: each.call for each in verdict.findings}
