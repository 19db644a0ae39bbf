"""The pose model read with LiteRT: detector, landmarks, and following from picture to picture.

Gives what the pose library gives (``library.py``), at half its cost: the landmark network runs
without the mask that nobody uses, and pictures are not copied on the way. Tested against the
library in ``tests/pose/test_readers_agree.py``.
"""

from __future__ import annotations

import zipfile
from functools import lru_cache
from pathlib import Path

import numpy as np

from posecheck.errors import ModelError
from posecheck.maths.arrays import FloatArray, Image
from posecheck.maths.boxes import overlap
from posecheck.pose.bundle import DETECTOR_MEMBER, LANDMARKS_MEMBER
from posecheck.pose.detector import Detector
from posecheck.pose.landmark_model import Body, LandmarkModel
from posecheck.pose.region import Region
from posecheck.pose.square import Square
from posecheck.pose.track import PlayerPose
from posecheck.pose.tuning import SAME_REGION, VISIBILITY_SHARE


class LiteRtLandmarker:
    """The pose model in LiteRT; arguments and errors as :class:`LibraryLandmarker`.

    All of one file share its networks, so they are to be used from one thread.
    """

    def __init__(self, model_path: Path, *, follow: bool, num_poses: int, threads: int = 1) -> None:
        self._follow = follow
        self._num_poses = num_poses
        self._region: Region | None = None
        self._visibility: FloatArray | None = None
        try:
            changed_ns = model_path.stat().st_mtime_ns
            self._detector, self._landmarks = _networks(model_path, changed_ns, threads)
        except (OSError, RuntimeError, ValueError, KeyError, zipfile.BadZipFile) as error:
            raise ModelError(
                f"{model_path} cannot be opened as a pose model; "
                "set the model up again with `posecheck model`."
            ) from error

    def close(self) -> None:
        """Nothing is held but memory."""

    def poses(self, picture_rgb: Image, square: Square) -> list[PlayerPose]:
        """Everyone in the picture of the square, in pixels of the frame it was cut from."""
        bodies = self._followed(picture_rgb) if self._follow else self._found(picture_rgb)
        return [
            PlayerPose(square.to_frame(body.xy), body.world_m, body.visibility) for body in bodies
        ]

    def filling(
        self, picture_rgb: Image, square: Square, box_xyxy: FloatArray
    ) -> PlayerPose | None:
        """The person who fills a box of the frame; the landmark network looks there at once."""
        unit = np.concatenate([square.to_unit(box_xyxy[:2]), square.to_unit(box_xyxy[2:])])
        body = self._landmarks.body(picture_rgb, Region.of_box(unit))
        if body is None:
            return None
        visibility = body.visibility
        if self._follow:
            self._region, visibility = body.region, self._steadied(visibility)
        return PlayerPose(square.to_frame(body.xy), body.world_m, visibility)

    def forget(self) -> None:
        """Stop following the body read last; visibility goes on from his, as in the library."""
        self._region = None

    def _found(self, picture_rgb: Image) -> list[Body]:
        regions = self._detector.people(picture_rgb)[: self._num_poses]
        bodies = [self._landmarks.body(picture_rgb, region) for region in regions]
        return [body for body in bodies if body is not None]

    def _followed(self, picture_rgb: Image) -> list[Body]:
        region = self._region
        if region is None:
            regions = _apart(self._detector.people(picture_rgb))
            region = regions[0] if regions else None
        body = None if region is None else self._landmarks.body(picture_rgb, region)
        self._region = None if body is None else body.region
        if body is None:
            return []
        return [Body(body.xy, body.world_m, self._steadied(body.visibility), body.region)]

    def _steadied(self, visibility: FloatArray) -> FloatArray:
        """Visibility over time, as the library low-passes it where it follows one person."""
        if self._visibility is None:
            self._visibility = visibility
        else:
            share = VISIBILITY_SHARE
            self._visibility = share * visibility + (1 - share) * self._visibility
        return self._visibility


@lru_cache(maxsize=3)
def _networks(model_path: Path, changed_ns: int, threads: int) -> tuple[Detector, LandmarkModel]:
    """The networks of a file, opened once: they keep nothing from picture to picture."""
    with zipfile.ZipFile(model_path) as bundle:
        detector, landmarks = bundle.read(DETECTOR_MEMBER), bundle.read(LANDMARKS_MEMBER)
    return _detector(detector, threads), LandmarkModel(landmarks, threads)


@lru_cache(maxsize=3)
def _detector(content: bytes, threads: int) -> Detector:
    """The detector, the same one in every size of the model."""
    return Detector(content, threads)


def _apart(regions: list[Region]) -> list[Region]:
    """Of regions that overlap, the later one, as the library does it where it follows."""
    apart: list[Region] = []
    for region in regions:
        apart = [each for each in apart if overlap(region.box, each.box) <= SAME_REGION]
        apart.append(region)
    return apart
