"""A checked practice with one long film in it, cut into made-up reps."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from factories import make_clip_result
from films import write_film

from posecheck.files.digest import file_digest
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.measures.result import ClipResult
from posecheck.pages.publish import draw_clips, write_page
from posecheck.pipeline.judge import judge_clip
from posecheck.practice.cuts import FilmCuts, Stretch, StretchKind
from posecheck.practice.found_cuts import write_cuts
from posecheck.practice.reading import read_practice
from posecheck.store.record import Record

FILM = "film-01.mp4"

DIGEST = "f1" * 32
"""By which the page knows the film; made up."""

PRACTICE = """
name = "Tuesday one-on-ones"
club = "Harbor Point Herons"
"""

STRETCHES = (
    Stretch(4.2, 11.9, StretchKind.REP, "one runs at another and stops", "film-01.mp4/a.mp4"),
    Stretch(27.5, 34.5, StretchKind.REP, "one runs at another and stops", "film-01.mp4/b.mp4"),
    Stretch(40.0, 43.0, StretchKind.UNSURE, "the runner leaves the picture", "film-01.mp4/c.mp4"),
    Stretch(46.0, 52.0, StretchKind.NONE, "two walk side by side"),
    Stretch(
        55.0, 61.0, StretchKind.UNSURE, "nobody can be followed to the end", "film-01.mp4/d.mp4"
    ),
    Stretch(62.0, 68.5, StretchKind.REP, "one runs at another and stops", "film-01.mp4/e.mp4"),
)
"""Of which the second goes over a row's end, and of the last nothing can be measured."""

REPS = {
    "film-01.mp4/a.mp4": "upright",
    "film-01.mp4/b.mp4": "breakdown",
    "film-01.mp4/d.mp4": "unclear",
}
"""By cut, what the rep in it reads like."""

FAULT = "nobody comes near anybody; name only clips that show a one-on-one rep."


def make_practice(folder: Path) -> Path:
    """Write it: a film of 75 s that is 160 x 90 pixels; returns the folder."""
    (folder / "practice.toml").write_text(PRACTICE, "utf-8")
    write_film(folder / FILM, range(0, 75_000, 200), size=(160, 90))
    practice = read_practice(folder)
    checked = folder / "checked"
    cuts = FilmCuts(FILM, DIGEST, 75.0, "made up", STRETCHES, (24.0, 53.6), STRETCHES)
    write_cuts(checked, cuts)
    with Record(checked / "record.sqlite", make=True) as record:
        for number, stretch in enumerate(STRETCHES):
            if stretch.cut is None:
                continue
            path = practice.folder / "checked" / "cuts" / stretch.cut
            path.parent.mkdir(exist_ok=True)
            write_film(path, range(0, 1000 + 40 * number, 40), size=(160, 90))
            result = _result(path, REPS.get(stretch.cut))
            record.save(practice, result)
            judge_clip(record, practice, result, DEFAULT_THRESHOLDS)
        draw_clips(record, practice)
        write_page(record, practice, DEFAULT_THRESHOLDS)
    return folder


def _result(path: Path, kind: str | None) -> ClipResult:
    result = make_clip_result(path, kind or "unclear", clip_digest=file_digest(path))
    return result if kind else replace(result, reps=(), fault=FAULT)
