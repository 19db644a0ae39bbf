"""The files of an output folder that hold something of a clip.

Every such file carries the beginning of the digest of its clip in its name, whoever writes it, so
that all that is kept of a clip can be found and taken away.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from posecheck.errors import RecordError
from posecheck.files.names import KEYPOINTS_FOLDER, SERIES_FOLDER

DIGEST_CHARS = 8
"""At least so much of a digest stands in each name.

Source: definition
"""


def files_of(folder: Path, clip_digest: str) -> Iterator[Path]:
    """Every file of a clip in an output folder."""
    mark = clip_digest[:DIGEST_CHARS]
    for path in sorted(folder.rglob("*")):
        if mark in path.name and path.is_file():
            yield path


def pictures_of(folder: Path, clip_digest: str) -> Iterator[Path]:
    """Those that show somebody; not what was measured."""
    for path in files_of(folder, clip_digest):
        if path.relative_to(folder).parts[0] not in (KEYPOINTS_FOLDER, SERIES_FOLDER):
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
