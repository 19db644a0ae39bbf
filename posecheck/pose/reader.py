"""From pictures to landmark arrays: the only module through which the pose model is reached.

Everything beyond it sees plain arrays over the landmarks of ``skeleton.SKELETON``.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Protocol, Self

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray, Image, Pixels
from posecheck.maths.boxes import overlap
from posecheck.pose.reader_choice import Reader
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.square import Crop, Square
from posecheck.pose.track import PlayerPose
from posecheck.pose.tuning import (
    BOX_ROOM,
    FINDING_SIDE_PX,
    MAX_PEOPLE,
    MIN_OWN_OVERLAP,
    SAME_PERSON_OVERLAP,
    SAME_PERSON_TRUNKS,
)


class Landmarker(Protocol):
    """The pose model opened by one of the two readers of its files."""

    def poses(self, picture_rgb: Image, square: Square) -> list[PlayerPose]:
        """Everyone in the picture of the square, in pixels of the frame it was cut from."""

    def filling(
        self, picture_rgb: Image, square: Square, box_xyxy: FloatArray
    ) -> PlayerPose | None:
        """The person who fills a box ``(4,)`` of the frame, None when nobody does."""

    def forget(self) -> None:
        """Stop following the body read last."""

    def close(self) -> None:
        """Let go of what is held outside of memory."""


def open_landmarker(
    model_path: Path, *, follow: bool, num_poses: int, threads: int = 1
) -> Landmarker:
    """Open the pose model with the reader that the file is made for.

    Args:
        model_path: from :func:`posecheck.pose.model_files.pose_model_path`.
        follow: follow one body from picture to picture.
        num_poses: people found in one picture, at most.
        threads: that the model computes on, in LiteRT; they change nothing in what it gives.

    Raises:
        ModelError: the file is not a pose model.
    """
    if model_path.suffix == Reader.LITERT.suffix:
        from posecheck.pose.litert import LiteRtLandmarker

        return LiteRtLandmarker(model_path, follow=follow, num_poses=num_poses, threads=threads)
    from posecheck.pose.library import LibraryLandmarker

    return LibraryLandmarker(model_path, follow=follow, num_poses=num_poses)


class PoseReader:
    """Finds people and their landmarks in single pictures.

    Use one in each process, as a context manager. Nothing is remembered between pictures: to
    follow a player through a clip, :class:`PlayerReader` is both faster and steadier.

    Args:
        model_path: the pose model, from :func:`posecheck.pose.model_files.pose_model_path`.
        threads: as :func:`open_landmarker` takes them.

    Raises:
        ModelError: the file is not a pose model.
    """

    def __init__(self, model_path: Path, threads: int = 1) -> None:
        self._landmarker = open_landmarker(
            model_path, follow=False, num_poses=MAX_PEOPLE, threads=threads
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._landmarker.close()

    def read(self, crop_rgb: Image) -> list[PlayerPose]:
        """Everyone found in a picture ``(height, width, 3)`` uint8, at most five people."""
        height, width = crop_rgb.shape[:2]
        return self._look(crop_rgb, (0.0, 0.0, width - 1.0, height - 1.0))

    def find_people(self, frame_rgb: Pixels, regions: Sequence[npt.ArrayLike]) -> list[PlayerPose]:
        """Everyone found in any of the regions, each person once, highest score first.

        The smaller a person in the region, the less often he is found: on the sample clips nine
        times in ten at a quarter of its side, three in four at 0.18, one in three at an eighth.
        Give regions of several sizes to find both near and far players.

        Args:
            frame_rgb: ``(height, width, 3)`` uint8.
            regions: boxes left, top, right, bottom in pixels; they may overlap and may reach
                beyond the picture.

        Returns:
            Poses in pixels of the whole frame.
        """
        found = [pose for region in regions for pose in self._look(frame_rgb, region)]
        found.sort(key=lambda pose: pose.score, reverse=True)
        people: list[PlayerPose] = []
        for pose in found:
            if not any(_same_person(pose, other) for other in people):
                people.append(pose)
        return people

    def person_in(self, frame_rgb: Pixels, box_xyxy: npt.ArrayLike) -> PlayerPose | None:
        """The person who fills a box, as far as is known from where he was a moment ago.

        The detector often misses a player beside a taller one, crouching, blurred or in the dark.
        The landmark network, pointed at his box, mostly reads him, in half the time of a search.
        On background it reads nobody. It looks in a larger box about the same middle.

        Args:
            frame_rgb: ``(height, width, 3)`` uint8.
            box_xyxy: ``(4,)`` pixels, from the top of the head to the soles; a sixth of its height
                off does no harm.
        """
        box = np.asarray(box_xyxy, dtype=np.float64)
        crop = Crop.of_player(frame_rgb, box)
        return self._landmarker.filling(crop.picture, crop.square, _with_room(box))

    def _look(self, frame_rgb: Pixels, region: npt.ArrayLike) -> list[PlayerPose]:
        square = Square.around(region, margin=0.0)
        return self._landmarker.poses(square.picture(frame_rgb, FINDING_SIDE_PX), square)


class PlayerReader:
    """Reads one player's landmarks frame after frame.

    The model follows the body it read last and searches for a person only when it has lost that
    body, which takes half the time that :class:`PoseReader` takes and jitters less. Use one for
    each player followed, as a context manager, with frames in order.

    Args and errors as :class:`PoseReader`.
    """

    def __init__(self, model_path: Path, threads: int = 1) -> None:
        self._landmarker = open_landmarker(model_path, follow=True, num_poses=1, threads=threads)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._landmarker.close()

    def read(
        self,
        frame_rgb: Pixels,
        box_xyxy: npt.ArrayLike,
        others: Sequence[FloatArray] = (),
        crop: Crop | None = None,
    ) -> PlayerPose | None:
        """The landmarks of the player in the box, or None when they cannot be read.

        Args:
            frame_rgb: ``(height, width, 3)`` uint8.
            box_xyxy: ``(4,)`` the player's box in pixels, which moves with the player.
            others: ``(4,)`` each, boxes of other players in the picture, who may occlude this one.
            crop: about the box, where it was cut out before.

        Raises:
            ValueError: the box has a NaN or no area.
        """
        box = np.asarray(box_xyxy, dtype=np.float64)
        if not np.all(np.isfinite(box)) or np.any(box[2:] <= box[:2]):
            raise ValueError(f"box_xyxy: want left < right and top < bottom, got {box.tolist()}")
        crop = crop or Crop.of_player(frame_rgb, box)
        pose = self._look(crop)
        if pose is None or not _belongs(pose, box, others):
            # Someone else's body, or none: search for this player alone, the rest painted out.
            self._landmarker.forget()
            pose = self._look(Crop.of_player(frame_rgb, box, only=box))
        if pose is None or not _belongs(pose, box, others):
            # The detector misses him; the landmark network, pointed at his box, may read him.
            self._landmarker.forget()
            pose = self._landmarker.filling(crop.picture, crop.square, _with_room(box))
        if pose is not None and not _belongs(pose, box, others):
            self._landmarker.forget()
            pose = None
        return pose

    def _look(self, crop: Crop) -> PlayerPose | None:
        poses = self._landmarker.poses(crop.picture, crop.square)
        return poses[0] if poses else None


def _with_room(box: FloatArray) -> FloatArray:
    """The box that the landmark network is pointed at, for one that a player is expected in."""
    more = (BOX_ROOM - 1) / 2 * (box[2:] - box[:2])
    return np.concatenate([box[:2] - more, box[2:] + more])


def _belongs(pose: PlayerPose, box: FloatArray, others: Sequence[FloatArray]) -> bool:
    """Whether the body read is that of the player in the box: it stands on its feet, overlaps his
    box well, and better than anybody else's."""
    own = overlap(pose.box_xyxy, box)
    # The model turns the picture as the body it follows lies: once head down, it stays so.
    ankles, shoulders = (pose.xy_px[part, 1].mean() for part in (_ANKLES, _TRUNK[:2]))
    return bool(
        ankles > shoulders
        and own >= MIN_OWN_OVERLAP
        and all(own > overlap(pose.box_xyxy, other) for other in others)
    )


def _same_person(one: PlayerPose, other: PlayerPose) -> bool:
    """Whether two poses are one person read twice, by their trunks and boxes."""
    trunks = np.stack([one.xy_px[_TRUNK], other.xy_px[_TRUNK]])
    lengths = np.linalg.norm(trunks[:, :2].mean(axis=1) - trunks[:, 2:].mean(axis=1), axis=1)
    apart = np.linalg.norm(trunks[0] - trunks[1], axis=1).mean()
    return bool(
        apart < SAME_PERSON_TRUNKS * lengths.max()
        or overlap(one.box_xyxy, other.box_xyxy) > SAME_PERSON_OVERLAP
    )


_ANKLES = SKELETON.indices("left_ankle", "right_ankle")
_TRUNK = SKELETON.indices("left_shoulder", "right_shoulder", "left_hip", "right_hip")
