"""Write files so that at every moment each is either whole or absent."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from posecheck.errors import RecordError


def replace_whole(
    path: Path, write: Callable[[BinaryIO], object], permissions: int | None = None
) -> None:
    """Let ``write`` fill a file of another name in the same folder, then move it into place.

    Several processes may do this at once: each writes a file of its own.

    Args:
        path: of the finished file; its folder must exist.
        write: fills the file it is given.
        permissions: of the finished file, such as ``0o644``; None keeps those of a temporary
            file, which nobody but its owner may read.

    Raises:
        OSError: the folder cannot be written to, or the disk is full. Nothing is left behind.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.stem[:40]}-", dir=path.parent)
    partial = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            write(file)
            file.flush()
            os.fsync(file.fileno())
        if permissions is not None:
            partial.chmod(permissions)
        partial.replace(path)
    except BaseException:
        with suppress(OSError):
            partial.unlink()
        raise


def write_whole(path: Path, write: Callable[[BinaryIO], object]) -> None:
    """The same for a file of the record or of a practice; makes its folder if need be.

    Raises:
        RecordError: the folder cannot be written to, or the disk is full.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        replace_whole(path, write)
    except OSError as error:
        raise RecordError(
            f"{path.parent}: {path.name} cannot be written ({error.strerror or error}); free some "
            "space or fix the folder's permissions, then run the same command again."
        ) from error
