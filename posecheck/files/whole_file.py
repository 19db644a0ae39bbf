"""Write files so that at every moment each is either whole or absent."""

from __future__ import annotations

import os
import re
import secrets
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from posecheck.errors import RecordError, UsageError
from posecheck.files.places import is_folder, there

LEFT_OVER_S = 3600.0
"""A file that has not grown for so many seconds is not being written any more.

Source: guess
"""

_PART = re.compile(r"\..*-[0-9a-f]{8}\.part", re.DOTALL)


@contextmanager
def replacement(path: Path, lasting: bool = True) -> Iterator[Path]:
    """A file of another name in the same folder, for the block to write.

    It is moved into place when the block succeeds, and removed when it fails. Several processes
    may do this at once: each writes a file of its own.

    Args:
        path: of the file.
        lasting: wait until it lies on the disk, so that it outlives a power cut. Not worth the
            wait for many small files that can be made again in seconds.

    Raises:
        OSError: the folder cannot be written to, or the disk is full.
    """
    part = path.with_name(f".{path.stem[:40]}-{secrets.token_hex(4)}.part")
    try:
        yield part
        if lasting:
            with part.open("r+b") as file:
                os.fsync(file.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def remove_left_over(folder: Path) -> None:
    """Remove what runs that were killed left half written below a folder, an hour later.

    What cannot be removed stays: it does no harm.
    """
    for path in folder.rglob(".*.part"):
        with suppress(OSError):
            if _PART.fullmatch(path.name) and time.time() - path.stat().st_mtime > LEFT_OVER_S:
                path.unlink()


@contextmanager
def whole_file(path: Path, lasting: bool = True) -> Iterator[Path]:
    """The same for a file of the record or of a practice; makes its folder if need be.

    Raises:
        RecordError: the folder cannot be written to, or the disk is full.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with replacement(path, lasting) as part:
            yield part
    except OSError as error:
        raise RecordError(
            f"{path.parent}: {path.name} cannot be written ({error.strerror or error}); free "
            "some space or change the folder's permissions, then run the same command again."
        ) from error


def write_whole(path: Path, write: Callable[[BinaryIO], object], lasting: bool = True) -> None:
    """Let ``write`` fill a file that appears only when it is complete.

    ``lasting`` as for :func:`replacement`.

    Raises:
        RecordError: the folder cannot be written to, or the disk is full.
    """
    with whole_file(path, lasting) as part, part.open("xb") as file:
        write(file)


def write_new(path: Path, text: str) -> None:
    """Write a file that somebody named and will edit; one that is there already is left alone.

    Raises:
        UsageError: there is a file or a folder of this name, or it cannot be written.
    """
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise _taken(path) from None
    except OSError as error:
        raise UsageError(
            f"{path}: it cannot be written ({error.strerror}); name another place."
        ) from None


def refuse_to_overwrite(path: Path, is_own: Callable[[Path], bool] = lambda path: False) -> None:
    """Make sure that nothing is lost when a file that somebody named is written.

    Args:
        path: of the file.
        is_own: whether posecheck wrote the file that is there, so that it may be replaced.

    Raises:
        UsageError: there is a folder of this name, or a file of somebody else's.
    """
    if is_folder(path) or (there(path) and not is_own(path)):
        raise _taken(path)


def _taken(path: Path) -> UsageError:
    if is_folder(path):
        return UsageError(f"{path}: this is a folder; name a file in it.")
    return UsageError(
        f"{path}: there is a file of this name already; name another, or delete it first."
    )
