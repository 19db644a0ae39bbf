"""A player's stance over time, from his landmarks and the camera."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from posecheck.ground.camera import Camera
from posecheck.keypoints.body import body_m
from posecheck.keypoints.pose import PoseTrack
from posecheck.keypoints.skeleton import SKELETON
from posecheck.measures import stance
from posecheck.players.track import CameraMotion

FloatArray = npt.NDArray[np.float64]

TALL_SHARE = 0.9
"""A player's standing hip height is the level that his hips exceed in a tenth of the clip: he
stands, walks or runs upright for longer than that, and single frames may err."""

UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class StanceTrack:
    """How a player holds himself in each frame; NaN where not seen.

    Attributes:
        t_s: ``(n,)`` seconds.
        knee_bend_deg: ``(n,)`` flexion of the straighter leg.
        trunk_lean_deg: ``(n,)``.
        hip_height: ``(n,)`` over the same player's standing hip height.
        hand_reach, hand_height, base_width: ``(n,)`` as in :mod:`posecheck.measures.stance`.
        view_deg: ``(n,)`` 0 seen from the front, 90 side-on, 180 from behind.
        height_px: ``(n,)`` extent of the landmarks in the picture, head to foot.
        score: ``(n,)`` mean chance that hips, knees and ankles are seen; NaN where filled in.
    """

    t_s: FloatArray
    knee_bend_deg: FloatArray
    trunk_lean_deg: FloatArray
    hip_height: FloatArray
    hand_reach: FloatArray
    hand_height: FloatArray
    base_width: FloatArray
    view_deg: FloatArray
    height_px: FloatArray
    score: FloatArray


def stance_track(
    pose: PoseTrack, camera: Camera, motion: CameraMotion, xy_m: FloatArray
) -> StanceTrack:
    """Measure a player's stance in every frame.

    Args:
        pose: ``n`` frames of landmarks.
        camera: of the clip's reference frame.
        motion: the camera's motion over the same frames.
        xy_m: ``(n, 2)`` where on the ground the player is.
    """
    body = upright(pose, camera, motion)
    points = {name: body.world_m[:, SKELETON.index(name)] for name in SKELETON.names}
    up = np.broadcast_to(UP, (len(pose.t_s), 3))

    def middle(part: str) -> FloatArray:
        return (points[f"left_{part}"] + points[f"right_{part}"]) / 2

    def length(*chain: str) -> float:
        """Of a limb: the middle over the frames and both sides."""
        legs = [
            sum(
                np.linalg.norm(points[f"{side}_{a}"] - points[f"{side}_{b}"], axis=1)
                for a, b in pairwise(chain)
            )
            for side in ("left", "right")
        ]
        return _median(np.concatenate(legs))

    left, right = (
        stance.knee_flexion(*(points[f"{side}_{part}"] for part in ("hip", "knee", "ankle")))
        for side in ("left", "right")
    )
    hips, shoulders, wrists = middle("hip"), middle("shoulder"), middle("wrist")
    across = sum(points[f"right_{part}"] - points[f"left_{part}"] for part in ("hip", "shoulder"))
    facing = stance.forward(np.asarray(across), up)
    pelvis = _median(np.linalg.norm(points["right_hip"] - points["left_hip"], axis=1))
    legs = SKELETON.indices(
        *(f"{side}_{part}" for part in ("hip", "knee", "ankle") for side in ("left", "right"))
    )
    return StanceTrack(
        t_s=pose.t_s,
        knee_bend_deg=np.degrees(stance.straighter_leg(left, right)),
        trunk_lean_deg=np.degrees(stance.trunk_lean(hips, shoulders, up)),
        hip_height=_hip_height(pose, camera, motion, xy_m),
        hand_reach=stance.hand_reach(
            wrists, shoulders, facing, np.asarray(length("shoulder", "elbow", "wrist"))
        ),
        hand_height=stance.hand_height(wrists, hips, shoulders, up),
        base_width=stance.base_width(
            points["left_ankle"], points["right_ankle"], np.asarray(pelvis), up
        ),
        view_deg=np.degrees(stance.view_angle(facing, up, body.to_camera)),
        height_px=np.ptp(pose.xy_px[..., 1], axis=1),
        score=pose.score[:, legs].mean(axis=1),
    )


@dataclass(frozen=True)
class Upright:
    """Landmarks in metres on the ground's axes.

    Attributes:
        world_m: ``(n, 33, 3)`` from the middle of the hips, z up.
        to_camera: ``(n, 3)`` unit vectors from the player to the camera.
    """

    world_m: FloatArray
    to_camera: FloatArray


def upright(pose: PoseTrack, camera: Camera, motion: CameraMotion) -> Upright:
    """Turn landmarks from the axes of the view on the player to the ground's axes.

    Args and shapes as :func:`stance_track`. Frames in which the background could not be followed
    stay NaN: the camera's tilt is not known there.
    """
    n = len(pose.t_s)
    to_ground = np.full((n, 3, 3), np.nan)
    to_camera = np.full((n, 3), np.nan)
    sight_xy = np.full_like(pose.xy_px, np.nan)
    hips = pose.xy_px[:, SKELETON.indices("left_hip", "right_hip")].mean(axis=1)
    for i in np.flatnonzero(np.isfinite(hips).all(axis=1) & motion.tracked):
        now = camera.turned(motion.to_reference[i])
        ray = now.rays(hips[i])
        to_ground[i] = now.rotation.T @ stance.turned_by_ray(now.rotation @ ray)
        to_camera[i] = -ray
        sights = now.rays(pose.xy_px[i]) @ to_ground[i]
        sight_xy[i] = sights[:, :2] / sights[:, 2:]
    in_view = body_m(pose.t_s, sight_xy, pose.world_m)
    return Upright(in_view @ to_ground.transpose(0, 2, 1), to_camera)


def _hip_height(
    pose: PoseTrack, camera: Camera, motion: CameraMotion, xy_m: FloatArray
) -> FloatArray:
    """``(n,)`` hip height over standing hip height.

    Where the ray to the hips passes over the player's place on the ground. Steadier than the
    model's own metres, whose legs change length from frame to frame.
    """
    steady = motion.steadied(pose.xy_px)
    ray = camera.rays(steady[:, SKELETON.indices("left_hip", "right_hip")].mean(axis=1))
    away = np.linalg.norm(xy_m - camera.centre_m[:2], axis=1)
    height = camera.centre_m[2] + away * ray[:, 2] / np.linalg.norm(ray[:, :2], axis=1)
    seen = height[np.isfinite(height) & motion.tracked]
    standing = float(np.quantile(seen, TALL_SHARE)) if len(seen) else float("nan")
    return stance.hip_height_ratio(np.where(motion.tracked, height, np.nan), standing)


def _median(values: FloatArray) -> float:
    seen = values[np.isfinite(values)]
    return float(np.median(seen)) if len(seen) else float("nan")
