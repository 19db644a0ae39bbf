"""What is read from a clip's pictures: who is who, landmarks, how the camera moved."""

from __future__ import annotations

from dataclasses import dataclass

from posecheck.camera.motion import CameraMotion
from posecheck.pose.track import PoseTrack


@dataclass(frozen=True)
class MaybeWalk:
    """A run that is one only through a longer lens than usual, of a clip whose lens is not known.

    Attributes:
        run_s: its start and end, seconds. The defender's steps then show whether he runs.
        fault, remedy: what is said of the clip if he walks.
    """

    run_s: tuple[float, float]
    fault: str
    remedy: str


@dataclass(frozen=True)
class ClipKeypoints:
    """The defender's and the attacker's landmarks through a clip, as read, unsmoothed.

    Attributes:
        defender: his landmarks, over all frames of the clip.
        attacker: over the same frames, None when nobody stands on the outside cone.
        camera_motion: over the same frames.
        roles: one sentence on how the two were recognised.
        defender_close: the defender as the heavy model reads him around the probable arrival, NaN
            elsewhere; None when it was not there to read him.
        closeouts_s: start and end of every run of anybody's that ends at one who stands.
        maybe_walk: the defender's run, when it is not known to be one.
    """

    defender: PoseTrack
    attacker: PoseTrack | None
    camera_motion: CameraMotion
    roles: str
    defender_close: PoseTrack | None = None
    closeouts_s: tuple[tuple[float, float], ...] = ()
    maybe_walk: MaybeWalk | None = None
