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

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from models.render.act import SOLE_M, Style, act
from models.render.body import JOINTS, REGIONS, Body, BodySpec, Floats, build_body
from models.render.course import Course, bowed_path, clock, run, smoothstep
from models.render.gait import knee_flexion
from models.render.rig import Pose, Rig

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
    free_hands: bool = False  # no stick in them

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
    hand_reach: float = (
        0.55  # mean of the two wrists, horizontally ahead of mid-shoulder, arm lengths
    )
    hand_height: float = 0.45  # mean of the wrists, hips 0, shoulders 1


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
    weighed: float = 0.0  # see act
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


REACH_M = 1.8  # the default reach at which a defender has arrived

_LOWEST_HIPS = 0.5  # of their height when he stands

_READY = Style(40, 24, 1.5, reach=0.40, height=0.45, shaft=(0.75, 0.35, 0.55), grip_m=0.40)
_RUNNING = Style(20, 9, 1.0, reach=0.28, height=0.42, shaft=(0.80, 0.20, 0.55), grip_m=0.42)
_UPRIGHT = Style(14, 5, 1.1, reach=0.26, height=0.40, shaft=(0.70, 0.20, 0.65), grip_m=0.40)
_DODGE = Style(34, 16, 1.5, reach=0.22, height=0.72, shaft=(0.28, -0.12, 0.95), grip_m=0.32,
               across=0.45)  # fmt: skip
_CALL = Style(28, 10, 1.4, reach=0.45, height=0.95, shaft=(0.12, 0.30, 0.95), grip_m=0.34,
              across=0.25)  # fmt: skip
_JOG = Style(20, 8, 1.0, reach=0.28, height=0.62, shaft=(0.35, 0.0, 0.95), grip_m=0.34, across=0.35)
_REST = Style(5, 2, 1.15, reach=0.24, height=0.30, shaft=(0.30, 0.12, 0.95), grip_m=0.36,
              across=0.10)  # fmt: skip


def plan_defender(body: BodySpec, rep: RepSpec, only: Floats | None = None) -> PlayerMotion:
    """The defender's closeout; with `only`, just these frames of it."""
    t = clock(rep.duration_s, rep.fps)
    start, attacker = np.array(rep.start_m, float), np.array(rep.attacker_m, float)
    forward = (attacker - start) / np.linalg.norm(attacker - start)
    right = np.array([forward[1], -forward[0]])
    end = attacker + rep.past_m * forward + rep.side_offset_m * right
    course = run(
        t, bowed_path(start, end, rep.bow_m), rep.start_s, rep.peak_speed_mps,
        rep.braking_distance_m, rep.end_speed_mps, rep.slide_mps if rep.stance else 0.0,
    )  # fmt: skip
    near = np.linalg.norm(course.place_m - attacker, axis=1) <= REACH_M
    if not near.any():
        raise ValueError(f"the run never comes within {REACH_M} m of the attacker: lengthen it")
    arrival_s = float(t[near.argmax()])
    keys = [(rep.start_s, _READY), (rep.start_s + 0.5, _RUNNING)]
    if rep.stance is None:
        stopping = float(t[(course.accel_mps2 < -1.5).argmax()])
        keys += [(max(stopping, rep.start_s + 0.6), _RUNNING), (stopping + 1.0, _UPRIGHT)]
    else:
        settled = arrival_s - rep.settled_before_arrival_s
        course = _face(course, attacker, settled)
        keys += [(settled - 0.65, _RUNNING), (settled, _style(rep.stance))]
        keys[-1] = (settled, _settle(rig_of(body), course, keys, rep, attacker))
    times, rig, pose = act(rig_of(body), course, keys, attacker, rep.seed, rep.weighed)
    if rep.weighed:
        _require_legs_long_enough(rig, pose)
    if only is not None:
        times, pose = times[only], Pose(pose.turns[only], pose.places[only], pose.palms[only])
    return film((times, rig, pose))


def _require_legs_long_enough(rig: Rig, pose: Pose) -> None:
    hips = rig.body.joints(pose.turns, pose.places)[:, JOINTS.index("left_hip"), 2]
    if hips.min() < _LOWEST_HIPS * rig.hips[2]:
        raise ValueError("he brakes so hard that his legs do not reach the ground ahead of him")


def _face(course: Course, attacker: Floats, from_s: float) -> Course:
    """Turn from the run's direction to the attacker, as far as one does without crossing over."""
    to_attacker = attacker - course.place_m
    turn = np.arctan2(-to_attacker[:, 0], to_attacker[:, 1]) - course.facing_rad
    turn = np.clip((turn + np.pi) % (2 * np.pi) - np.pi, -1.2, 1.2)
    near = smoothstep(
        np.linalg.norm(to_attacker, axis=1), 0.2, 0.9
    )  # no whirling around at his feet
    turn = gaussian_filter1d(turn * near * smoothstep(course.t_s, from_s - 0.3, from_s + 0.3), 16)
    return replace(course, facing_rad=course.facing_rad + turn)


def _style(s: Stance) -> Style:
    return Style(
        s.knee_bend_deg, s.trunk_lean_deg, s.base_width, s.hand_reach, s.hand_height,
        shaft=(0.30, 0.85, 0.30), grip_m=0.42, across=0.05,
    )  # fmt: skip


def _settle(
    rig: Rig, course: Course, keys: list[tuple[float, Style]], rep: RepSpec, attacker: Floats
) -> Style:
    """The stance to steer for so that knees and base come out as asked.

    Chopping feet are now ahead, now behind, so steering straight for the wish misses it: aim,
    see what the straighter leg and the ankles do in the first 0.5 s of the stance, correct. Not by
    much: feet that still run do not follow the wish however far beyond it one aims.
    """
    settled, style = keys[-1]
    wish = style
    for _ in range(3):
        t, _, pose = act(
            rig, course, [*keys[:-1], (settled, style)], attacker, rep.seed, rep.weighed
        )
        joints = rig.body.joints(pose.turns, pose.places)
        held = (t >= settled) & (t <= settled + 0.5)
        if not held.any():
            break
        at = {name: joints[held, JOINTS.index(name)] for name in JOINTS}
        bends = [
            knee_flexion(at[f"{s}_thigh"], at[f"{s}_knee"], at[f"{s}_ankle"]) - rig.rest_flexion
            for s in ("left", "right")
        ]
        apart = np.linalg.norm((at["left_ankle"] - at["right_ankle"])[:, :2], axis=1)
        bend = float(np.degrees(np.median(np.minimum(*bends))))
        base = float(np.median(apart)) / rig.hip_width
        style = replace(
            style,
            knee_bend_deg=_near(wish.knee_bend_deg, style.knee_bend_deg - bend, 12.0),
            base_width=_near(wish.base_width, style.base_width - base, 0.6),
        )
    return style


def _near(wish: float, aimed_beyond: float, most: float) -> float:
    return wish + float(np.clip(aimed_beyond, -most, most))


def plan_attacker(body: BodySpec, spec: AttackerSpec) -> PlayerMotion:
    """The attacker on his cone: ready, calling for the ball, catching, cradling; may jog by."""
    t = clock(spec.duration_s, spec.fps)
    place, looks_at = np.array(spec.place_m, float), np.array(spec.looks_at_m, float)
    leaves = spec.duration_s + 1.0 if spec.jog_s is None else spec.jog_s
    goal = np.array(spec.jog_to_m, float)
    course = run(
        t, bowed_path(place, goal, 0.0), leaves, spec.jog_speed_mps, 1.0, 0.5, 0.0,
        faces=looks_at,
    )  # fmt: skip
    keys = [(0.0, _DODGE)]
    if spec.catch_s is not None:
        keys = [(spec.catch_s - 0.25, _CALL), (spec.catch_s + 0.35, _DODGE)]
    keys += [(max(leaves, keys[-1][0] + 0.01), _DODGE), (leaves + 0.6, _JOG)]
    return film(act(rig_of(body), course, keys, looks_at, spec.seed))


def plan_waiting(body: BodySpec, spec: WaitingSpec) -> PlayerMotion:
    """A player standing relaxed."""
    t = clock(spec.duration_s, spec.fps)
    place, looks_at = np.array(spec.place_m, float), np.array(spec.looks_at_m, float)
    course = run(t, bowed_path(place, looks_at, 0.0), spec.duration_s + 1.0, 1.0, 0.1, 0.0, 0.0)
    return film(act(rig_of(body), course, [(0.0, _REST)], looks_at, spec.seed))


def rig_of(spec: BodySpec) -> Rig:
    return Rig(build_body(spec))


def film(acted: tuple[Floats, Rig, Pose], free_hands: bool = False) -> PlayerMotion:
    """Skin the poses."""
    t_s, rig, pose = acted
    body = rig.body

    def frame(bone: str, at: Floats) -> Floats:
        b = body.bone(bone)
        out = np.tile(np.eye(4), (len(t_s), 1, 1))
        out[:, :3, :3] = pose.turns[:, b]
        out[:, :3, 3] = pose.places[:, b] + pose.turns[:, b] @ (at - body.heads_m[b])
        return out

    eyes = (body.head("eye.L") + body.head("eye.R")) / 2
    skull = body.vertices_m[body.region == REGIONS.index("head")]
    centre = np.array([0.0, (skull[:, 1].min() + skull[:, 1].max()) / 2, eyes[2]])
    return PlayerMotion(
        t_s=t_s, vertices_m=body.skin(pose.turns, pose.places), faces=body.faces,
        region=body.region, side=body.side, joints_m=body.joints(pose.turns, pose.places),
        head_pose=frame("head", centre), left_hand_pose=pose.palms[:, 0],
        right_hand_pose=pose.palms[:, 1], chest_pose=frame("spine01", rig.shoulders), body=body,
        free_hands=free_hands,
    )  # fmt: skip
