"""Players who move as somebody was captured moving: running, walking, jumping and landing.

Legs, pelvis, chest and head follow the capture's joint turns; the arms carry the stick. The
capture is pybullet's copy of the DeepMimic humanoid clips, see `gait`.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Literal

import numpy as np
from scipy.spatial.transform import Rotation

from sample_clips.render.body import BodySpec, Floats
from sample_clips.render.gait import TO_BODY
from sample_clips.render.motion import SOLE_M, PlayerMotion, film, rig_of
from sample_clips.render.rig import SIDES, Followed, unit

Name = Literal["run", "walk", "jump", "dance_a", "dance_b", "punch", "kick"]

_TURNS = {
    "root": 4, "chest": 8, "neck": 12, "right_hip": 16, "right_ankle": 21, "left_hip": 30,
    "left_ankle": 35,
}  # fmt: skip
_KNEE = {"right": 20, "left": 34}
"""First columns of a frame: turns as quaternions, w first; knees as one angle."""


def plan_captured(
    spec: BodySpec, name: Name, seed: int = 0, varied: int | None = None
) -> PlayerMotion:
    """The captured movement, every frame of it, by a body that carries a stick.

    With ``varied``, just so many of its frames, drawn by chance, and each a pose of its own: legs
    and trunk straightened or bent further by chance.
    """
    import pybullet_data

    path = Path(pybullet_data.getDataPath()) / "data" / "motions" / f"humanoid3d_{name}.txt"
    frames = np.array(json.loads(path.read_text())["Frames"])
    rng = np.random.default_rng(seed)
    if varied:
        frames = frames[rng.integers(0, len(frames), varied)]
    turn = {
        joint: Rotation.from_quat(np.roll(frames[:, a : a + 4], -1, axis=1))
        for joint, a in _TURNS.items()
    }
    n = len(frames)
    share, crouch, stoop, apart = np.ones(n), np.zeros(n), np.zeros(n), 0.0
    if varied:
        apart = 1.0
        share = rng.uniform(0, 1.15, n)
        crouch = rng.uniform(0, np.radians(42), n) * (rng.uniform(size=n) < 0.6)
        stoop = rng.uniform(np.radians(-8), np.radians(28), n)
    root = turn["root"]
    # Leaning is a turn about the axis to the right, forward is negative.
    chest = root * _part(turn["chest"], share) * Rotation.from_euler("z", -stoop[:, None])
    thighs, shanks, feet = [], [], []
    for side in ("left", "right"):
        hip = _part(turn[f"{side}_hip"], share) * Rotation.from_euler("z", crouch[:, None])
        knee = share * frames[:, _KNEE[side]] - 2 * crouch
        thighs.append(root * hip)
        shanks.append(thighs[-1] * Rotation.from_euler("z", knee[:, None]))
        ankle = Rotation.from_euler("z", crouch[:, None]) * _part(turn[f"{side}_ankle"], share)
        feet.append(shanks[-1] * ankle)
    rig = rig_of(spec)
    pose = rig.follow(
        Followed(
            pelvis=_ours(root),
            chest=_ours(chest),
            head=_ours(chest * turn["neck"]),
            thigh=np.stack([_ours(each) for each in thighs], axis=1),
            shank=np.stack([_ours(each) for each in shanks], axis=1),
            foot=np.stack([_ours(each) for each in feet], axis=1),
            reach=rng.uniform(0.15, 0.6) + apart * rng.uniform(-0.15, 0.15, n),
            height=rng.uniform(0.25, 0.65) + apart * rng.uniform(-0.15, 0.15, n),
            shaft=np.tile(unit(rng.normal((0.6, 0.4, 0.4), 0.2)), (n, 1)),
            grip_m=np.full(n, 0.42),
        )
    )
    # Poses are wanted, not the flight: the lower foot is on the ground in every frame.
    ankles = [rig.body.bone(f"foot{s}") for s in SIDES]
    rise = rig.body.head("foot.R")[2] + SOLE_M - pose.places[:, ankles, 2].min(axis=1)
    pose.places[..., 2] += rise[:, None]
    pose.palms[..., 2, 3] += rise[:, None]
    return film((np.arange(n) * float(frames[0, 0]), rig, pose))


def _part(turn: Rotation, share: Floats) -> Rotation:
    """Every turn by a share of its angle."""
    return Rotation.from_rotvec(share[:, None] * turn.as_rotvec())


def _ours(turn: Rotation) -> Floats:
    """Turns (n, 3, 3) from the capture's axes to the body's."""
    return np.asarray(TO_BODY @ turn.as_matrix() @ TO_BODY.T)
