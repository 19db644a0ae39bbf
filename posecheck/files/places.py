"""Folders and files that a person names on the command line."""

from __future__ import annotations

import difflib
import errno
from pathlib import Path

from posecheck.errors import UsageError


def there(path: Path) -> bool:
    """Whether there is a file or a folder; none has a name longer than the system takes.

    Raises:
        UsageError: the folder it would lie in cannot be looked into.
    """
    try:
        return path.exists()
    except OSError as error:
        if error.errno == errno.ENAMETOOLONG:
            return False
        raise UsageError(
            f"{path.parent}: the folder cannot be looked into ({error.strerror}); change its "
            "permissions."
        ) from None


def is_folder(path: Path) -> bool:
    """Whether there is a folder.

    Raises:
        UsageError: as :func:`there`.
    """
    return there(path) and path.is_dir()


def existing(place: Path, what: str = "folder") -> Path:
    """The same place, when there is something.

    Args:
        place: as named.
        what: is wanted there, for the complaint.

    Raises:
        UsageError: there is nothing, or nobody may look; suggests the nearest name that is there.
    """
    if there(place):
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
    while not there(missing.parent):
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
    return put_right if there(put_right) else missing.parent / lower[near[0]]
