"""Bodies drawn by hand from a segment table, and cameras to see them with."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from posecheck.body.stance import turned_by_ray
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

# Shares of body height: Drillis and Contini, Body Segment Parameters, 1966, as drawn in Winter,
# Biomechanics and Motor Control of Human Movement, figure 4.1. From memory.
FOOT_HEIGHT, SHANK, THIGH = 0.039, 0.246, 0.245
PELVIS_WIDTH, SHOULDER_WIDTH, TRUNK = 0.191, 0.259, 0.288
UPPER_ARM, FOREARM = 0.186, 0.146


def squat(
    knee_bend_deg=60.0,
    trunk_lean_deg=30.0,
    base_width=1.9,
    hand_reach=0.6,
    hand_height=0.5,
    height_m=1.8,
):
    """``(33, 3)`` metres: x to the player's right, y forward, z up, soles at 0, hips over ankles.

    Shin and thigh tilt alike, so the hips come straight down. What is not measured (face,
    fingers) sits at the nearest joint.
    """
    half = np.radians(knee_bend_deg) / 2
    pelvis = PELVIS_WIDTH * height_m
    straight = (SHANK + THIGH) * height_m * np.cos(half)  # hip to ankle
    spread = np.arcsin((base_width - 1) * pelvis / 2 / straight)
    lean = np.radians(trunk_lean_deg)
    hips = np.array([0.0, 0.0, FOOT_HEIGHT * height_m + straight * np.cos(spread)])
    shoulders = hips + TRUNK * height_m * np.array([0.0, np.sin(lean), np.cos(lean)])
    wrists = np.array(
        [
            0.0,
            shoulders[1] + hand_reach * (UPPER_ARM + FOREARM) * height_m,
            hips[2] + hand_height * (shoulders - hips)[2],
        ]
    )
    points = {}
    for side, sign in (("left", -1.0), ("right", 1.0)):
        across = np.array([sign, 0.0, 0.0])
        down = np.array([sign * np.sin(spread), 0.0, -np.cos(spread)])
        ahead = np.array([0.0, 1.0, 0.0])
        hip = hips + across * pelvis / 2
        knee = hip + THIGH * height_m * (np.cos(half) * down + np.sin(half) * ahead)
        ankle = knee + SHANK * height_m * (np.cos(half) * down - np.sin(half) * ahead)
        shoulder = shoulders + across * SHOULDER_WIDTH * height_m / 2
        wrist = wrists + across * 0.1
        points |= {
            f"{side}_{name}": place
            for name, place in {
                "hip": hip,
                "knee": knee,
                "ankle": ankle,
                "heel": ankle * [1, 1, 0] - 0.05 * ahead,
                "foot_index": ankle * [1, 1, 0] + 0.15 * ahead,
                "shoulder": shoulder,
                "elbow": _elbow(shoulder, wrist, height_m),
                "wrist": wrist,
            }.items()
        }
    head = shoulders + np.array([0.0, 0.1, 0.13 * height_m])
    near = {"pinky": "wrist", "index": "wrist", "thumb": "wrist"}

    def place(name):
        side, _, part = name.partition("_")
        return points.get(f"{side}_{near.get(part, part)}", head)

    return np.array([place(name) for name in SKELETON.names])


def _elbow(shoulder, wrist, height_m):
    """Bent downward so that upper arm and forearm have their lengths."""
    upper, fore = UPPER_ARM * height_m, FOREARM * height_m
    way = wrist - shoulder
    far = np.linalg.norm(way)
    if far >= upper + fore:
        return shoulder + way * upper / (upper + fore)
    along = (far**2 + upper**2 - fore**2) / (2 * far)
    down = np.array([0.0, 0.0, -1.0])
    down = down - (down @ way) * way / far**2
    return shoulder + way * along / far + down / np.linalg.norm(down) * np.sqrt(upper**2 - along**2)


def faces(body, yaw_rad):
    """The body turned about the vertical; 0 faces y."""
    return Rotation.from_euler("z", yaw_rad).apply(body)


def camera_at(centre_m, looks_at_m, focal_px=1400.0, size=(1920, 1080)):
    """A level-held camera that looks at a point of the ground frame."""
    centre, toward = np.asarray(centre_m, float), np.asarray(looks_at_m, float)
    ahead = (toward - centre) / np.linalg.norm(toward - centre)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(ahead, right), ahead])
    matrix = np.array([[focal_px, 0, size[0] / 2], [0, focal_px, size[1] / 2], [0, 0, 1]])
    return Camera(matrix, rotation, centre)


def seen_by(camera, bodies_m, t_s, score=0.9):
    """Landmarks of bodies ``(n, 33, 3)`` on the ground's axes as an errorless model gives them."""
    joints = SKELETON.indices("left_hip", "right_hip")
    hips, xy_px = bodies_m[:, joints].mean(axis=1), camera.to_image(bodies_m)
    rays = camera.rays(xy_px[:, joints].mean(axis=1))
    world = np.empty_like(bodies_m)
    for i, body in enumerate(bodies_m):
        view = turned_by_ray(camera.rotation @ rays[i])
        world[i] = (body - hips[i]) @ camera.rotation.T @ view
    return PoseTrack(t_s, xy_px, world, np.full(bodies_m.shape[:2], score))


def steady(n):
    """A camera that does not move."""
    return CameraMotion(np.tile(np.eye(3), (n, 1, 1)), np.ones(n, dtype=bool))
