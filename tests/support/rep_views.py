"""Made-up reps as pages show them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from factories import make_clip_result

from posecheck.judging.asked import Asked
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS, Thresholds
from posecheck.judging.verdict import Verdict, judge
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.practice_page import write_practice_page
from posecheck.pages.rep_page import write_rep_pages
from posecheck.pages.rep_view import RepView, view_rep
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player

BO = Player(4, "Bo Lind")


def views(folder: Path, *kinds: str, player: Player = BO, **of_rep: object) -> list[RepView]:
    """One rep of each kind by one player at one spot; ``of_rep`` changes fields of each."""
    made = []
    for number, kind in enumerate(kinds, 1):
        result = make_clip_result(Path(f"clips/rep-{number:02}.mp4"), kind=kind)
        rep: RepResult = replace(result.reps[0], **of_rep)  # type: ignore[arg-type]
        result = replace(result, reps=(rep,))
        notes = {result.path.as_posix(): ClipNotes(spot="top-left", defender=player)}
        practice = Practice(Path(), "Tuesday", notes=notes)
        verdict = judge(rep.measures, DEFAULT_THRESHOLDS, Asked())
        made.append(view_rep(number, practice, (result, rep, verdict), DEFAULT_THRESHOLDS, folder))
    return made


def write_pages(
    practice: Practice,
    judged: Sequence[tuple[ClipResult, RepResult, Verdict]],
    faults: Sequence[ClipResult],
    thresholds: Thresholds,
    out_dir: Path,
) -> Path:
    """The page of a practice and those of its reps, as they are written from a record."""
    made = [
        view_rep(number, practice, each, thresholds, out_dir)
        for number, each in enumerate(judged, 1)
    ]
    assert write_rep_pages(made, practice, out_dir) == {}
    return write_practice_page(practice, made, faults, thresholds, out_dir)
