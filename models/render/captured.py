"""Players who move as somebody was captured moving: running, walking, jumping and landing.

Legs, pelvis, chest and head follow the capture's joint turns; the arms carry the stick. The
capture is pybullet's copy of the DeepMimic humanoid clips, see `gait`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation, Slerp

from models.render.body import BodySpec, Floats
from models.render.gait import TO_BODY
from models.render.limbs import unit
from models.render.motion import SOLE_M, PlayerMotion, film, rig_of
from models.render.rig import SIDES, Followed, Pose, Rig

_TURNS = {
    "root": 4, "chest": 8, "neck": 12, "right_hip": 16, "right_ankle": 21, "left_hip": 30,
    "left_ankle": 35,
}  # fmt: skip
HOVER_M = 0.08
"""Feet no higher than this above the ground are down."""
_KNEE = {"right": 20, "left": 34}
"""First columns of a frame: turns as quaternions, w first; knees as one angle."""


def plan_captured(spec: BodySpec, name: str, seed: int = 0) -> PlayerMotion:
    """The captured movement, every frame of it, by a body that carries a stick."""
    rng = np.random.default_rng(seed)
    return _film_on_the_ground(*_as_it_is(spec, rng, _capture(name)))


def plan_travelling(
    spec: BodySpec,
    name: str,
    cycles: int,
    middle_m: tuple[float, float],
    heading_rad: float,
    fps: float,
    seed: int = 0,
) -> PlayerMotion:
    """The captured movement so many times, over the field, flight and all.

    The path lies about middle_m and leads heading_rad to the left of upfield.
    """
    rng = np.random.default_rng(seed)
    captured = _capture(name)
    length_s = captured.step_s * (captured.n - 1)  # the last frame is the next cycle's first
    cycle, phase_s = np.divmod(np.arange(int(cycles * length_s * fps)) / fps, length_s)
    moves = captured.at(phase_s).headed(heading_rad)
    t_s, rig, pose = _as_it_is(spec, rng, moves)
    low = rig.body.skin(pose.turns, pose.places)[..., 2].min(axis=1)
    # The body's legs are not the captured ones: as much longer as takes one foot to the ground.
    # That leaves the others a little above it when they are down.
    size = float((-low / moves.root_m[:, 2]).max())
    flight = np.maximum(low + size * moves.root_m[:, 2] - HOVER_M, 0.0)
    path = size * (moves.root_m + cycle[:, None] * captured.headed(heading_rad).travel_m)
    place = path[:, :2] + np.array(middle_m) - (path[0, :2] + path[-1, :2]) / 2
    _carry(pose, np.column_stack([place, SOLE_M + flight - low]))
    return film((np.arange(len(t_s)) / fps, rig, pose))


def plan_varied(spec: BodySpec, names: tuple[str, ...], n: int, seed: int = 0) -> PlayerMotion:
    """So many poses put together at random from captured movements.

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
    return _film_on_the_ground(*_posed(spec, rng, trunk, chest, legs, apart=1.0))


_Leg = tuple[Rotation, Floats, Rotation]
"""Turn of the hip, angle of the knee (bent is negative), turn of the ankle, for n frames."""


@dataclass(frozen=True)
class _Moves:
    """Joint turns of n frames: by joint, the two knees' angles, and where the hips are (n, 3)."""

    turn: dict[str, Rotation]
    knee: dict[str, Floats]
    root_m: Floats
    step_s: float

    @property
    def n(self) -> int:
        return len(self.root_m)

    @property
    def root(self) -> Rotation:
        return self.turn["root"]

    def leg(self, side: str) -> _Leg:
        return self.turn[f"{side}_hip"], self.knee[side], self.turn[f"{side}_ankle"]

    @property
    def travel_m(self) -> Floats:
        """(3,) how far one cycle goes along the ground."""
        return np.asarray((self.root_m[-1] - self.root_m[0]) * [1.0, 1.0, 0.0])

    def at(self, t_s: Floats) -> _Moves:
        """Between the frames, at these moments from the first one on."""
        times = np.arange(self.n) * self.step_s
        return _Moves(
            {joint: Slerp(times, turns)(t_s) for joint, turns in self.turn.items()},
            {side: np.interp(t_s, times, knee) for side, knee in self.knee.items()},
            np.column_stack([np.interp(t_s, times, axis) for axis in self.root_m.T]),
            self.step_s,
        )

    def headed(self, heading_rad: float) -> _Moves:
        """Turned to the left as a whole."""
        turned = {**self.turn, "root": Rotation.from_euler("y", heading_rad) * self.root}
        root_m = Rotation.from_euler("z", heading_rad).apply(self.root_m)
        return replace(self, turn=turned, root_m=root_m)

    @staticmethod
    def picked(frames: list[tuple[_Moves, int]]) -> _Moves:
        turn = {
            joint: Rotation.from_quat([moves.turn[joint][i].as_quat() for moves, i in frames])
            for joint in _TURNS
        }
        knee = {side: np.array([moves.knee[side][i] for moves, i in frames]) for side in _KNEE}
        root_m = np.array([moves.root_m[i] for moves, i in frames])
        return _Moves(turn, knee, root_m, frames[0][0].step_s)


@cache
def _capture(name: str) -> _Moves:
    import pybullet_data

    path = Path(pybullet_data.getDataPath()) / "data" / "motions" / f"humanoid3d_{name}.txt"
    frames = np.array(json.loads(path.read_text())["Frames"])
    turn = {
        joint: Rotation.from_quat(np.roll(frames[:, a : a + 4], -1, axis=1))
        for joint, a in _TURNS.items()
    }
    knee = {side: frames[:, column] for side, column in _KNEE.items()}
    return _Moves(turn, knee, frames[:, 1:4] @ TO_BODY.T, float(frames[0, 0]))


def _as_it_is(spec: BodySpec, rng: np.random.Generator, moves: _Moves) -> tuple[Floats, Rig, Pose]:
    chest = moves.root * moves.turn["chest"]
    legs = [moves.leg(side) for side in ("left", "right")]
    return _posed(spec, rng, moves, chest, legs, apart=0.0)


def _posed(
    spec: BodySpec,
    rng: np.random.Generator,
    moves: _Moves,
    chest: Rotation,
    legs: list[_Leg],
    apart: float,
) -> tuple[Floats, Rig, Pose]:
    """The body in these turns, hips in one place; ``apart`` of 1: hands of its own each frame."""
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
    return np.arange(n, dtype=np.float64) * moves.step_s, rig, pose


def _film_on_the_ground(t_s: Floats, rig: Rig, pose: Pose) -> PlayerMotion:
    """Poses are wanted, not the flight: the lower foot is on the ground in every frame."""
    rise = SOLE_M - _lower_foot_m(rig, pose)
    _carry(pose, np.column_stack([0 * rise, 0 * rise, rise]))
    return film((t_s, rig, pose))


def _lower_foot_m(rig: Rig, pose: Pose) -> Floats:
    """(n,) height of the lower bare sole, as if the foot were flat."""
    ankles = [rig.body.bone(f"foot{s}") for s in SIDES]
    return np.asarray(pose.places[:, ankles, 2].min(axis=1) - rig.body.head("foot.R")[2])


def _carry(pose: Pose, way_m: Floats) -> None:
    """Move every frame's body by (n, 3) m."""
    pose.places[...] += way_m[:, None]
    pose.palms[..., :3, 3] += way_m[:, None]


def _part(turn: Rotation, share: Floats) -> Rotation:
    """Every turn by a share of its angle."""
    return Rotation.from_rotvec(share[:, None] * turn.as_rotvec())


def _ours(turn: Rotation) -> Floats:
    """Turns (n, 3, 3) from the capture's axes to the body's."""
    return np.asarray(TO_BODY @ turn.as_matrix() @ TO_BODY.T)
