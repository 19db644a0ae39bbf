"""Find the record of a practice, those of all practices below a folder, and what is in one."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from posecheck.errors import UsageError
from posecheck.files.names import (
    CLIPS_FILE,
    OUTPUT_FOLDER,
    POINTS_FILE,
    PRACTICE_FILE,
    RECORD_FILE,
)
from posecheck.files.places import existing, is_folder, there
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.store.record import Record

PRACTICES_NAMED: Final = 5
"""Practices named to one who named the folder that they lie in, at most.

Source: guess
"""


def find_record(folder: Path) -> Path:
    """The database file of a practice that has been checked.

    Args:
        folder: of the practice, or of its results.

    Raises:
        UsageError: there is none, or it is a folder of practices.
    """
    existing(folder)
    for place in (folder, folder / OUTPUT_FOLDER):
        if there(place / RECORD_FILE):
            return place / RECORD_FILE
    below = [_named(record) for record in records_below(folder, [])] if is_folder(folder) else []
    if below:
        more = len(below) - PRACTICES_NAMED
        listed = ", ".join(below[:PRACTICES_NAMED]) + (f" and {more} more" if more > 0 else "")
        raise UsageError(
            f"{folder}: it holds practices and is none that has been checked; name one of them: "
            f"{listed}."
        )
    raise UsageError(
        f"{folder}: nothing has been checked here; run posecheck check first, or name the folder "
        "given to --out."
    )


def _named(record: Path) -> str:
    """What to name to have a record found: its practice's folder, or the one of its results."""
    results = record.parent
    return str(results.parent if results.name == OUTPUT_FOLDER else results)


def records_below(place: Path, faults: list[str]) -> Iterator[Path]:
    """The records below a folder; what cannot be looked into, or holds none, becomes a fault."""
    try:
        if not is_folder(place):
            faults.append(f"{place}: there is no such folder; check the name.")
            return
    except UsageError as error:
        faults.append(str(error))
        return
    before, found = len(faults), False

    def refused(error: OSError) -> None:
        faults.append(
            f"{error.filename}: the folder cannot be looked into ({error.strerror}); change its "
            "permissions."
        )

    for folder, inside, files in os.walk(place, onerror=refused):
        # Results of one practice come before those of practices that lie deeper.
        inside[:] = sorted(
            (name for name in inside if not name.startswith(".")),
            key=lambda name: (name != OUTPUT_FOLDER, name),
        )
        if RECORD_FILE in files:
            inside.clear()
            found = True
            yield Path(folder) / RECORD_FILE
    if not found and len(faults) == before:
        faults.append(
            f"{place}: nothing has been checked here; run posecheck check first, or name the "
            "folder given to --out."
        )


def folders_with_clips(record: Record) -> list[Path]:
    """The folders of a record's practices. A practice that was renamed leaves its earlier name on
    record, without a clip."""
    return [each for each in record.practice_folders() if record.clips(Practice(each, ""))]


def measured_practices(record: Record) -> list[Practice]:
    """The practices of a record that have clips, as they are described now.

    Returns:
        At least one, each knowing its clips.

    Raises:
        UsageError: there is none, or one is no longer where it was: nobody knows who its players
            are.
        SettingsError: a file that describes one cannot be used.
    """
    folders = folders_with_clips(record)
    if not folders:
        raise UsageError(
            f"{record.folder}: nothing has been measured here yet; run posecheck check first."
        )
    return [_described(record, folder) for folder in folders]


def _described(record: Record, folder: Path) -> Practice:
    clips = [path for path, _ in record.clips(Practice(folder, ""))]
    # Film may be gone for good, and a practice needs no description.
    signs = (*(folder / name for name in (PRACTICE_FILE, CLIPS_FILE, POINTS_FILE)), *clips)
    beside = record.folder == folder / OUTPUT_FOLDER
    if not (is_folder(folder) and (beside or any(map(os.path.lexists, signs)))):
        raise UsageError(
            f"{record.path}: its practice is no longer in {folder}, so its players are not known; "
            "move the folder back, or check it again."
        )
    return read_practice(folder).with_clips(clips)
