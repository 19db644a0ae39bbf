"""A walking body whose landmarks are known."""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

PX_PER_M = 100.0
_UP_M = {
    **dict.fromkeys(("eye_inner", "eye", "eye_outer", "ear", "mouth"), 0.75),
    "shoulder": 0.5,
    "elbow": 0.25,
    **dict.fromkeys(("wrist", "pinky", "index", "thumb"), 0.0),
    "hip": 0.0,
    "knee": -0.45,
    "ankle": -0.85,
    "heel": -0.9,
    "foot_index": -0.9,
}
_SWING_M = {
    "elbow": 0.2,
    **dict.fromkeys(("wrist", "pinky", "index", "thumb"), 0.35),
    "knee": -0.25,
    **dict.fromkeys(("ankle", "heel", "foot_index"), -0.45),
}
_ASIDE_M = {"shoulder": 0.2, "elbow": 0.25, "hip": 0.1, "knee": 0.1, "ankle": 0.1}


def walker(t_s: FloatArray, turned_deg: float, seed: int = 0) -> PoseTrack:
    """One who walks on the spot, 1.4 strides a second, limbs swinging as sines.

    Args:
        t_s: ``(n,)`` seconds.
        turned_deg: 0 he faces the camera, 90 the right edge of the picture.
        seed: of 5 mm of noise.
    """
    body = np.zeros((len(t_s), 33, 3))  # forward, to his left, up
    for number, name in enumerate(SKELETON.names):
        side, _, part = name.partition("_")
        sign = {"left": 1, "right": -1}.get(side, 0)
        swing = sign * _SWING_M.get(part, 0.0) * np.sin(2 * np.pi * 1.4 * t_s)
        body[:, number] = np.stack(
            [swing, 0 * t_s + sign * _ASIDE_M.get(part, 0.05), 0 * t_s + _UP_M.get(part, 0.7)], -1
        )
    turn = np.radians(turned_deg)
    forward, left, up = np.moveaxis(body, 2, 0)
    world_m = np.stack(
        [
            forward * np.sin(turn) + left * np.cos(turn),
            -up,
            -forward * np.cos(turn) + left * np.sin(turn),
        ],
        axis=2,
    )
    xy_m = world_m[..., :2] + np.random.default_rng(seed).normal(0, 0.005, (len(t_s), 33, 2))
    return PoseTrack(t_s, 500 + PX_PER_M * xy_m, world_m, np.full((len(t_s), 33), 0.9))
