"""A runner made of sticks, and cameras to film him with: the truth behind the ground tests."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from posecheck.body.foot_sight import FootSight
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.ground.tuning import LIFT_S
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

THIGH_M, SHIN_M, TORSO_M, STEP_RATE_HZ = 0.43, 0.43, 0.50, 4.0


def camera_at(
    centre_m: tuple[float, float, float],
    target_m: tuple[float, float, float],
    hfov_deg: float = 65.0,
    size_px: tuple[int, int] = (1920, 1080),
    roll_deg: float = 0.0,
) -> Camera:
    """A camera that looks at a point."""
    forward = np.subtract(target_m, centre_m)
    forward = forward / np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    level = np.stack([right, np.cross(forward, right), forward])
    rotation = Rotation.from_euler("z", roll_deg, degrees=True).as_matrix() @ level
    focal = max(size_px) / 2 / np.tan(np.radians(hfov_deg / 2))
    matrix = np.array(
        [[focal, 0, (size_px[0] - 1) / 2], [0, focal, (size_px[1] - 1) / 2], [0, 0, 1]]
    )
    return Camera(matrix, rotation, np.asarray(centre_m, dtype=np.float64))


def still(n_frames: int) -> CameraMotion:
    """A camera on a tripod."""
    return CameraMotion(np.tile(np.eye(3), (n_frames, 1, 1)), np.ones(n_frames, dtype=np.bool_))


@dataclass(frozen=True)
class Run:
    """Truth: ``ground_m (n, 2)`` and ``speed_mps (n,)`` of the hips, ``joints_m (n, 33, 3)``."""

    t_s: FloatArray
    ground_m: FloatArray
    speed_mps: FloatArray
    joints_m: FloatArray

    def seen(
        self, camera: Camera, noise_px: float, rng: np.random.Generator
    ) -> tuple[FloatArray, FloatArray]:
        """Landmarks as a pose model would give them: pixels and scores."""
        xy_px = camera.to_image(self.joints_m)
        xy_px = xy_px + rng.normal(0, noise_px, xy_px.shape)
        return xy_px, np.full(xy_px.shape[:2], 0.95)

    def pose(self, camera: Camera) -> PoseTrack:
        """Landmarks of a pose model that makes no error, in pixels and in metres."""
        xy_px, score = self.seen(camera, 0.0, np.random.default_rng(0))
        hips = self.joints_m[:, SKELETON.indices("left_hip", "right_hip")]
        world_m = (self.joints_m - hips.mean(axis=1, keepdims=True)) @ camera.rotation.T
        return PoseTrack(self.t_s, xy_px, world_m, score)

    def foot_sight(self, camera: Camera, rng: np.random.Generator, sd_m: float = 0.04) -> FootSight:
        """Where the lines of sight to the feet pass below the hips, as well as a net reads it.

        From the camera through a foot and on, or back, to the range of the hips; of runners a
        little lower, as single pictures tell it.
        """
        centre = camera.centre_m
        out = self.ground_m - centre[:2]
        away = np.linalg.norm(out, axis=1)
        heights = []
        for side in ("left", "right"):
            foot = self.joints_m[:, SKELETON.indices(f"{side}_heel", f"{side}_foot_index")]
            way = foot.mean(axis=1) - centre
            along = np.einsum("ni,ni->n", way[:, :2], out) / away
            heights.append(centre[2] + way[:, 2] * away / along)
        height_m = np.stack(heights, axis=1) - LIFT_S * self.speed_mps[:, None]
        noise = rng.normal(0, sd_m, height_m.shape)
        return FootSight(height_m + noise, np.full_like(height_m, sd_m))


def closeout(
    start_m: tuple[float, float] = (0.0, 3.5),
    target_m: tuple[float, float] = (0.0, 14.0),
    rate_hz: float = 30.0,
    top_mps: float = 6.0,
    speed_up_mps2: float = 5.0,
    braking_mps2: float = 5.0,
    crouch_m: float = 0.20,
) -> Run:
    """Stand half a second, run up to speed, brake to a stop in a low stance at the target.

    Straight-line kinematics by hand: speed rises at ``speed_up_mps2`` to ``top_mps``, stays, and
    falls at ``braking_mps2`` so that the run ends at ``target_m``. Feet land four times a second
    where the ground's push passes through the hips in the middle of contact (hip height over
    gravity, times acceleration, behind them); the swinging foot flies 0.25 m high.
    """
    way = np.subtract(target_m, start_m)
    distance = float(np.linalg.norm(way))
    way = way / distance
    left_of_way = np.array([-way[1], way[0]])

    rise_s, fall_s = top_mps / speed_up_mps2, top_mps / braking_mps2
    cruise_s = (distance - top_mps * (rise_s + fall_s) / 2) / top_mps
    if cruise_s < 0:
        raise ValueError("too short a run for this speed")
    moments = np.cumsum([0.5, rise_s, cruise_s, fall_s])
    fine_t = np.arange(0, moments[-1] + 0.8, 1 / 960)
    fine_speed = np.interp(fine_t, moments, [0, top_mps, top_mps, 0])
    fine_gone = np.concatenate(
        [[0], np.cumsum((fine_speed[1:] + fine_speed[:-1]) / 2 * np.diff(fine_t))]
    )

    t_s = np.arange(0, fine_t[-1], 1 / rate_hz)
    speed = np.interp(t_s, fine_t, fine_speed)
    gone = np.interp(t_s, fine_t, fine_gone)
    ground = np.asarray(start_m) + gone[:, None] * way
    push = np.gradient(fine_speed, fine_t)
    under = fine_gone - 0.9 / 9.81 * np.convolve(push, np.ones(240) / 240, mode="same")

    low = np.interp(t_s, [moments[2], moments[2] + 0.6 * fall_s], [0, 1])
    bounce = 0.03 * np.cos(2 * np.pi * STEP_RATE_HZ * t_s) * np.clip(speed / 3, 0, 1)
    hip_height = 0.90 - crouch_m * low + bounce
    half_base = np.interp(low, [0, 1], [0.08, 0.28])
    lean = np.radians(np.interp(low, [0, 1], [10, 35]))

    def point(along: FloatArray, left: FloatArray, height: FloatArray) -> FloatArray:
        flat = ground + along[:, None] * way + left[:, None] * left_of_way
        return np.column_stack([flat, height])

    n = len(t_s)
    zero, one = np.zeros(n), np.ones(n)
    joints: dict[str, FloatArray] = {}
    torso_along, torso_up = TORSO_M * np.sin(lean), TORSO_M * np.cos(lean)
    neck = hip_height + torso_up
    for sign, side in ((1, "left"), (-1, "right")):
        joints[f"{side}_hip"] = point(zero, sign * 0.09 * one, hip_height)
        joints[f"{side}_shoulder"] = point(torso_along, sign * 0.19 * one, neck)
        joints[f"{side}_elbow"] = point(torso_along, sign * 0.24 * one, neck - 0.28)
        joints[f"{side}_wrist"] = point(torso_along + 0.25, sign * 0.15 * one, neck - 0.28)
        joints[f"{side}_ear"] = point(torso_along, sign * 0.07 * one, neck + 0.22)
        joints[f"{side}_eye"] = point(torso_along + 0.08, sign * 0.03 * one, neck + 0.24)
        foot = _foot(t_s, fine_t, under, fine_speed, phase=0.0 if sign > 0 else 0.5)
        ahead, lift = foot[:, 0] - gone, foot[:, 1]
        ankle = point(ahead, sign * half_base, 0.09 + lift)
        joints[f"{side}_ankle"] = ankle
        joints[f"{side}_heel"] = point(ahead - 0.05, sign * half_base, 0.03 + lift)
        joints[f"{side}_foot_index"] = point(ahead + 0.16, sign * half_base, 0.02 + lift)
        joints[f"{side}_knee"] = _knee(joints[f"{side}_hip"], ankle, np.append(way, 0.0))
    joints["nose"] = point(torso_along + 0.12, zero, neck + 0.20)

    body = np.empty((n, len(SKELETON), 3))
    for index, name in enumerate(SKELETON.names):
        side, _, part = name.partition("_")
        if name in joints:
            body[:, index] = joints[name]
        elif part in {"pinky", "index", "thumb"}:
            body[:, index] = joints[f"{side}_wrist"]
        else:
            body[:, index] = joints["nose"]
    return Run(t_s, ground, speed, body)


def _foot(
    t_s: FloatArray, fine_t: FloatArray, gone: FloatArray, speed: FloatArray, phase: float
) -> FloatArray:
    """``(n, 2)`` a foot's place along the run, and its height, metres."""
    period = 2 / STEP_RATE_HZ
    k = np.arange(-2, int(fine_t[-1] / period) + 3)
    middle = (k + phase) * period
    place = np.interp(middle, fine_t, gone)
    share = np.interp(np.interp(middle, fine_t, speed), [0.5, 4], [0.8, 0.36])  # of the period
    down, off = middle - share * period / 2, middle + share * period / 2
    along, lift = np.empty_like(t_s), np.empty_like(t_s)
    for i, t in enumerate(t_s):
        now = int(np.searchsorted(down, t, side="right")) - 1
        if t <= off[now]:
            along[i], lift[i] = place[now], 0.0
            continue
        part = (t - off[now]) / (down[now + 1] - off[now])
        stride = place[now + 1] - place[now]
        along[i] = place[now] + stride * (part - np.sin(2 * np.pi * part) / (2 * np.pi))
        lift[i] = min(0.25, 0.02 + 0.2 * stride) * np.sin(np.pi * part) if stride > 0.01 else 0.0
    return np.column_stack([along, lift])


def _knee(hip: FloatArray, ankle: FloatArray, way: FloatArray) -> FloatArray:
    """Knee of two rigid bones, bent towards the run's direction."""
    leg = ankle - hip
    length = np.linalg.norm(leg, axis=1, keepdims=True)
    reach = np.minimum(length, THIGH_M + SHIN_M - 1e-3)
    unit = leg / length
    down = (reach**2 + THIGH_M**2 - SHIN_M**2) / (2 * reach)
    out = np.sqrt(np.maximum(THIGH_M**2 - down**2, 0))
    sideways = way - (unit @ way)[:, None] * unit
    sideways /= np.linalg.norm(sideways, axis=1, keepdims=True)
    return np.asarray(hip + down * unit + out * sideways)
