"""The pose models that one process reads with, clip after clip."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
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
        threads: that models compute on, in LiteRT.

    Raises:
        ModelError: the file is not a pose model.
    """

    def __init__(self, model_path: Path, threads: int = 1) -> None:
        self._people = PoseReader(model_path, threads)
        self._threads = threads

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._people.__exit__()

    def find_people(self, frame_rgb: Pixels, regions: Sequence[npt.ArrayLike]) -> list[PlayerPose]:
        """As :meth:`PoseReader.find_people`."""
        return self._people.find_people(frame_rgb, regions)

    def person_in(self, frame_rgb: Pixels, box_xyxy: npt.ArrayLike) -> PlayerPose | None:
        """As :meth:`PoseReader.person_in`."""
        return self._people.person_in(frame_rgb, box_xyxy)

    @contextmanager
    def player(self, model_path: Path) -> Iterator[PlayerReader]:
        """A reader for one player of one clip, which has read nobody before.

        Raises:
            ModelError: the file is not a pose model.
        """
        # The pose library low-passes visibility and keeps that even from a body that it was made to
        # forget: of a reader used again, a clip's figures would depend on the clips before it.
        with PlayerReader(model_path, self._threads) as reader:
            yield reader
