"""One player's landmarks: in one picture, and through a clip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np

from posecheck.maths.arrays import BoolArray, FloatArray, check_shapes
from posecheck.pose.skeleton import SKELETON

N_KEYPOINTS = len(SKELETON)


@dataclass(frozen=True)
class PlayerPose:
    """One person's landmarks in one picture.

    Attributes:
        xy_px: ``(33, 2)`` pixels of the picture, x right, y down, (0, 0) the centre of the
            top-left pixel.
        world_m: ``(33, 3)`` metres from the middle of the hips, on the camera's axes: x right,
            y down, z away from the camera. On the model's own scale (a body of average build), so
            read angles and proportions from it rather than lengths.
        visibility: ``(33,)`` probability that the landmark is in the picture and not occluded.
    """

    xy_px: FloatArray
    world_m: FloatArray
    visibility: FloatArray

    def __post_init__(self) -> None:
        n = N_KEYPOINTS
        check_shapes(self, xy_px=(n, 2), world_m=(n, 3), visibility=(n,))

    @property
    def box_xyxy(self) -> FloatArray:
        """``(4,)`` left, top, right, bottom of the landmarks, in pixels.

        The top of the head and the soles lie slightly outside.
        """
        return np.concatenate([self.xy_px.min(axis=0), self.xy_px.max(axis=0)])

    @property
    def score(self) -> float:
        """Mean visibility of shoulders, hips, knees and ankles, 0 to 1."""
        return float(self.visibility[_BODY].mean())


_BODY = SKELETON.indices(
    *(
        f"{side}_{part}"
        for part in ("shoulder", "hip", "knee", "ankle")
        for side in ("left", "right")
    )
)


@dataclass(frozen=True)
class PoseTrack:
    """One player's landmarks through a clip; NaN where not seen.

    Attributes:
        t_s: ``(n_frames,)`` seconds of clip time, strictly increasing.
        xy_px: ``(n_frames, 33, 2)`` as in :class:`PlayerPose`.
        world_m: ``(n_frames, 33, 3)`` as in :class:`PlayerPose`.
        score: ``(n_frames, 33)`` probability that the landmark is in the picture and not occluded.
        exchanged: ``(n_frames, 33)`` True where the model had the landmark on the wrong side, and
            it was put right; None of a track as read.
        left_out: ``(n_frames, 33)`` True where the landmark was read but not believed, so that its
            place, if there is one, comes from the frames around; None of a track as read.
    """

    t_s: FloatArray
    xy_px: FloatArray
    world_m: FloatArray
    score: FloatArray
    exchanged: BoolArray | None = None
    left_out: BoolArray | None = None

    def __post_init__(self) -> None:
        n, k = "n_frames", N_KEYPOINTS
        check_shapes(self, t_s=(n,), xy_px=(n, k, 2), world_m=(n, k, 3), score=(n, k))
        for name in ("exchanged", "left_out"):
            if getattr(self, name) is not None:
                check_shapes(self, score=(n, k), **{name: (n, k)})
        if np.any(np.diff(self.t_s) <= 0):
            raise ValueError("t_s: want strictly increasing times")

    @property
    def believed_xy_px(self) -> FloatArray:
        """``(n_frames, 33, 2)`` as ``xy_px``, NaN where a landmark was left out."""
        if self.left_out is None:
            return self.xy_px
        return np.where(self.left_out[..., None], np.nan, self.xy_px)

    @classmethod
    def from_poses(cls, t_s: FloatArray, poses: Sequence[PlayerPose | None]) -> Self:
        """Line up one pose (or None) per frame."""
        n, k = len(t_s), N_KEYPOINTS
        if len(poses) != n:
            raise ValueError(f"poses: want one per frame ({n}), got {len(poses)}")
        xy_px = np.full((n, k, 2), np.nan)
        world_m = np.full((n, k, 3), np.nan)
        score = np.full((n, k), np.nan)
        for frame, pose in enumerate(poses):
            if pose is not None:
                xy_px[frame], world_m[frame] = pose.xy_px, pose.world_m
                score[frame] = pose.visibility
        return cls(np.asarray(t_s, dtype=np.float64), xy_px, world_m, score)
