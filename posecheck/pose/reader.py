"""From pictures to landmark arrays: the only module through which the pose model is reached.

Everything beyond it sees plain arrays over the landmarks of ``skeleton.SKELETON``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import numpy as np
import numpy.typing as npt

from posecheck.errors import ModelError
from posecheck.maths.arrays import FloatArray, Image, Pixels
from posecheck.maths.boxes import overlap
from posecheck.pose.quiet import quiet_native
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PlayerPose
from posecheck.pose.tuning import (
    ALONE_MARGIN,
    CROP_MARGIN,
    CROP_SIDE_PX,
    FINDING_SIDE_PX,
    FRAME_STEP_MS,
    MAX_PEOPLE,
    MIN_CONFIDENCE,
    MIN_OWN_OVERLAP,
    SAME_PERSON_OVERLAP,
    SAME_PERSON_TRUNKS,
)

if TYPE_CHECKING:
    from mediapipe.tasks.python.vision import PoseLandmarker


class PoseReader:
    """Finds people and their landmarks in single pictures.

    Use one in each process, as a context manager. Nothing is remembered between pictures: to
    follow a player through a clip, :class:`PlayerReader` is both faster and steadier.

    Args:
        model_path: the pose model, from :func:`posecheck.pose.model_files.pose_model_path`.

    Raises:
        ModelError: the file is not a pose model.
    """

    def __init__(self, model_path: Path) -> None:
        self._landmarker = _Landmarker(model_path, follow=False, num_poses=MAX_PEOPLE)

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

    def _look(self, frame_rgb: Pixels, region: npt.ArrayLike) -> list[PlayerPose]:
        square = _Square.around(region, margin=0.0)
        return self._landmarker.poses(square.picture(frame_rgb, FINDING_SIDE_PX), square)


class PlayerReader:
    """Reads one player's landmarks frame after frame.

    The model follows the body it read last and searches for a person only when it has lost that
    body, which is faster than :class:`PoseReader` (18 ms a frame against 29 on one core, full
    model) and jitters less. Use one for each player followed, as a context manager, with frames in
    order.

    Args and errors as :class:`PoseReader`.
    """

    def __init__(self, model_path: Path) -> None:
        self._landmarker = _Landmarker(model_path, follow=True, num_poses=1)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._landmarker.close()

    def read(
        self, frame_rgb: Pixels, box_xyxy: npt.ArrayLike, others: Sequence[FloatArray] = ()
    ) -> PlayerPose | None:
        """The landmarks of the player in the box, or None when they cannot be read.

        Args:
            frame_rgb: ``(height, width, 3)`` uint8.
            box_xyxy: ``(4,)`` the player's box in pixels, which moves with the player.
            others: ``(4,)`` each, boxes of other players in the picture, who may occlude this one.

        Raises:
            ValueError: the box has a NaN or no area.
        """
        box = np.asarray(box_xyxy, dtype=np.float64)
        if not np.all(np.isfinite(box)) or np.any(box[2:] <= box[:2]):
            raise ValueError(f"box_xyxy: want left < right and top < bottom, got {box.tolist()}")
        pose = self._look(frame_rgb, box)
        if pose is None or not _belongs(pose, box, others):
            # Someone else's body, or none: search for this player alone, the rest painted out.
            self._landmarker.forget()
            pose = self._look(frame_rgb, box, only=box)
            if pose is not None and not _belongs(pose, box, others):
                self._landmarker.forget()
                pose = None
        return pose

    def _look(
        self, frame_rgb: Pixels, box: FloatArray, only: FloatArray | None = None
    ) -> PlayerPose | None:
        square = _Square.around(box, CROP_MARGIN)
        poses = self._landmarker.poses(square.picture(frame_rgb, CROP_SIDE_PX, only), square)
        return poses[0] if poses else None


def read_whole_frames(model_path: Path, pictures_rgb: Iterable[Image]) -> int:
    """Run the stock model over whole frames, for one person and without crops.

    Only for comparison of speed: which person it reads is up to the model, and its landmarks are
    displaced on wide pictures.

    Returns:
        In how many of the pictures somebody was found.
    """
    landmarker = _Landmarker(model_path, follow=True, num_poses=1)
    try:
        found = 0
        for rgb in pictures_rgb:
            height, width = rgb.shape[:2]
            square = _Square.around((0, 0, width - 1, height - 1), margin=0.0)
            found += bool(landmarker.poses(rgb, square))
        return found
    finally:
        landmarker.close()


class _Landmarker:
    """The pose model itself."""

    def __init__(self, model_path: Path, *, follow: bool, num_poses: int) -> None:
        from mediapipe.tasks.python import BaseOptions, vision

        mode = vision.RunningMode.VIDEO if follow else vision.RunningMode.IMAGE
        options = vision.PoseLandmarkerOptions(
            base_options=BaseOptions(model_asset_path=str(model_path)),
            running_mode=mode,
            num_poses=num_poses,
            min_pose_detection_confidence=MIN_CONFIDENCE,
            min_pose_presence_confidence=MIN_CONFIDENCE,
            min_tracking_confidence=MIN_CONFIDENCE,
        )
        self._follow = follow
        self._clock_ms = 0
        self._has_read = False
        try:
            with quiet_native():
                self._native: PoseLandmarker = vision.PoseLandmarker.create_from_options(options)
        except (OSError, RuntimeError, ValueError) as error:
            raise ModelError(
                f"{model_path} cannot be opened as a pose model; "
                "set the model up again with `posecheck model`."
            ) from error

    def close(self) -> None:
        self._native.close()

    def poses(self, picture_rgb: Image, square: _Square) -> list[PlayerPose]:
        """Everyone in the picture of the square, in pixels of the frame it was cut from."""
        # The library writes its last routine message when it reads its first body.
        with nullcontext() if self._has_read else quiet_native():
            result = self._detect(picture_rgb)
        poses = [
            _pose(image, world, square)
            for image, world in zip(result.pose_landmarks, result.pose_world_landmarks, strict=True)
        ]
        self._has_read = self._has_read or bool(poses)
        return poses

    def forget(self) -> None:
        """Stop following the body read last: an empty picture makes the model lose it."""
        self._detect(np.zeros((CROP_SIDE_PX, CROP_SIDE_PX, 3), dtype=np.uint8))

    def _detect(self, picture_rgb: Image) -> Any:
        import mediapipe

        image = mediapipe.Image(image_format=mediapipe.ImageFormat.SRGB, data=picture_rgb)
        if not self._follow:
            return self._native.detect(image)
        self._clock_ms += FRAME_STEP_MS
        return self._native.detect_for_video(image, self._clock_ms)


def _pose(image: Sequence[Any], world: Sequence[Any], square: _Square) -> PlayerPose:
    """One body as the model reports it: landmarks in shares of the square, and in metres."""
    unit = np.array([(mark.x, mark.y) for mark in image], dtype=np.float64)
    return PlayerPose(
        xy_px=square.to_frame(unit),
        world_m=np.array([(mark.x, mark.y, mark.z) for mark in world], dtype=np.float64),
        visibility=np.array([mark.visibility for mark in image], dtype=np.float64),
    )


@dataclass(frozen=True)
class _Square:
    """A square of whole pixels of a frame; it may reach beyond the frame.

    The model needs squares: on other shapes its own mapping of landmarks displaces them.
    """

    left: int
    top: int
    side: int

    @classmethod
    def around(cls, box_xyxy: npt.ArrayLike, margin: float) -> Self:
        box = np.asarray(box_xyxy, dtype=np.float64)
        # From pixel centres to pixel edges: the box's own pixels belong to it.
        low, high = box[:2] - 0.5, box[2:] + 0.5
        side = int(np.ceil((high - low).max() * (1 + 2 * margin)))
        left, top = np.round((low + high - side) / 2 + 0.5).astype(int)
        return cls(int(left), int(top), max(side, 1))

    def picture(self, frame_rgb: Pixels, max_side: int, only: FloatArray | None = None) -> Image:
        """The square's pixels, shrunk to at most ``max_side``.

        Black beyond the frame, and outside the box ``only`` with a margin around it.
        """
        import cv2

        height, width = frame_rgb.shape[:2]
        low, high = np.array([self.left, self.top]), np.array([self.left, self.top]) + self.side
        if only is not None:
            margin = ALONE_MARGIN * (only[2:] - only[:2])
            low = np.maximum(low, np.floor(only[:2] - margin).astype(int))
            high = np.minimum(high, np.ceil(only[2:] + margin).astype(int) + 1)
        (x0, y0), (x1, y1) = (np.clip(edge, 0, (width, height)).tolist() for edge in (low, high))
        square = np.zeros((self.side, self.side, 3), dtype=np.uint8)
        if x0 < x1 and y0 < y1:
            rows, columns = slice(y0, y1), slice(x0, x1)
            square[y0 - self.top : y1 - self.top, x0 - self.left : x1 - self.left] = frame_rgb[
                rows, columns
            ]
        if self.side > max_side:
            return np.asarray(
                cv2.resize(square, (max_side, max_side), interpolation=cv2.INTER_AREA)
            )
        return square

    def to_frame(self, unit_xy: FloatArray) -> FloatArray:
        """From shares of the square, 0 to 1 between its edges, to the frame's pixels."""
        return unit_xy * self.side + (self.left - 0.5, self.top - 0.5)


def _belongs(pose: PlayerPose, box: FloatArray, others: Sequence[FloatArray]) -> bool:
    """Whether the body read is that of the player in the box: it overlaps his box well, and better
    than anybody else's."""
    own = overlap(pose.box_xyxy, box)
    return own >= MIN_OWN_OVERLAP and all(own > overlap(pose.box_xyxy, other) for other in others)


def _same_person(one: PlayerPose, other: PlayerPose) -> bool:
    """Whether two poses are one person read twice, by their trunks and boxes."""
    trunks = np.stack([one.xy_px[_TRUNK], other.xy_px[_TRUNK]])
    lengths = np.linalg.norm(trunks[:, :2].mean(axis=1) - trunks[:, 2:].mean(axis=1), axis=1)
    apart = np.linalg.norm(trunks[0] - trunks[1], axis=1).mean()
    return bool(
        apart < SAME_PERSON_TRUNKS * lengths.max()
        or overlap(one.box_xyxy, other.box_xyxy) > SAME_PERSON_OVERLAP
    )


_TRUNK = SKELETON.indices("left_shoulder", "right_shoulder", "left_hip", "right_hip")
