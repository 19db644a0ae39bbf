"""Which files of a folder are clips."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from posecheck.errors import UsageError
from posecheck.files.names import RECORD_FILE, in_order

CLIP_SUFFIXES = frozenset({".mp4", ".mov", ".m4v", ".mkv", ".avi", ".webm", ".3gp", ".mts"})
"""File name endings that a folder search takes for clips."""


def find_clips(paths: Iterable[Path]) -> list[Path]:
    """List the clips that the paths name: files as given, folders searched by file ending.

    Hidden files and posecheck's own output are left out. Order: as given, folders sorted by name,
    each file once.

    Raises:
        UsageError: a folder cannot be looked into.
    """
    found: dict[Path, Path] = {}
    for path in paths:
        for clip in _clips_in(path) if path.is_dir() else [path]:
            found.setdefault(clip.absolute(), clip)
    return list(found.values())


def _clips_in(folder: Path) -> Iterator[Path]:
    try:
        inside = sorted(folder.iterdir(), key=lambda path: in_order(path.name))
    except OSError as error:
        raise UsageError(
            f"{folder}: the folder cannot be looked into ({error.strerror}); change its "
            "permissions or name the clips themselves."
        ) from None
    if folder / RECORD_FILE in inside:
        return
    for path in inside:
        if path.name.startswith("."):
            continue
        if path.is_dir():
            if not path.is_symlink():  # a link may lead back up here
                yield from _clips_in(path)
        elif path.suffix.lower() in CLIP_SUFFIXES:
            yield path
