"""Films that posecheck made, known from film of a practice by a line written into them.

A film keeps the line wherever it is copied or moved to, and when it is put into another container.
"""

from __future__ import annotations

import stat
from pathlib import Path
from typing import BinaryIO

COMMENT = "Made by posecheck, not film of a practice."
"""Goes into a film's metadata, where players show it as its comment."""

METADATA = {"comment": COMMENT}

_FRONT_BYTES = 65_536
"""Other containers than MP4 keep their metadata within so much of the front.

Source: guess (annotated clips put into MKV have it within the first 1,024)
"""

_INDEX_BYTES = 64_000_000
"""An MP4's index is not looked through beyond this: an hour of film has one of 2 MB.

Source: guess
"""


def is_own_film(path: Path) -> bool:
    """Whether posecheck made a film; False also for what cannot be read.

    Only a file's own structure is gone through, nothing is decoded: this is asked of every file of
    a folder before anything is measured.
    """
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            return False  # a pipe would keep us waiting
        with path.open("rb") as file:
            mark = COMMENT.encode()
            return mark in file.read(_FRONT_BYTES) or mark in _index(file)
    except OSError:
        return False


def _index(file: BinaryIO) -> bytes:
    """The box ``moov`` of an MP4 or QuickTime file, empty when there is none."""
    at, end = 0, file.seek(0, 2)
    while at + 8 <= end:
        file.seek(at)
        head = file.read(16)
        size, kind = int.from_bytes(head[:4], "big"), head[4:8]
        if size == 1:  # a size of 64 bits follows
            size = int.from_bytes(head[8:16], "big")
        elif size == 0:  # up to the end of the file
            size = end - at
        if kind == b"moov":
            file.seek(at)
            return file.read(min(size, _INDEX_BYTES))
        if size < 8:
            break
        at += size
    return b""
