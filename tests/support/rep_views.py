"""Made-up reps as pages show them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from factories import make_clip_result

from posecheck.judging.asked import Asked
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import judge
from posecheck.measures.result import RepResult
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
