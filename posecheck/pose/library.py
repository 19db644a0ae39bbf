"""The pose model read with the pose library itself: the reference, and for comparison of speed.

The only module that reads pictures with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from posecheck.errors import ModelError
from posecheck.maths.arrays import FloatArray, Image
from posecheck.maths.boxes import overlap
from posecheck.pose.quiet import quiet_native
from posecheck.pose.square import Square
from posecheck.pose.track import PlayerPose
from posecheck.pose.tuning import CROP_SIDE_PX, FRAME_STEP_MS, MIN_CONFIDENCE

if TYPE_CHECKING:
    from mediapipe.tasks.python.vision import PoseLandmarker


class LibraryLandmarker:
    """The pose model in its library.

    Args:
        model_path: the model as the library opens it.
        follow: follow one body from picture to picture.
        num_poses: people found in one picture, at most.

    Raises:
        ModelError: the file is not a pose model.
    """

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
        """Let the library's threads go."""
        self._native.close()

    def poses(self, picture_rgb: Image, square: Square) -> list[PlayerPose]:
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

    def filling(
        self, picture_rgb: Image, square: Square, box_xyxy: FloatArray
    ) -> PlayerPose | None:
        """The person who fills a box of the frame; the library has to look for him first."""
        poses = self.poses(picture_rgb, square)
        return max(poses, key=lambda pose: overlap(pose.box_xyxy, box_xyxy), default=None)

    def forget(self) -> None:
        """Stop following the body read last: an empty picture makes the model lose it."""
        self._detect(np.zeros((CROP_SIDE_PX, CROP_SIDE_PX, 3), dtype=np.uint8))

    def _detect(self, picture_rgb: Image) -> Any:
        import mediapipe

        image = mediapipe.Image(
            image_format=mediapipe.ImageFormat.SRGB, data=np.ascontiguousarray(picture_rgb)
        )
        if not self._follow:
            return self._native.detect(image)
        self._clock_ms += FRAME_STEP_MS
        return self._native.detect_for_video(image, self._clock_ms)


def read_whole_frames(model_path: Path, pictures_rgb: Iterable[Image]) -> int:
    """Run the stock model over whole frames, for one person and without crops.

    Only for comparison of speed: which person it reads is up to the model, and its landmarks are
    displaced on wide pictures.

    Args:
        model_path: the model as the library opens it.
        pictures_rgb: ``(height, width, 3)`` uint8 each.

    Returns:
        In how many of the pictures somebody was found.
    """
    landmarker = LibraryLandmarker(model_path, follow=True, num_poses=1)
    try:
        found = 0
        for rgb in pictures_rgb:
            height, width = rgb.shape[:2]
            square = Square.around((0, 0, width - 1, height - 1), margin=0.0)
            found += bool(landmarker.poses(rgb, square))
        return found
    finally:
        landmarker.close()


def _pose(image: Sequence[Any], world: Sequence[Any], square: Square) -> PlayerPose:
    """One body as the model reports it: landmarks in shares of the square, and in metres."""
    unit = np.array([(mark.x, mark.y) for mark in image], dtype=np.float64)
    return PlayerPose(
        xy_px=square.to_frame(unit),
        world_m=np.array([(mark.x, mark.y, mark.z) for mark in world], dtype=np.float64),
        visibility=np.array([mark.visibility for mark in image], dtype=np.float64),
    )
