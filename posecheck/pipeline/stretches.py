"""What a stretch of a long film holds: by what the scan saw, then by what measuring its cut says.

The scan proposes, measuring decides, and what the coach set is left alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from posecheck.errors import NothingToMeasure
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pipeline.film_limits import SAME_TIMES_S
from posecheck.practice.cuts import SetBy, Stretch, StretchKind
from posecheck.reps.rep import ArrivalSource
from posecheck.scan.scan_film import Holds, Scan

_IT_LOOKS_LIKE = {
    Holds.CLOSEOUT: (StretchKind.REP, "somebody runs at somebody who stands"),
    Holds.LONE_RUN: (StretchKind.NONE, "somebody runs, and nobody stands where he runs to"),
    Holds.MAYBE_WALK: (StretchKind.NONE, "somebody walks up to somebody who stands"),
    Holds.SECOND: (StretchKind.UNSURE, "somebody else runs at somebody at the same time"),
}
NOBODY_THERE = "somebody runs, but nobody is seen where he runs to"
NOT_SEEN_TO_ARRIVE = f"{_IT_LOOKS_LIKE[Holds.CLOSEOUT][1]}, but is not seen to arrive"

_LIKE_A_REP = "it looks like a rep, but "


def scan_found(scan: Scan) -> list[Stretch]:
    """The stretches that a scan proposes."""
    return [Stretch(one.from_s, one.to_s, *_IT_LOOKS_LIKE[one.holds]) for one in scan.candidates]


def may_be_rep(stretch: Stretch) -> bool:
    """Whether it is worth measuring what was found there."""
    return stretch.set_by is SetBy.POSECHECK and stretch.why != _IT_LOOKS_LIKE[Holds.SECOND][1]


def judged(stretch: Stretch, outcome: object) -> Stretch:
    """A found stretch, by what measuring its cut has shown."""
    # Where the scan saw nobody stand at the end of a run, measuring must see him.
    lone = stretch.kind is StretchKind.NONE or stretch.why == NOBODY_THERE
    if isinstance(outcome, NothingToMeasure):
        if lone:
            return replace(stretch, kind=StretchKind.NONE)
        return replace(stretch, kind=StretchKind.UNSURE, why=f"{_LIKE_A_REP}{outcome.fault}")
    if isinstance(outcome, ClipResult):
        if lone and not any(map(_arrives, outcome.reps)):
            return replace(stretch, kind=StretchKind.UNSURE, why=NOBODY_THERE)
        # Without that moment nothing is measured at it: he may have run anywhere.
        if outcome.reps and all(rep.rep.about_s is None for rep in outcome.reps):
            return replace(stretch, kind=StretchKind.UNSURE, why=NOT_SEEN_TO_ARRIVE)
    return replace(stretch, kind=StretchKind.REP, why=_IT_LOOKS_LIKE[Holds.CLOSEOUT][1])


def noted(found: tuple[Stretch, ...], one: Stretch) -> tuple[Stretch, ...]:
    """What was found, with what measuring said of one stretch; the coach may have shortened it."""
    if one.set_by is SetBy.COACH:
        return found
    at = max(range(len(found)), key=lambda at: _common_share(found[at], one))
    now = replace(found[at], kind=one.kind, why=one.why)
    return (*found[:at], now, *found[at + 1 :])


def _common_share(one: Stretch, other: Stretch) -> float:
    """How much two stretches share of what either holds; 1 when they are the same."""
    common_s = min(one.to_s, other.to_s) - max(one.from_s, other.from_s)
    either_s = max(one.to_s, other.to_s) - min(one.from_s, other.from_s)
    return common_s / either_s


def _arrives(rep: RepResult) -> bool:
    """Whether a rep is known or expected to end at somebody, or at the cone where he waits."""
    seen_to = rep.rep.source not in (None, ArrivalSource.BRAKING)
    return seen_to or rep.rep.expected_s is not None


def as_before(found: Sequence[Stretch], before: Sequence[Stretch]) -> tuple[Stretch, ...]:
    """What was found, with the times that it had before where they are about the same."""
    settled = []
    for each in found:
        same = next((one for one in before if _alike(one, each)), each)
        settled.append(replace(each, from_s=same.from_s, to_s=same.to_s))
    return tuple(settled)


def _alike(one: Stretch, other: Stretch) -> bool:
    apart_s = max(abs(one.from_s - other.from_s), abs(one.to_s - other.to_s))
    return apart_s <= SAME_TIMES_S
