"""How the picture moved against the background, frame by frame."""

from __future__ import annotations

from dataclasses import dataclass

from posecheck.maths.arrays import BoolArray, FloatArray, check_shapes
from posecheck.maths.homography import mapped


@dataclass(frozen=True)
class CameraMotion:
    """How the picture moved against the background.

    Attributes:
        to_reference: ``(n_frames, 3, 3)`` homographies that take a frame's pixels to the pixels
            of the clip's first frame, or of the first that shows anything to hold on to. For a
            camera that only turns and zooms this holds for every point of the scene, not only for
            the ground.
        tracked: ``(n_frames,)`` False where the background could not be followed.
    """

    to_reference: FloatArray
    tracked: BoolArray

    def __post_init__(self) -> None:
        check_shapes(self, to_reference=("n_frames", 3, 3), tracked=("n_frames",))

    def steadied(self, xy_px: FloatArray) -> FloatArray:
        """Take ``(n_frames, ..., 2)`` pixels of each frame to pixels of the first frame."""
        flat = xy_px.reshape(len(xy_px), -1, 2)
        return mapped(self.to_reference, flat).reshape(xy_px.shape)
