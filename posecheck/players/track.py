"""What the players room hands on: tracks, the camera's motion, and who is who."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.camera.motion import CameraMotion
from posecheck.maths.arrays import FloatArray


@dataclass(frozen=True)
class PlayerTrack:
    """One person followed through a clip.

    Attributes:
        track_id: number within the clip, from 0.
        box_xyxy: ``(n_frames, 4)`` pixels, left, top, right, bottom; NaN where not followed.
        seen: ``(n_frames,)`` bool, True where the box comes from the picture of that moment
            (a detection or motion), False where it was carried over a gap.
        jersey_rgb: ``(3,)`` colour of the trunk, 0 to 255; None where it is not known.
    """

    track_id: int
    box_xyxy: FloatArray
    seen: npt.NDArray[np.bool_]
    jersey_rgb: FloatArray | None = None

    def __post_init__(self) -> None:
        if self.box_xyxy.ndim != 2 or self.box_xyxy.shape[1] != 4:
            raise ValueError(f"box_xyxy: want (n_frames, 4), got {self.box_xyxy.shape}")
        if np.any(self.box_xyxy[:, 2:] <= self.box_xyxy[:, :2]):
            raise ValueError("box_xyxy: want left < right and top < bottom")
        if self.seen.shape != self.box_xyxy.shape[:1]:
            raise ValueError(f"seen: want {self.box_xyxy.shape[:1]}, got {self.seen.shape}")


@dataclass(frozen=True)
class Followed:
    """Everybody in a clip, frame by frame, and how the camera moved meanwhile."""

    t_s: FloatArray
    tracks: tuple[PlayerTrack, ...]
    camera_motion: CameraMotion


@dataclass(frozen=True)
class Roles:
    """Who is who in a clip.

    Attributes:
        defender: the defender's track.
        attacker: the attacker's track, or None when nobody stands on the outside cone.
        how: one sentence on how the two were told apart, for the page.
    """

    defender: PlayerTrack
    attacker: PlayerTrack | None
    how: str
