"""How many frames a worker has gone through, for whoever waits for it, and to see that it goes on.

A worker writes the number into a small file, and its parent looks there when it likes: a worker
that is killed in the midst of it leaves no lock and no half message behind.
"""

from __future__ import annotations

import struct
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from posecheck.maths.stopwatch import Stage, Stopwatch, stopwatch
from posecheck.pipeline.limits import TICK_S

_FORM = struct.Struct("<q")


@contextmanager
def counting_frames(on_count: Callable[[int], object]) -> Iterator[None]:
    """Count, for the block, the frames that are taken from the decoder, and say so now and then."""
    with stopwatch(_Counter(on_count)):
        yield


@contextmanager
def written_at(place: Path) -> Iterator[Callable[[int], object]]:
    """Write down, for the block, every count given to what this yields."""
    with place.open("wb", buffering=0) as file:

        def write(frames: int) -> None:
            file.seek(0)
            file.write(_FORM.pack(frames))

        yield write


def frames_done(place: Path) -> int:
    """What was last written there; 0 where nothing was."""
    try:
        return int(_FORM.unpack(place.read_bytes())[0])
    except (OSError, struct.error):
        return 0


class _Counter(Stopwatch):
    """A stopwatch is switched to decoding once for each frame."""

    def __init__(self, on_count: Callable[[int], object]) -> None:
        super().__init__()
        self._on_count = on_count
        self._frames = 0
        self._said_at = 0.0

    def switch(self, to: Stage | None) -> Stage | None:
        if to is Stage.DECODING:
            self._frames += 1
            if (now := time.monotonic()) > self._said_at + TICK_S:
                self._said_at = now
                self._on_count(self._frames)
        return super().switch(to)
