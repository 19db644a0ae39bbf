"""Reps of long films whose start or end the coach moved.

Cut out again such a rep is another clip, so what was said of it goes along, and the clip that it
was leaves the record, where the rep would count twice.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from posecheck.errors import ClipError
from posecheck.files.digest import file_digest
from posecheck.files.names import CUTS_FOLDER
from posecheck.pipeline.cut_out import cut_out
from posecheck.practice.clips_file import Said, write_clips
from posecheck.practice.cuts import FilmCuts, Stretch
from posecheck.practice.found_cuts import read_cuts
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice, read_said
from posecheck.practice.set_cuts import read_set
from posecheck.store.files_of_clip import files_of, remove
from posecheck.store.record import Record
from posecheck.video.film import read_header


def carry_over(practice: Practice, record: Record, clips: Iterable[Path]) -> Practice:
    """Cut out again what was moved in long films, with the names, rulings and stars that it had.

    Args:
        practice: of the films.
        record: of it.
        clips: that are going to be checked; other films are left alone.

    Returns:
        The practice with its notes on clips as they are now.

    Raises:
        SettingsError: a file that the coach wrote cannot be used.
        RecordError: something cannot be written or removed.
    """
    films = {practice.clip_key(clip): clip for clip in clips}
    his = read_set(practice.folder)
    notes = practice.notes
    for cuts in read_cuts(record.folder):
        moved = cuts.moved(his.get(cuts.film, ()))
        if not moved or cuts.film not in films:
            continue
        try:
            _carry_over_film(practice, record, films[cuts.film], cuts, moved)
        except ClipError:
            continue  # the check says what is wrong with the film
        notes = read_practice(practice.folder).notes
    return replace(practice, notes=notes)


def _carry_over_film(
    practice: Practice,
    record: Record,
    film: Path,
    cuts: FilmCuts,
    moved: Iterable[tuple[Stretch, Stretch]],
) -> None:
    """The same for one film.

    Raises:
        ClipError: it cannot be read.
        SettingsError, RecordError: as above.
    """
    if file_digest(film) != cuts.digest:
        return  # another film by now
    times = practice.slow_motion_for(film) or read_header(film).slow_motion
    inside = record.folder / CUTS_FOLDER
    known = {practice.clip_key(path): digest for path, digest in record.clips(practice)}
    for old, new in moved:
        cut = inside / cut_out(record.folder, film, cuts, new)
        key = practice.clip_key(inside / str(old.cut))
        later_s = (old.from_s - new.from_s) / times
        _move_notes(practice, key, practice.clip_key(cut), later_s, (new.to_s - new.from_s) / times)
        if (was := known.get(key)) is not None and (now := file_digest(cut)) != was:
            remove(files_of(record.folder, was))
            record.replace_clip(was, now, later_s)


def _move_notes(practice: Practice, key: str, to: str, later_s: float, lasts_s: float) -> None:
    added, said = read_said(practice.folder, practice)
    if key in said:
        moved = _later(said.pop(key), later_s, lasts_s)
        write_clips(practice.folder, added.values(), {to: moved, **said})


def _later(said: Said, later_s: float, lasts_s: float) -> Said:
    """What was said of a clip, for one that begins earlier; moments outside of it are dropped."""
    arrival_s, at = said.arrival_s, said.defender_at
    if arrival_s is not None:
        arrival_s = arrival_s + later_s if 0 <= arrival_s + later_s <= lasts_s else None
    if at is not None:
        moved = replace(at, t_s=at.t_s + later_s)
        at = moved if 0 <= moved.t_s <= lasts_s else None
    return replace(said, arrival_s=arrival_s, defender_at=at)
