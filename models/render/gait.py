"""A running cycle from motion capture, as smooth functions of phase.

The capture is pybullet's copy of the DeepMimic humanoid clips: joint turns as quaternions
(w first) at 30 frames a second, x forward, y up, z to the right. A cycle's second half is
the first half mirrored, so the right leg alone gives both legs.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

import numpy as np
from scipy.spatial.transform import Rotation

from models.render.body import Floats

# Columns of a frame: time step, root place (3), then the turns in this order.
_COLUMNS = {
    "root": (4, 8), "chest": (8, 12), "right_hip": (16, 20), "right_knee": (20, 21),
    "right_ankle": (21, 25),
}  # fmt: skip
TO_BODY = np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]])  # x fwd, y up, z right -> right, fwd, up
_HARMONICS = 5  # the capture jumps a little where its halves meet; five harmonics smooth it


@dataclass(frozen=True)
class Gait:
    """A cycle of the right leg, phase 0 at its touch-down; the left leg is half a cycle off.

    Each field holds Fourier coefficients (2 * harmonics + 1, k) over phase; `at` evaluates.
    """

    contact: float  # share of the cycle with the foot on the ground, as captured
    thigh: Floats  # unit vector hip -> knee, ground axes (right, forward, up)
    shank: Floats  # unit vector knee -> ankle
    foot_pitch: Floats  # rad, toes up positive
    pelvis_yaw: Floats  # rad, to the left positive
    chest_yaw: Floats
    lean_swing: Floats  # rad, trunk lean about its own mean

    @staticmethod
    def at(curve: Floats, phase: Floats) -> Floats:
        """Curve values (n, k) at phases (n,) in cycles."""
        return np.asarray(_basis(phase) @ curve)


def knee_flexion(hip: Floats, knee: Floats, ankle: Floats) -> Floats:
    """Knee flexion (...,) rad from joint centres (..., 3): pi minus the angle at the knee."""
    thigh, shank = knee - hip, ankle - knee
    cross = np.linalg.norm(np.cross(thigh, shank), axis=-1)
    return np.asarray(np.arctan2(cross, (thigh * shank).sum(axis=-1)))


def captured(name: Literal["run", "walk"]) -> tuple[Floats, dict[str, Rotation], Floats]:
    """Root places (n, 3), turns by joint, and right knee flexion (n,) rad, as captured."""
    import pybullet_data

    path = Path(pybullet_data.getDataPath()) / "data" / "motions" / f"humanoid3d_{name}.txt"
    frames = np.array(json.loads(path.read_text())["Frames"])
    turns = {}
    for joint, (a, b) in _COLUMNS.items():
        if b - a == 4:
            turns[joint] = Rotation.from_quat(np.roll(frames[:, a:b], -1, axis=1))
    return frames[:, 1:4], turns, -frames[:, 20]


@lru_cache(maxsize=1)
def load_gait() -> Gait:
    """The running cycle as smooth curves."""
    _, turns, flexion = captured("run")
    n = len(flexion) - 1  # the last frame repeats the first, one stride on
    root, thigh_turn = turns["root"], turns["root"] * turns["right_hip"]
    shank_turn = thigh_turn * Rotation.from_euler("z", -flexion[:, None])
    foot_turn = shank_turn * turns["right_ankle"]
    chest = root * turns["chest"]
    down = [0.0, -1.0, 0.0]

    def curve(values: Floats) -> Floats:
        values = values[:n].reshape(n, -1)
        return np.asarray(np.linalg.lstsq(_basis(np.arange(n) / n), values, rcond=None)[0])

    def yaw(turn: Rotation) -> Floats:
        ahead = turn.apply([1.0, 0.0, 0.0])
        return np.asarray(np.arctan2(-ahead[:, 2], ahead[:, 0]))

    up = chest.apply([0.0, 1.0, 0.0])
    lean = np.arctan2(up[:, 0], up[:, 1])
    return Gait(
        contact=0.27,
        thigh=curve(thigh_turn.apply(down) @ TO_BODY.T),
        shank=curve(shank_turn.apply(down) @ TO_BODY.T),
        foot_pitch=curve(np.arcsin(foot_turn.apply([1.0, 0.0, 0.0])[:, 1])),
        pelvis_yaw=curve(yaw(root)),
        chest_yaw=curve(yaw(chest)),
        lean_swing=curve(lean - lean[:n].mean()),
    )


def _basis(phase: Floats) -> Floats:
    turns = 2 * np.pi * np.asarray(phase)[:, None] * np.arange(1, _HARMONICS + 1)
    return np.concatenate([np.ones((len(turns), 1)), np.cos(turns), np.sin(turns)], axis=1)
