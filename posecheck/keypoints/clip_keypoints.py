"""What is read from a clip's pictures: who is who, landmarks, how the camera moved."""

from __future__ import annotations

from dataclasses import dataclass

from posecheck.camera.motion import CameraMotion
from posecheck.pose.track import PoseTrack


@dataclass(frozen=True)
class ClipKeypoints:
    """The defender's and the attacker's landmarks through a clip, as read, unsmoothed.

    Attributes:
        defender: his landmarks, over all frames of the clip.
        attacker: over the same frames, None when nobody stands on the outside cone.
        camera_motion: over the same frames.
        roles: one sentence on how the two were recognised.
    """

    defender: PoseTrack
    attacker: PoseTrack | None
    camera_motion: CameraMotion
    roles: str
