"""Decoded frames that a later stage will ask for again, as long as they fit in memory."""

from __future__ import annotations

from typing import Any

import numpy as np

from posecheck.maths.arrays import BoolArray
from posecheck.video.tuning import MOST_KEPT_BYTES


class KeptFrames:
    """Of one clip. Nothing is kept until :meth:`want` has said what is worth it."""

    def __init__(self) -> None:
        self._wanted: BoolArray = np.zeros(0, dtype=np.bool_)
        self._pictures: dict[int, Any] = {}

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
        wanted = [i for i in np.flatnonzero(self._wanted).tolist() if i not in self._pictures]
        return max(wanted, default=-1)

    def see(self, index: int, picture: Any) -> None:
        """A frame was decoded: keep it if it is wanted."""
        if index < len(self._wanted) and self._wanted[index]:
            self._pictures[index] = picture

    def pictures(self, which: BoolArray) -> list[tuple[int, Any]] | None:
        """The decoded pictures of some frames with their numbers, None if one is not here."""
        numbers = np.flatnonzero(which).tolist()
        if not all(number in self._pictures for number in numbers):
            return None
        return [(number, self._pictures[number]) for number in numbers]
