"""Players in motion: plans for the defender, the attacker and a waiting player.

How to call it::

    motion = plan_defender(BodySpec(height_m=1.80), RepSpec(attacker_m=(0.0, 13.7), seed=3))
    other = plan_attacker(BodySpec(), AttackerSpec(place_m=(0.0, 13.7), duration_s=motion.t_s[-1]))
    third = plan_waiting(BodySpec(), WaitingSpec(place_m=(1.5, 18.0)))

Each gives a PlayerMotion: posed mesh, joints and frames to hang gear on, in the ground
frame (x right seen from the goal, y upfield, z up, metres). The result depends on the
arguments alone. Bare soles stand SOLE_M above the ground, room for the shoe's sole. The
shaft passes through both palm centres: left/right_hand_pose have their z axis along it,
pointing to the stick's head. All three motions of a scene share duration_s and fps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_clips.render.body import JOINTS, REGIONS, Body, BodySpec, Floats, build_body

SOLE_M = 0.02

__all__ = ["JOINTS", "REGIONS", "SOLE_M", "AttackerSpec", "BodySpec", "PlayerMotion", "RepSpec",
           "Stance", "WaitingSpec", "plan_attacker", "plan_defender", "plan_waiting"]  # fmt: skip


@dataclass(frozen=True)
class PlayerMotion:
    """One player over a clip: n frames, V vertices, F triangles, J = len(JOINTS)."""

    t_s: Floats  # (n,)
    vertices_m: NDArray[np.float32]  # (n, V, 3)
    faces: NDArray[np.int32]  # (F, 3)
    region: NDArray[np.uint8]  # (V,) index into REGIONS
    side: NDArray[np.int8]  # (V,) -1 left, 0 middle, +1 right
    joints_m: Floats  # (n, J, 3)
    head_pose: Floats  # (n, 4, 4) head centre at eye level; x right, y forward, z up
    left_hand_pose: Floats  # (n, 4, 4) palm centre; z along the shaft, y out of the palm
    right_hand_pose: Floats  # (n, 4, 4)
    chest_pose: Floats  # (n, 4, 4) between the shoulders; x right, y forward, z up
    body: Body  # the player at rest: standing height and lengths for the truth

    def __post_init__(self) -> None:
        n, v = len(self.t_s), len(self.region)
        want = {
            "vertices_m": (n, v, 3), "side": (v,), "joints_m": (n, len(JOINTS), 3),
            "head_pose": (n, 4, 4), "left_hand_pose": (n, 4, 4), "right_hand_pose": (n, 4, 4),
            "chest_pose": (n, 4, 4), "faces": (len(self.faces), 3),
        }  # fmt: skip
        for name, shape in want.items():
            got = getattr(self, name).shape
            if got != shape:
                raise ValueError(f"{name}: want {shape}, got {got}")


@dataclass(frozen=True)
class Stance:
    """How a player holds himself; the words are those of the measures."""

    knee_bend_deg: float = 62.0
    trunk_lean_deg: float = 34.0
    base_width: float = 1.9  # ankle separation over hip separation
    hand_reach: float = 0.55  # mean of the two wrists, horizontally ahead of mid-shoulder, arm lengths
    hand_height: float = 0.45  # mean of the two wrists, waist 0, shoulder 1


@dataclass(frozen=True)
class RepSpec:
    """One closeout of the defender.

    The run goes from start_m to a point past_m beyond the attacker along the run (negative:
    short of him) and side_offset_m to the runner's right of him. bow_m bulges the path to
    the runner's right. stance None keeps running upright. The stance is complete
    settled_before_arrival_s before he is 1.8 m from the attacker (negative: after).
    """

    attacker_m: tuple[float, float]
    start_m: tuple[float, float] = (0.0, 3.5)
    stance: Stance | None = Stance()
    start_s: float = 0.4
    duration_s: float = 4.5
    fps: float = 30.0
    peak_speed_mps: float = 5.0
    end_speed_mps: float = 0.5
    braking_distance_m: float = 3.0
    past_m: float = -1.4
    side_offset_m: float = 0.0
    bow_m: float = 0.0
    settled_before_arrival_s: float = 0.2
    slide_mps: float = 0.6  # sideways after the stop, positive to the player's right
    seed: int = 0


@dataclass(frozen=True)
class AttackerSpec:
    """The attacker: stands ready on his cone, may catch the ball, may jog by."""

    place_m: tuple[float, float]
    looks_at_m: tuple[float, float] = (0.0, 3.5)
    duration_s: float = 4.5
    fps: float = 30.0
    catch_s: float | None = 0.8
    jog_s: float | None = None  # when he leaves
    jog_to_m: tuple[float, float] = (0.0, 2.0)
    jog_speed_mps: float = 3.0
    seed: int = 0


@dataclass(frozen=True)
class WaitingSpec:
    """A player waiting in line, stick upright beside him."""

    place_m: tuple[float, float]
    looks_at_m: tuple[float, float] = (0.0, 8.0)
    duration_s: float = 4.5
    fps: float = 30.0
    seed: int = 0


def plan_defender(body: BodySpec, rep: RepSpec) -> PlayerMotion:
    """The defender's closeout."""
    t = np.arange(round(rep.duration_s * rep.fps) + 1) / rep.fps
    a, b = np.array(rep.start_m), np.array(rep.attacker_m)
    way = (b - a) / np.linalg.norm(b - a)
    gone = np.clip((t - rep.start_s) * rep.peak_speed_mps, 0, np.linalg.norm(b - a) + rep.past_m)
    return _slide(body, t, a + gone[:, None] * way, np.arctan2(-way[0], way[1]))


def plan_attacker(body: BodySpec, spec: AttackerSpec) -> PlayerMotion:
    """The attacker on his cone."""
    t = np.arange(round(spec.duration_s * spec.fps) + 1) / spec.fps
    way = np.array(spec.looks_at_m) - np.array(spec.place_m)
    where = np.tile(np.array(spec.place_m), (len(t), 1))
    return _slide(body, t, where, np.arctan2(-way[0], way[1]))


def plan_waiting(body: BodySpec, spec: WaitingSpec) -> PlayerMotion:
    """A player standing relaxed."""
    return plan_attacker(
        body, AttackerSpec(spec.place_m, spec.looks_at_m, spec.duration_s, spec.fps, None)
    )


def _slide(spec: BodySpec, t_s: Floats, ground_m: Floats, yaw: float) -> PlayerMotion:
    body = build_body(spec)
    c, s = np.cos(yaw), np.sin(yaw)
    turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    turns = np.tile(turn, (len(t_s), len(body.bones), 1, 1))
    root = np.concatenate([ground_m, np.zeros((len(t_s), 1))], axis=1)
    root = root + turn @ body.heads_m[0] + np.array([0, 0, SOLE_M])
    places = body.place(turns, root)

    def frame(bone: str) -> Floats:
        pose = np.tile(np.eye(4), (len(t_s), 1, 1))
        pose[:, :3, :3] = turns[:, body.bone(bone)]
        pose[:, :3, 3] = places[:, body.bone(bone)]
        return pose

    return PlayerMotion(
        t_s=t_s, vertices_m=body.skin(turns, places), faces=body.faces, region=body.region,
        side=body.side, joints_m=body.joints(turns, places), head_pose=frame("head"),
        left_hand_pose=frame("finger3-1.L"), right_hand_pose=frame("finger3-1.R"),
        chest_pose=frame("spine01"), body=body,
    )  # fmt: skip
