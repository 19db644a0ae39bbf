"""What the players room passes on: tracks, the camera's motion, and who is who."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.camera.motion import CameraMotion
from posecheck.maths.arrays import BoolArray, FloatArray, check_shapes


@dataclass(frozen=True)
class PlayerTrack:
    """One person followed through a clip.

    Attributes:
        track_id: number within the clip, from 0.
        box_xyxy: ``(n_frames, 4)`` pixels, left, top, right, bottom; NaN where not followed.
        seen: ``(n_frames,)`` True where the box was read from the picture of that moment (a
            detection or motion), False where it was predicted over a gap.
    """

    track_id: int
    box_xyxy: FloatArray
    seen: BoolArray

    def __post_init__(self) -> None:
        check_shapes(self, box_xyxy=("n_frames", 4), seen=("n_frames",))
        if np.any(self.box_xyxy[:, 2:] <= self.box_xyxy[:, :2]):
            raise ValueError("box_xyxy: want left < right and top < bottom")


@dataclass(frozen=True)
class Followed:
    """Everybody in a clip, frame by frame, and how the camera moved meanwhile.

    Attributes:
        t_s: ``(n_frames,)`` seconds of clip time.
        tracks: of the players, in order of first appearance.
        camera_motion: over the same frames.
    """

    t_s: FloatArray
    tracks: tuple[PlayerTrack, ...]
    camera_motion: CameraMotion


@dataclass(frozen=True)
class RunThroughZoom:
    """A run that only a longer lens than the usual one makes fast enough.

    Through the usual one it is a walk, or less. Where the lens is not known, his steps tell.

    Attributes:
        run_s: its start and end, seconds.
        otherwise: what the clip shows if it is none, in words.
        zoom: how many times the usual focal length that lens is.
    """

    run_s: tuple[float, float]
    otherwise: str
    zoom: float


@dataclass(frozen=True)
class Roles:
    """Who is who in a clip.

    Attributes:
        defender: the defender's track.
        attacker: the attacker's track, or None when nobody stands on the outside cone.
        how: one sentence on how the two were recognised, for the page.
        through_zoom: his run, when it is one only through a longer lens than usual.
    """

    defender: PlayerTrack
    attacker: PlayerTrack | None
    how: str
    through_zoom: RunThroughZoom | None = None
