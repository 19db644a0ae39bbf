"""Write files so that at every moment each is either whole or not there."""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from posecheck.errors import RecordError


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A file of another name in the same folder, for the block to write.

    It is moved into place when the block ends well, and removed when it does not.

    Raises:
        RecordError: the folder cannot be written to, or the disk is full.
    """
    part = path.with_name(f".{path.stem[:40]}-{secrets.token_hex(4)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            yield part
            with part.open("r+b") as file:
                os.fsync(file.fileno())
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise RecordError(
            f"{path.parent}: {path.name} cannot be written ({error.strerror or error}); free "
            "some space or change the folder's permissions, then run the same command again."
        ) from error


def write_whole(path: Path, write: Callable[[BinaryIO], object]) -> None:
    """Let ``write`` fill a file that appears only when it is complete.

    Raises:
        RecordError: the folder cannot be written to, or the disk is full.
    """
    with whole_file(path) as part, part.open("xb") as file:
        write(file)
