"""The files of an output folder that hold something of a clip.

Every such file carries the beginning of the digest of its clip in its name, whoever writes it, so
that all that is kept of a clip can be found and taken away.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from posecheck.errors import RecordError
from posecheck.files import names

DIGEST_CHARS = 8
"""At least so much of a digest stands in each name.

Source: definition
"""

_FOLDERS = (
    names.CLIPS_FOLDER,
    names.KEYPOINTS_FOLDER,
    names.PICTURES_FOLDER,
    names.PLAYERS_FOLDER,
    names.SERIES_FOLDER,
    names.STILLS_FOLDER,
)
"""Folders of results that hold such files.

Source: definition
"""

_HALF = r"[0-9a-f]{16}"

_NAMED = re.compile(
    rf"{_HALF}-({_HALF}|\d+-[0-9a-f]{{8}})(-\d+)?\.(parquet|jpg|mp4)"
    rf"|.*-\d+-[0-9a-f]{{{DIGEST_CHARS}}}(-\w+)?\.(mp4|jpg|json)"
)
"""Names of such files: half a digest and what stands behind it, or clip, rep and the beginning of a
digest."""


def files_of(folder: Path, clip_digest: str) -> Iterator[Path]:
    """Every file of a clip in an output folder."""
    mark = clip_digest[:DIGEST_CHARS]
    for path in sorted(folder.rglob("*")):
        if mark in path.name and path.is_file():
            yield path


def files_of_no_clip(folder: Path, clip_digests: Iterable[str]) -> Iterator[Path]:
    """Files of clips that are none of those on record: of film that was there before, or whose
    check was cut short.

    Args:
        folder: of the results.
        clip_digests: of all clips on record.
    """
    known = {digest[:DIGEST_CHARS] for digest in clip_digests}
    for path in sorted(each for name in _FOLDERS for each in (folder / name).rglob("*")):
        of_known = any(mark in path.name for mark in known)
        if _NAMED.fullmatch(path.name) and not of_known and path.is_file():
            yield path


def pictures_of(folder: Path, clip_digest: str) -> Iterator[Path]:
    """Those that show somebody; not what was measured."""
    for path in files_of(folder, clip_digest):
        if path.relative_to(folder).parts[0] not in (names.KEYPOINTS_FOLDER, names.SERIES_FOLDER):
            yield path


def remove(paths: Iterable[Path]) -> list[Path]:
    """Remove files, and give those that were there.

    Raises:
        RecordError: one cannot be removed.
    """
    removed = []
    for path in paths:
        try:
            path.unlink()
        except FileNotFoundError:
            continue
        except OSError as error:
            raise RecordError(
                f"{path}: it cannot be removed ({error.strerror}); change the folder's "
                "permissions, then run the same command again."
            ) from error
        removed.append(path)
    return removed
