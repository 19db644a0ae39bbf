"""Folders of results, known by what is in them."""

from __future__ import annotations

import re
from pathlib import Path

from posecheck.errors import UsageError
from posecheck.files.names import KEYPOINTS_FOLDER, OUTPUT_FOLDER, RECORD_FILE, SERIES_FOLDER
from posecheck.files.places import is_folder, there

APPLICATION_ID = 0x706F7365
"""Marks a database as posecheck's: "pose" in ASCII.

Source: definition
"""

_HEADER = b"SQLite format 3\0"
_ID_AT = slice(68, 72)
"""Where a database keeps whose it is, big-endian.

Source: published, SQLite, Database File Format, 1.3
"""

_OF_A_CLIP = re.compile(r"[0-9a-f]{16}-[0-9a-f]{16}\.parquet")


def holds_results(folder: Path) -> bool:
    """Whether posecheck wrote this folder: by its record, or where that was moved away by files
    named after the content of clips."""
    try:
        return _is_record(folder / RECORD_FILE) or any(
            _OF_A_CLIP.fullmatch(path.name)
            for name in (SERIES_FOLDER, KEYPOINTS_FOLDER)
            for path in (folder / name).glob("*.parquet")
        )
    except OSError:  # nobody may look into it: whoever goes through it says so
        return False


def place_for_results(folder: Path) -> Path:
    """The same folder, where results may go: new, empty, or with results in it.

    Raises:
        UsageError: it is somebody else's.
    """
    # A record that cannot be used says so itself when it is opened.
    if holds_results(folder) or there(folder / RECORD_FILE) or not is_folder(folder):
        return folder
    try:
        others = any(not path.name.startswith(".") for path in folder.iterdir())
    except OSError as error:
        raise UsageError(
            f"{folder}: the folder cannot be looked into ({error.strerror}); change its "
            "permissions or name another with --out."
        ) from None
    if others:
        raise UsageError(
            f"{folder}: there are other files in this folder and no results of posecheck; name a "
            "new one with --out."
        )
    return folder


def _is_record(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            head = file.read(_ID_AT.stop)
    except OSError:
        return False
    # A run that was stopped at once leaves an empty one.
    return not head or (
        head.startswith(_HEADER) and head[_ID_AT] == APPLICATION_ID.to_bytes(4, "big")
    )


def to_be_named(practice: Path, results: Path) -> Path:
    """What a command is given to find results: the practice's folder where they lie inside it, as
    they usually do, else their own."""
    inside = practice / OUTPUT_FOLDER
    return practice if results.resolve() == inside.resolve() else results
