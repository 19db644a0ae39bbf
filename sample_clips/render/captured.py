"""Players who move as somebody was captured moving: running, walking, jumping and landing.

Legs, pelvis, chest and head follow the capture's joint turns; the arms carry the stick. The
capture is pybullet's copy of the DeepMimic humanoid clips, see `gait`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
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


def plan_captured(spec: BodySpec, name: Name, seed: int = 0) -> PlayerMotion:
    """The captured movement, every frame of it, by a body that carries a stick."""
    rng = np.random.default_rng(seed)
    moves = _capture(name)
    chest = moves.root * moves.turn["chest"]
    legs = [moves.leg(side) for side in ("left", "right")]
    return _filmed(spec, rng, moves, chest, legs, apart=0.0)


def plan_varied(spec: BodySpec, names: tuple[Name, ...], n: int, seed: int = 0) -> PlayerMotion:
    """So many poses put together by chance from captured movements.

    Trunk and either leg come from frames of their own, of movements of their own, and are
    straightened or bent further: a wide spread of poses a body can take, none of them a rep's.
    """
    rng = np.random.default_rng(seed)
    every = [_capture(name) for name in names]

    def drawn() -> _Moves:
        chosen = rng.integers(0, len(every), n)
        return _Moves.picked(
            [(every[k], int(rng.integers(0, len(every[k].knee["left"])))) for k in chosen]
        )

    trunk = drawn()
    stoop = rng.uniform(np.radians(-8), np.radians(32), n)
    # Leaning is a turn about the axis to the right, forward is negative.
    chest = (
        trunk.root
        * _part(trunk.turn["chest"], rng.uniform(0, 1.15, n))
        * Rotation.from_euler("z", -stoop[:, None])
    )
    both = rng.uniform(0, np.radians(42), n) * (rng.uniform(size=n) < 0.5)
    legs = []
    for side in ("left", "right"):
        alone = rng.uniform(0, np.radians(25), n) * (rng.uniform(size=n) < 0.3)
        crouch, share = both + alone, rng.uniform(0, 1.15, n)
        hip, knee, ankle = drawn().leg(side)
        bend = Rotation.from_euler("z", crouch[:, None])
        legs.append(
            (_part(hip, share) * bend, share * knee - 2 * crouch, bend * _part(ankle, share))
        )
    return _filmed(spec, rng, trunk, chest, legs, apart=1.0)


_Leg = tuple[Rotation, Floats, Rotation]
"""Turn of the hip, angle of the knee (bent is negative), turn of the ankle, for n frames."""


@dataclass(frozen=True)
class _Moves:
    """Joint turns of n frames: by joint, and the two knees' angles."""

    turn: dict[str, Rotation]
    knee: dict[str, Floats]
    step_s: float

    @property
    def root(self) -> Rotation:
        return self.turn["root"]

    def leg(self, side: str) -> _Leg:
        return self.turn[f"{side}_hip"], self.knee[side], self.turn[f"{side}_ankle"]

    @staticmethod
    def picked(frames: list[tuple[_Moves, int]]) -> _Moves:
        turn = {
            joint: Rotation.from_quat([moves.turn[joint][i].as_quat() for moves, i in frames])
            for joint in _TURNS
        }
        knee = {side: np.array([moves.knee[side][i] for moves, i in frames]) for side in _KNEE}
        return _Moves(turn, knee, frames[0][0].step_s)


@cache
def _capture(name: Name) -> _Moves:
    import pybullet_data

    path = Path(pybullet_data.getDataPath()) / "data" / "motions" / f"humanoid3d_{name}.txt"
    frames = np.array(json.loads(path.read_text())["Frames"])
    turn = {
        joint: Rotation.from_quat(np.roll(frames[:, a : a + 4], -1, axis=1))
        for joint, a in _TURNS.items()
    }
    knee = {side: frames[:, column] for side, column in _KNEE.items()}
    return _Moves(turn, knee, float(frames[0, 0]))


def _filmed(
    spec: BodySpec,
    rng: np.random.Generator,
    moves: _Moves,
    chest: Rotation,
    legs: list[_Leg],
    apart: float,
) -> PlayerMotion:
    """The body in these turns; ``apart`` of 1 gives every frame hands of its own."""
    root, n = moves.root, len(chest)
    thighs, shanks, feet = [], [], []
    for hip, knee, ankle in legs:
        thighs.append(root * hip)
        shanks.append(thighs[-1] * Rotation.from_euler("z", knee[:, None]))
        feet.append(shanks[-1] * ankle)
    rig = rig_of(spec)
    pose = rig.follow(
        Followed(
            pelvis=_ours(root),
            chest=_ours(chest),
            head=_ours(chest * moves.turn["neck"]),
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
    return film((np.arange(n) * moves.step_s, rig, pose))


def _part(turn: Rotation, share: Floats) -> Rotation:
    """Every turn by a share of its angle."""
    return Rotation.from_rotvec(share[:, None] * turn.as_rotvec())


def _ours(turn: Rotation) -> Floats:
    """Turns (n, 3, 3) from the capture's axes to the body's."""
    return np.asarray(TO_BODY @ turn.as_matrix() @ TO_BODY.T)
