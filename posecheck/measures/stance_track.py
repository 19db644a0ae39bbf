"""A player's stance over time, from his landmarks and the camera."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.ground.camera import Camera
from posecheck.keypoints.pose import PoseTrack
from posecheck.keypoints.skeleton import SKELETON
from posecheck.measures.body_view import SIDES, body_view
from posecheck.measures.stance_net import StanceNet, default_net
from posecheck.players.track import CameraMotion

FloatArray = npt.NDArray[np.float64]

_LEGS = SKELETON.indices(*(f"{s}_{part}" for part in ("hip", "knee", "ankle") for s in SIDES))


@dataclass(frozen=True)
class StanceTrack:
    """How a player holds himself in each frame; NaN where not seen.

    Attributes:
        t_s: ``(n,)`` seconds.
        knee_bend_deg: ``(n,)`` flexion of the straighter leg.
        trunk_lean_deg: ``(n,)``.
        hip_drop: ``(n,)`` how much lower the hips are than the same player's standing.
        hand_reach, hand_height, base_width: ``(n,)`` as in :mod:`posecheck.measures.stance`.
        view_deg: ``(n,)`` 0 seen from the front, 90 side-on, 180 from behind.
        height_px: ``(n,)`` extent of the landmarks in the picture, head to foot.
        score: ``(n,)`` mean chance that hips, knees and ankles are seen; NaN where filled in.
    """

    t_s: FloatArray
    knee_bend_deg: FloatArray
    trunk_lean_deg: FloatArray
    hip_drop: FloatArray
    hand_reach: FloatArray
    hand_height: FloatArray
    base_width: FloatArray
    view_deg: FloatArray
    height_px: FloatArray
    score: FloatArray


def stance_track(
    pose: PoseTrack, camera: Camera, motion: CameraMotion, net: StanceNet | None = None
) -> StanceTrack:
    """Read a player's stance in every frame.

    Args:
        pose: ``n`` frames of landmarks.
        camera: of the clip's reference frame.
        motion: the camera's motion over the same frames.
        net: what reads it, by default the one that comes with posecheck.
    """
    view = body_view(pose, camera, motion)
    told = (net or default_net()).read(view)
    return StanceTrack(
        t_s=pose.t_s,
        knee_bend_deg=np.maximum(told["knee_bend_deg"], 0.0),
        trunk_lean_deg=np.maximum(told["trunk_lean_deg"], 0.0),
        hip_drop=told["hip_drop"],
        hand_reach=told["hand_reach"],
        hand_height=told["hand_height"],
        base_width=np.maximum(told["base_width"], 0.0),
        view_deg=view.view_deg,
        height_px=np.ptp(pose.xy_px[..., 1], axis=1),
        score=pose.score[:, _LEGS].mean(axis=1),
    )
