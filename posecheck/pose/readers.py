"""The pose models that one process reads with, each opened once and kept for the next clip."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Self

import numpy.typing as npt

from posecheck.maths.arrays import Pixels
from posecheck.pose.reader import PlayerReader, PoseReader
from posecheck.pose.track import PlayerPose


class Readers:
    """Finds people, and lends a reader to each player who is followed. A context manager.

    Args:
        model_path: the pose model that looks for people.

    Raises:
        ModelError: the file is not a pose model.
    """

    def __init__(self, model_path: Path) -> None:
        self._open = ExitStack()
        self._people = self._open.enter_context(PoseReader(model_path))
        self._idle: dict[Path, list[PlayerReader]] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def find_people(self, frame_rgb: Pixels, regions: Sequence[npt.ArrayLike]) -> list[PlayerPose]:
        """As :meth:`PoseReader.find_people`."""
        return self._people.find_people(frame_rgb, regions)

    @contextmanager
    def player(self, model_path: Path) -> Iterator[PlayerReader]:
        """A reader for one player, which remembers nobody.

        Raises:
            ModelError: the file is not a pose model.
        """
        idle = self._idle.setdefault(model_path, [])
        reader = idle.pop() if idle else self._open.enter_context(PlayerReader(model_path))
        try:
            yield reader
        finally:
            reader.forget()
            idle.append(reader)
