"""Write files so that at every moment each is either whole or not there."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from posecheck.errors import RecordError


def write_whole(path: Path, write: Callable[[BinaryIO], object]) -> None:
    """Let ``write`` fill a file of another name in the same folder, then move it into place.

    Raises:
        RecordError: the folder cannot be written to, or the disk is full.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.stem[:40]}-", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                write(file)
                file.flush()
                os.fsync(file.fileno())
            Path(name).replace(path)
        except BaseException:
            with suppress(OSError):
                Path(name).unlink()
            raise
    except OSError as error:
        raise RecordError(
            f"{path.parent}: {path.name} cannot be written ({error.strerror or error}); make room "
            "or mend the folder's permissions, then run the same command again."
        ) from error
