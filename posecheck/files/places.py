"""Folders and files that a person names on the command line."""

from __future__ import annotations

import difflib
from pathlib import Path

from posecheck.errors import UsageError


def existing(place: Path, what: str = "folder") -> Path:
    """The same place, when there is something.

    Args:
        place: as named.
        what: is wanted there, for the complaint.

    Raises:
        UsageError: there is nothing; suggests the nearest name that is there.
    """
    if place.exists():
        return place
    near = _near(place)
    remedy = f"did you mean {near}?" if near is not None else "check the name."
    raise UsageError(f"{place}: there is no such {what}; {remedy}")


def existing_folder(place: Path) -> Path:
    """The same place, when it is a folder.

    Raises:
        UsageError: it is none.
    """
    if existing(place).is_dir():
        return place
    raise UsageError(f"{place}: this is a file; name the folder it lies in.")


def _near(place: Path) -> Path | None:
    """The place with its first missing part put right, None when nothing there is like it."""
    missing = place
    while not missing.parent.exists():
        missing = missing.parent
    try:
        beside = [path.name for path in missing.parent.iterdir() if not path.name.startswith(".")]
    except OSError:
        return None
    lower = {name.lower(): name for name in beside}
    near = difflib.get_close_matches(missing.name.lower(), lower, n=1, cutoff=0.65)
    if not near:
        return None
    put_right = missing.parent / lower[near[0]] / place.relative_to(missing)
    return put_right if put_right.exists() else missing.parent / lower[near[0]]
