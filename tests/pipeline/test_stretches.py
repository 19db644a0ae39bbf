"""What a stretch of a long film holds, by what measuring its cut says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from factories import make_clip_result

from posecheck.errors import NothingToMeasure
from posecheck.measures.result import ClipResult
from posecheck.pipeline.stretches import NOT_SEEN_TO_ARRIVE, judged
from posecheck.practice.cuts import Stretch, StretchKind
from posecheck.reps.rep import ArrivalSource

CLOSEOUT = Stretch(10, 18, StretchKind.REP, "somebody runs at somebody who stands")


def measured(*arrivals_s: float | None) -> ClipResult:
    """A result with a rep for each moment of arrival, None where he is not seen to arrive."""
    result = make_clip_result(Path("cut.mp4"))
    (rep, *_) = result.reps
    reps = tuple(
        replace(
            rep,
            rep=replace(
                rep.rep, arrival_s=at, source=None if at is None else ArrivalSource.ATTACKER
            ),
        )
        for at in arrivals_s
    )
    return replace(result, reps=reps)


def test_a_run_whose_arrival_is_not_seen_is_listed_and_no_rep() -> None:
    stretch = judged(CLOSEOUT, measured(None))
    assert (stretch.kind, stretch.why) == (StretchKind.UNSURE, NOT_SEEN_TO_ARRIVE)
    # Measured again, by a later posecheck say, it may be one after all.
    assert judged(stretch, measured(3.0)) == CLOSEOUT


def test_an_expected_arrival_makes_a_rep() -> None:
    result = measured(None)
    (rep,) = result.reps
    expected = replace(rep, rep=replace(rep.rep, expected_s=3.0))
    assert judged(CLOSEOUT, replace(result, reps=(expected,))) == CLOSEOUT
    to_nobody = replace(CLOSEOUT, kind=StretchKind.NONE)
    assert judged(to_nobody, replace(result, reps=(expected,))) == CLOSEOUT


@pytest.mark.parametrize("arrivals_s", [(3.0,), (None, 6.0)])
def test_one_arrival_makes_a_rep(arrivals_s: tuple[float | None, ...]) -> None:
    assert judged(CLOSEOUT, measured(*arrivals_s)) == CLOSEOUT


def test_what_measuring_refuses_is_listed_with_its_reason() -> None:
    refused = NothingToMeasure(Path("cut.mp4"), "nobody runs out at anybody", "leave it out")
    stretch = judged(CLOSEOUT, refused)
    assert stretch.kind is StretchKind.UNSURE
    assert "nobody runs out at anybody" in stretch.why
