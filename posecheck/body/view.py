"""A body as it is seen: the features of the nets, in numbers that mean the same in every film.

The player's place and size in the picture and the camera's direction and tilt are taken out here;
what remains is his body and the side it is seen from.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from posecheck.body import stance as stance
from posecheck.body.stance import angle_between
from posecheck.body.tuning import LOWER_SD
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray
from posecheck.maths.vectors import unit
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

SIDES = ("left", "right")
_PARTS = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "foot_index")
_SEEN = SKELETON.indices(
    "nose", "left_ear", "right_ear", *(f"{side}_{part}" for part in _PARTS for side in SIDES)
)
_JUDGED = SKELETON.indices(
    *(f"{side}_{p}" for p in ("wrist", "hip", "knee", "ankle", "foot_index") for side in SIDES)
)
_BELOW_THE_NECK = slice(SKELETON.index("left_shoulder"), None)
_HIPS = SKELETON.indices("left_hip", "right_hip")
_UP = np.array([0.0, 0.0, 1.0])
"""Upwards on the axes of a view.

Source: definition
"""

_TO_CAMERA = np.array([0.0, -1.0, 0.0])
"""Towards the camera on the axes of a view.

Source: definition
"""


@dataclass(frozen=True)
class BodyView:
    """A player's landmarks over ``n`` frames, seen along the line of sight to his hips.

    Attributes:
        sight_xy: ``(n, 33, 2)`` where each landmark is seen: x / z and y / z of its line of sight,
            on axes whose z is the line of sight to the middle of the hips; x horizontal to the
            right, y down.
        body_m: ``(n, 33, 3)`` the pose model's body, metres from the middle of the hips, on
            horizontal axes: x to the right across the view, y away from the camera; z up.
        elevation: ``(n,)`` radians by which the camera looks down on the hips.
        score: ``(n, 33)`` probability that each landmark is in the picture and not occluded, 0 for
            one that was filled in.
        height_px: ``(n,)`` extent of the landmarks in the picture, head to foot.
        lower: ``(n,)`` how much lower the hips are than when the player stands, by their height
            over the ground (:mod:`posecheck.body.hip_height`), as a share of the standing height.
        lower_sd: ``(n,)`` its standard deviation, infinite where it is not known.
    """

    sight_xy: FloatArray
    body_m: FloatArray
    elevation: FloatArray
    score: FloatArray
    height_px: FloatArray
    lower: FloatArray
    lower_sd: FloatArray

    @property
    def mirrored(self) -> BodyView:
        """The same body seen in a mirror: left and right have changed places."""
        swap = SKELETON.mirror
        return replace(
            self,
            sight_xy=self.sight_xy[:, swap] * [-1, 1],
            body_m=self.body_m[:, swap] * [-1, 1, 1],
            score=self.score[:, swap],
        )

    @property
    def facing(self) -> FloatArray:
        """``(n, 3)`` horizontal unit vector that the body faces, by hips and shoulders together."""
        across = sum(
            self._body(f"right_{p}") - self._body(f"left_{p}") for p in ("hip", "shoulder")
        )
        return stance.forward(np.asarray(across), np.broadcast_to(_UP, (len(self.elevation), 3)))

    @property
    def view_deg(self) -> FloatArray:
        """``(n,)`` 0 seen from the front, 90 side-on, 180 from behind."""
        return np.degrees(view_angle(self.facing, _UP, _TO_CAMERA))

    def features(self) -> FloatArray:
        """``(n, n_features)`` what the stance is read from; NaN for frames not seen.

        Places and lengths in the picture are in units of the body's own spread there, so that
        distance does not matter. Angles are those of the pose model's body, and those of the
        picture. The player's size in the picture and the scores of his limbs show how reliable all
        this is. How low he carries his hips is weighted by how well it is known.
        """
        weight = 1 / (1 + (self.lower_sd / LOWER_SD) ** 2)
        hips = np.stack([weight * self.lower, weight], axis=1)
        return np.concatenate([self.features_of_picture(), hips], axis=1)

    def features_of_picture(self) -> FloatArray:
        """``(n, n_features)`` the same without the hips' height, which needs the whole clip."""
        seen = self.sight_xy / _spread(self.sight_xy)[:, None, None]
        columns = [
            seen[:, _SEEN].reshape(len(seen), -1),
            self._direction_features(),
            self._trunk_and_arm_features(seen),
            *(self._leg_features(seen, side) for side in SIDES),
            np.log(self.height_px)[:, None],
            self.score[:, _JUDGED],
        ]
        return np.concatenate(columns, axis=1)

    def _body(self, name: str) -> FloatArray:
        return self.body_m[:, SKELETON.index(name)]

    def _middle(self, part: str) -> FloatArray:
        return (self._body(f"left_{part}") + self._body(f"right_{part}")) / 2

    def _direction_features(self) -> FloatArray:
        away, right = self.facing[:, 1], self.facing[:, 0]
        return np.stack(
            [
                np.sin(self.elevation), np.cos(self.elevation),
                away, right, away * right, away**2 - right**2,
            ],
            axis=1,
        )  # fmt: skip

    def _trunk_and_arm_features(self, seen: FloatArray) -> FloatArray:
        up = np.broadcast_to(_UP, (len(seen), 3))
        hips, shoulders, wrists = (self._middle(part) for part in ("hip", "shoulder", "wrist"))
        reach = stance.hand_reach(wrists, shoulders, self.facing, np.ones(len(seen)))
        step = self._body("right_ankle") - self._body("left_ankle")
        return np.stack(
            [
                stance.trunk_lean(hips, shoulders, up),
                reach,
                stance.height_above(wrists, hips, up),
                np.linalg.norm(step[:, :2], axis=1),
                np.linalg.norm(shoulders - hips, axis=1),
                _trunk_seen(seen),
            ],
            axis=1,
        )

    def _leg_features(self, seen: FloatArray, side: str) -> FloatArray:
        hip, knee, ankle, toe = (
            self._body(f"{side}_{part}") for part in ("hip", "knee", "ankle", "foot_index")
        )
        trunk = self._middle("shoulder") - self._middle("hip")
        at = {part: seen[:, SKELETON.index(f"{side}_{part}")] for part in _PARTS}
        thigh, shank = at["knee"] - at["hip"], at["ankle"] - at["knee"]
        leg, foot = at["ankle"] - at["hip"], at["foot_index"] - at["heel"]
        thigh_long, shank_long, leg_long, foot_long = (
            np.linalg.norm(each, axis=1) for each in (thigh, shank, leg, foot)
        )
        trunk_long = _trunk_seen(seen) + 1e-6
        turned = thigh[:, 0] * shank[:, 1] - thigh[:, 1] * shank[:, 0]
        return np.stack(
            [
                stance.knee_flexion(hip, knee, ankle),
                stance.angle_between(trunk, knee - hip),
                stance.angle_between(ankle - knee, toe - ankle),
                np.arctan2(turned, np.sum(thigh * shank, axis=1)),
                thigh_long, shank_long, leg_long, foot_long,
                thigh_long / trunk_long, shank_long / trunk_long,
                leg_long / (thigh_long + shank_long + 1e-6),
            ],
            axis=1,
        )  # fmt: skip


def body_view(pose: PoseTrack, camera: Camera, motion: CameraMotion) -> BodyView:
    """See a player's landmarks along the line of sight to him.

    Frames in which the background could not be followed are NaN, since the camera's tilt is not
    known there.

    Args:
        pose: ``n`` frames of landmarks.
        camera: of the clip's reference frame.
        motion: the camera's motion over the same frames.
    """
    n = len(pose.t_s)
    sight_xy = np.full_like(pose.xy_px, np.nan)
    body_m = np.full_like(pose.world_m, np.nan)
    elevation = np.full(n, np.nan)
    hips = pose.xy_px[:, _HIPS].mean(axis=1)
    for i in np.flatnonzero(np.isfinite(hips).all(axis=1) & motion.tracked):
        now = camera.turned(motion.to_reference[i])
        sight_xy[i], body_m[i], elevation[i] = along_sight(now, pose.xy_px[i], pose.world_m[i])
    height_px = np.ptp(pose.xy_px[..., 1], axis=1)
    return BodyView(
        sight_xy,
        body_m,
        elevation,
        np.nan_to_num(pose.score),
        height_px,
        lower=np.zeros(n),
        lower_sd=np.full(n, np.inf),
    )


def along_sight(
    camera: Camera, xy_px: FloatArray, world_m: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """One frame's ``sight_xy``, ``body_m`` and ``elevation``, as in :class:`BodyView`.

    Args:
        camera: of this frame.
        xy_px, world_m: ``(33, 2)`` and ``(33, 3)`` landmarks as the pose model gives them.
    """
    rays = camera.rays(xy_px)
    ray = rays[_HIPS].mean(axis=0)
    ray /= np.linalg.norm(ray)
    level = np.linalg.norm(ray[:2])
    away = np.array([ray[0], ray[1], 0.0]) / level
    right = np.array([away[1], -away[0], 0.0])
    sight = rays @ np.stack([right, np.cross(ray, right), ray], axis=1)
    to_ground = camera.rotation.T @ stance.turned_by_ray(camera.rotation @ ray)
    body_m = world_m @ to_ground.T @ np.stack([right, away, _UP], axis=1)
    return sight[:, :2] / sight[:, 2:], body_m, float(np.arctan2(-ray[2], level))


def _trunk_seen(seen: FloatArray) -> FloatArray:
    """``(n,)`` length of the trunk in the picture."""
    shoulders, hips = (
        seen[:, SKELETON.indices(f"left_{part}", f"right_{part}")].mean(axis=1)
        for part in ("shoulder", "hip")
    )
    return np.asarray(np.linalg.norm(shoulders - hips, axis=1))


def _spread(xy: FloatArray) -> FloatArray:
    """``(n,)`` root mean square distance of the landmarks from the neck down from their middle."""
    return np.asarray(np.sqrt(xy[:, _BELOW_THE_NECK].var(axis=1).sum(axis=1)))


def view_angle(facing: FloatArray, up: FloatArray, to_camera: FloatArray) -> FloatArray:
    """Side from which the player is seen, radians: 0 from the front, pi/2 side-on, pi from behind.

    Args:
        facing: ``(..., 3)`` from :func:`forward`.
        up: ``(..., 3)``.
        to_camera: ``(..., 3)`` direction from the player to the camera.
    """
    upright = unit(up)
    level = to_camera - np.sum(to_camera * upright, axis=-1, keepdims=True) * upright
    return angle_between(facing, level)
