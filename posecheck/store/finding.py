"""Find the record of a practice, or those of all practices that lie below a folder."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from posecheck.errors import UsageError
from posecheck.files.names import OUTPUT_FOLDER, RECORD_FILE
from posecheck.files.places import existing

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
        if (place / RECORD_FILE).exists():
            return place / RECORD_FILE
    below = [_named(record) for record in records_below(folder, [])] if folder.is_dir() else []
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
    if not place.is_dir():
        faults.append(f"{place}: there is no such folder; check the name.")
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
