"""Decoded frames that a later stage will ask for again, kept on disk until then.

Written and read back a frame costs a third of what decoding it does. In memory frames would be the
largest part of what a worker takes: fifty of 1080p film are 160 MB.
"""

from __future__ import annotations

import os
import weakref
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any, NamedTuple

import numpy as np

from posecheck.maths.arrays import BoolArray
from posecheck.video.tuning import MOST_KEPT_BYTES

_WRITTEN = ("yuv420p", "yuvj420p", "yuv420p10le")
"""Forms of pictures that are written and read back the same: those of phones."""


class KeptFrames:
    """Of one clip. Nothing is kept until :meth:`want` has said what is worth it."""

    def __init__(self) -> None:
        self._wanted: BoolArray = np.zeros(0, dtype=np.bool_)
        self._at: dict[int, _Kept] = {}
        self._file: Any = None

    def want(self, which: BoolArray, picture_bytes: int) -> None:
        """Keep these frames when they are decoded next, or none if together they are too large.

        Args:
            which: ``(n_frames,)`` True for the frames to keep.
            picture_bytes: size of one decoded picture.
        """
        fits = int(which.sum()) * picture_bytes <= MOST_KEPT_BYTES
        self._wanted = which if fits else np.zeros_like(which)

    @property
    def last_wanted(self) -> int:
        """Number of the last frame still to be kept, -1 for none."""
        wanted = [i for i in np.flatnonzero(self._wanted).tolist() if i not in self._at]
        return max(wanted, default=-1)

    def see(self, index: int, picture: Any) -> None:
        """A frame was decoded: keep it if it is wanted.

        Where there is no room for it, or it is of a form that cannot be written, none is kept.
        """
        if index >= len(self._wanted) or not self._wanted[index] or index in self._at:
            return
        even = picture.width % 2 == picture.height % 2 == 0
        try:
            if picture.format.name not in _WRITTEN or not even:
                raise OSError("it cannot be written as it is")
            if self._file is None:
                self._file = TemporaryFile(dir=on_disk())  # noqa: SIM115 - closed with what it is of
                weakref.finalize(self, self._file.close)
            begin = self._file.seek(0, 2)
            for plane in picture.planes:
                self._file.write(plane)
        except OSError:
            self._drop()
            return
        lines = tuple(plane.line_size for plane in picture.planes)
        self._at[index] = _Kept(
            begin, (picture.width, picture.height), lines, picture.format.name,
            picture.colorspace, picture.color_range,
        )  # fmt: skip

    def _drop(self) -> None:
        """Give back the room that is taken: none of the frames can be had without the others."""
        self._wanted, self._at = np.zeros_like(self._wanted), {}
        if self._file is not None:
            self._file.close()
            self._file = None

    def pictures(self, which: BoolArray) -> Iterator[tuple[int, Any]] | None:
        """The decoded pictures of some frames with their numbers, None if one is not here."""
        numbers = np.flatnonzero(which).tolist()
        if not all(number in self._at for number in numbers):
            return None
        return self._read(numbers)

    def _read(self, numbers: list[int]) -> Iterator[tuple[int, Any]]:
        import av

        for number in numbers:
            kept = self._at[number]
            picture = av.VideoFrame(*kept.size_px, kept.form)
            self._file.seek(kept.at)
            for plane, line in zip(picture.planes, kept.lines, strict=True):
                own = np.frombuffer(memoryview(plane), np.uint8)
                own = own.reshape(plane.height, plane.line_size)
                rows = own if plane.line_size == line else np.empty((plane.height, line), np.uint8)
                self._file.readinto(rows)
                if rows is not own:  # what is behind a row's pixels is no part of the picture
                    least = min(line, plane.line_size)
                    own[:, :least] = rows[:, :least]
            picture.colorspace, picture.color_range = kept.space, kept.spread
            yield number, picture


def on_disk() -> str | None:
    """A folder for large temporary files: the usual one may lie in memory, ``/var/tmp`` does not
    (Filesystem Hierarchy Standard 3.0, 5.15). What ``TMPDIR`` says goes before."""
    return "/var/tmp" if "TMPDIR" not in os.environ and Path("/var/tmp").is_dir() else None


class _Kept(NamedTuple):
    at: int
    size_px: tuple[int, int]
    lines: tuple[int, ...]
    form: str
    space: Any
    spread: Any
