"""The films of players' own files: drawn once, kept beside the files, drawn again when measured
again or when the code that draws and blurs them has changed."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

from posecheck.files.names import PLAYERS_FOLDER
from posecheck.files.whole_file import write_whole
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.own_clip import OwnFilm, own_film
from posecheck.pipeline.fingerprint import sources_of
from posecheck.players.detector import FindsPeople
from posecheck.players.tracker import follow_players
from posecheck.practice.practice import Practice
from posecheck.store.record import Record
from posecheck.video.clip import open_clip

_FILMS = "films"
"""Folder of the kept films, beside the players' files."""


def films_of(
    record: Record,
    practice: Practice,
    result: ClipResult,
    reps: list[RepResult],
    reader: Callable[[], FindsPeople],
) -> list[OwnFilm]:
    """The film of each of a clip's reps for its player, drawn if it is not kept.

    Args:
        record: that holds the result.
        practice: whose clip.
        result: of the clip.
        reps: of the clip.
        reader: gives what finds people; called only when something must be drawn.

    Raises:
        ClipError: the clip is no longer there, or cannot be read.
        RecordError: the folder cannot be written to.
    """
    kept = [_kept(record, result, rep) for rep in reps]
    films = [_read(*paths, measured=record.series_path(result)) for paths in kept]
    if all(film is not None for film in films):
        return [film for film in films if film is not None]
    clip = open_clip(result.path, practice.slow_motion_for(result.path))
    followed = follow_players(clip, reader())
    drawn = []
    for rep, (mp4, jpeg), film in zip(reps, kept, films, strict=True):
        if film is None:
            film = own_film(clip, rep, followed)
            for older in mp4.parent.glob(f"{_stem(result, rep)}-*"):
                older.unlink()
            for path, data in ((jpeg, film.jpeg), (mp4, film.mp4)):
                write_whole(path, lambda file, data=data: file.write(data))  # type: ignore[misc]
        drawn.append(film)
    return drawn


def _kept(record: Record, result: ClipResult, rep: RepResult) -> tuple[Path, Path]:
    folder = record.folder / PLAYERS_FOLDER / _FILMS
    stem = f"{_stem(result, rep)}-{_drawn_by()}"
    return folder / f"{stem}.mp4", folder / f"{stem}.jpg"


def _stem(result: ClipResult, rep: RepResult) -> str:
    return f"{result.clip_digest[:16]}-{rep.number}"


@cache
def _drawn_by() -> str:
    """Stands for the code that draws and blurs: what it once let through must not stay."""
    return sources_of("posecheck.pages.own_clip").fingerprint()[:8]


def _read(mp4: Path, jpeg: Path, measured: Path) -> OwnFilm | None:
    """What is kept, None when it is not there or older than the measures."""
    if not (mp4.exists() and jpeg.exists()):
        return None
    if mp4.stat().st_mtime < measured.stat().st_mtime:
        return None
    return OwnFilm(mp4.read_bytes(), jpeg.read_bytes())
