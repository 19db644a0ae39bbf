"""How the picture moved against the background, frame by frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray


@dataclass(frozen=True)
class CameraMotion:
    """How the picture moved against the background.

    Attributes:
        to_reference: ``(n_frames, 3, 3)`` homographies that take a frame's pixels to the pixels
            of the clip's first frame. For a camera that only turns and zooms this holds for every
            point of the scene, not only for the ground.
        tracked: ``(n_frames,)`` bool, False where the background could not be followed.
    """

    to_reference: FloatArray
    tracked: npt.NDArray[np.bool_]

    def __post_init__(self) -> None:
        if self.to_reference.ndim != 3 or self.to_reference.shape[1:] != (3, 3):
            raise ValueError(f"to_reference: want (n_frames, 3, 3), got {self.to_reference.shape}")
        if self.tracked.shape != self.to_reference.shape[:1]:
            raise ValueError(
                f"tracked: want {self.to_reference.shape[:1]}, got {self.tracked.shape}"
            )

    def steadied(self, xy_px: FloatArray) -> FloatArray:
        """Take ``(n_frames, ..., 2)`` pixels of each frame to pixels of the first frame."""
        flat = xy_px.reshape(len(xy_px), -1, 2)
        ones = np.ones((*flat.shape[:2], 1))
        mapped = np.einsum("nij,nkj->nki", self.to_reference, np.concatenate([flat, ones], axis=2))
        steadied: FloatArray = (mapped[..., :2] / mapped[..., 2:]).reshape(xy_px.shape)
        return steadied
