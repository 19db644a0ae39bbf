"""How many frames a worker has gone through, for whoever waits for it.

A worker writes the number into a small file, and its parent looks there when it likes: a worker
that is killed in the midst of it leaves no lock and no half message behind.
"""

from __future__ import annotations

import struct
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from posecheck.maths.stopwatch import Stage, Stopwatch, stopwatch
from posecheck.pipeline.limits import TICK_S

_FORM = struct.Struct("<q")


@contextmanager
def counting_frames(place: Path) -> Iterator[None]:
    """Write down, for the block, how many frames are taken from the decoder."""
    with place.open("wb", buffering=0) as file, stopwatch(_Counter(file)):
        yield


def frames_done(place: Path) -> int:
    """What was last written there; 0 where nothing was."""
    try:
        return int(_FORM.unpack(place.read_bytes())[0])
    except (OSError, struct.error):
        return 0


class _Counter(Stopwatch):
    """A stopwatch is switched to decoding once for each frame."""

    def __init__(self, file: BinaryIO) -> None:
        super().__init__()
        self._file = file
        self._frames = 0
        self._written_at = 0.0

    def switch(self, to: Stage | None) -> Stage | None:
        if to is Stage.DECODING:
            self._frames += 1
            if (now := time.monotonic()) > self._written_at + TICK_S:
                self._written_at = now
                self._file.seek(0)
                self._file.write(_FORM.pack(self._frames))
        return super().switch(to)
