"""Find the records of a season: those of all practices that lie below a folder."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from posecheck.files.names import OUTPUT_FOLDER, RECORD_FILE


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
