"""From a course and a few key postures to the pose of every film frame."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from models.render.body import Floats
from models.render.course import STEPS, Course, Feet, smoothstep, walk_feet
from models.render.gait import load_gait
from models.render.limbs import unit, yaw_turn
from models.render.rig import SIDES, Handles, Pose, Rig

SOLE_M = 0.02  # bare soles stand this high: room for the shoe
_MIDSTANCE_BEND = np.radians(40.0)  # running mid-stance, within published 35 to 45
_BOB_M = 0.05
_BRAKING_AHEAD_S2 = 0.045
"""Times acceleration: how far feet that do not run stand ahead of a braking player, by habit."""
_WEIGHT_AHEAD_S2 = 0.085
"""The same as weight demands it: the ground's push passes through the middle of the body, 0.85 m
above the ground, over gravity (Winter, Biomechanics and Motor Control of Human Movement)."""
_HARDEST_MPS2 = 4.5
_LONGEST_LEG = 0.972  # share of the straight leg: about 16 deg of knee bend at toe-off


@dataclass(frozen=True)
class Style:
    """A posture: knees, trunk, feet and how the stick is held. Facing axes: right, ahead, up."""

    knee_bend_deg: float
    trunk_lean_deg: float
    base_width: float
    reach: float
    height: float
    shaft: tuple[float, float, float]
    grip_m: float
    across: float = 0.0  # wrists' middle to the right of the chest, arm lengths

    def vector(self) -> Floats:
        """(10,) numbers to blend."""
        return np.array(
            [np.radians(self.knee_bend_deg), np.radians(self.trunk_lean_deg), self.base_width,
             self.reach, self.height, *self.shaft, self.grip_m, self.across]
        )  # fmt: skip


def act(
    rig: Rig, course: Course, keys: list[tuple[float, Style]], watched_m: Floats, seed: int,
    weighed: float = 0.0,
) -> tuple[Floats, Rig, Pose]:  # fmt: skip
    """Film times (n,), the rig and the pose per film frame.

    weighed: how far feet are planted where the weight demands it when he speeds up and brakes, from
    0, hardly, to 1, as far as legs reach.
    """
    t, dt = course.t_s, course.t_s[1] - course.t_s[0]
    style = _blend(t, keys)
    bend, lean, base, reach, height = style[:, :5].T
    bend, lean = bend + rig.rest_flexion, lean + rig.lean_offset
    shaft, grip, across = style[:, 5:8], style[:, 8], style[:, 9]
    gait = load_gait()
    pace = np.linalg.norm(np.gradient(course.place_m, dt, axis=0), axis=1)
    settled = smoothstep(base, 1.15, 1.5)  # a wide base is no running base
    running = gaussian_filter1d(smoothstep(pace, 0.8, 2.6) * (1 - settled), 0.04 / dt)
    accel = np.clip(course.accel_mps2, -_HARDEST_MPS2, _HARDEST_MPS2)
    lean = lean + np.radians(2.2) * accel * running
    base_m = base * rig.hip_width
    # Feet under the weight: the bent trunk hangs ahead of the hips; braking feet land ahead.
    ankle_ahead = 0.26 * np.sin(lean) - (1 - weighed) * _BRAKING_AHEAD_S2 * accel
    lead = -weighed * _WEIGHT_AHEAD_S2 * gaussian_filter1d(accel, 0.06 / dt)
    foot = rig.ball[".R"][1] - rig.body.head("foot.R")[1]
    hips_m = _hip_height(rig, bend, base_m, ankle_ahead + lead, running)
    feet = walk_feet(
        rig, gait, course, running, base_m, ankle_ahead + 0.55 * foot, hips_m, lead, weighed
    )
    bob = _BOB_M * running * np.sin(2 * np.pi * (feet.phase - gait.contact / 2)) ** 2
    hips_m = _within_reach(rig, course, feet, hips_m + bob, dt)
    _tuck(rig, course, feet, hips_m)

    noise = _idle(t, seed, 6)
    still = 1 - smoothstep(pace, 0.3, 1.5)
    hips = np.column_stack([course.place_m, hips_m + SOLE_M])
    hips[:, :2] += 0.012 * still[:, None] * noise[:, :2]
    swing = running * np.interp(pace, [1.0, 5.0], [0.5, 1.1])
    pelvis_yaw = course.facing_rad + swing * gait.at(gait.pelvis_yaw, feet.phase)[:, 0]
    chest_yaw = course.facing_rad + swing * gait.at(gait.chest_yaw, feet.phase)[:, 0] * 1.2
    chest_yaw = chest_yaw + 0.03 * still * noise[:, 2]
    lean = lean + 0.5 * swing * gait.at(gait.lean_swing, feet.phase)[:, 0]
    ahead = np.column_stack([-np.sin(chest_yaw), np.cos(chest_yaw), 0 * t])
    right = np.column_stack([np.cos(chest_yaw), np.sin(chest_yaw), 0 * t])
    up = np.array([0.0, 0.0, 1.0])
    trunk = np.linalg.norm(rig.shoulders - rig.hips)
    rise = trunk * np.cos(lean)
    across = across + 0.10 * running * np.sin(2 * np.pi * feet.phase) + 0.02 * noise[:, 3]
    height = height + 0.05 * running * np.sin(4 * np.pi * feet.phase) + 0.015 * noise[:, 4]
    wrists = (
        hips
        + (trunk * np.sin(lean) + reach * rig.arm)[:, None] * ahead
        + (across * rig.arm)[:, None] * right
        + (height * rise - (1 - height) * rig.hips_above_joint)[:, None] * up
    )
    shaft = shaft + 0.06 * noise[:, [3, 4, 5]]
    shaft = unit(shaft[:, :1] * right + shaft[:, 1:2] * ahead + shaft[:, 2:3] * up)
    look_yaw, look_pitch = _look(course, watched_m, noise, still)
    k = slice(None, None, STEPS)
    ball = feet.ball_m + np.array([0.0, 0.0, SOLE_M])
    handles = Handles(
        hips[k], pelvis_yaw[k], chest_yaw[k], lean[k], 0.02 * noise[k, 5], ball[k], feet.yaw[k],
        feet.pitch[k], feet.toe_pitch[k], wrists[k], shaft[k], grip[k], look_yaw[k], look_pitch[k],
    )  # fmt: skip
    return t[k], rig, rig.pose(handles)


def _blend(t_s: Floats, keys: list[tuple[float, Style]]) -> Floats:
    """Style vectors (m, 10) between key times."""
    out = np.tile(keys[0][1].vector(), (len(t_s), 1))
    for (t0, a), (t1, b) in itertools.pairwise(keys):
        u = smoothstep(t_s, t0, max(t1, t0 + 1e-6))[:, None]
        out = np.where(t_s[:, None] >= t0, (1 - u) * a.vector() + u * b.vector(), out)
    return out


def _hip_height(rig: Rig, bend: Floats, base_m: Floats, ahead_m: Floats, running: Floats) -> Floats:
    """Hip height (m,) that gives the knee bend asked for, feet flat."""
    ankle = rig.body.head("foot.R")[2]
    out = 0.5 * (base_m - rig.hip_width)
    still = np.sqrt(np.maximum(rig.ankle_height(bend) ** 2 - out**2 - ahead_m**2, 0.04))
    striding = rig.ankle_height(np.array(_MIDSTANCE_BEND + rig.rest_flexion))
    return np.asarray(ankle + running * striding + (1 - running) * still)


def _hip_to_ankle(rig: Rig, course: Course, feet: Feet, hips_m: Floats, i: int) -> Floats:
    """(m, 3) from a hip joint to the ankle on its side."""
    offset = yaw_turn(course.facing_rad) @ np.array([(i - 0.5) * rig.hip_width, 0.0, 0.0])
    ankle = feet.ball_m[:, i] + rig.ankle_from_ball(feet.yaw[:, i], feet.pitch[:, i], SIDES[i])
    return np.asarray(ankle - offset - np.column_stack([course.place_m, hips_m]))


def _within_reach(rig: Rig, course: Course, feet: Feet, hips_m: Floats, dt: float) -> Floats:
    """Lower the hips where a planted leg would not reach the ground."""
    cap = np.full(len(hips_m), np.inf)
    for i in range(2):
        leg = _hip_to_ankle(rig, course, feet, np.zeros_like(hips_m), i)
        away = np.linalg.norm(leg[:, :2], axis=1)
        top = leg[:, 2] + np.sqrt(np.maximum((_LONGEST_LEG * rig.leg) ** 2 - away**2, 0.01))
        cap = np.where(feet.down[:, i] > 0, np.minimum(cap, top), cap)
    lowered = np.minimum(hips_m, cap)
    smooth = gaussian_filter1d(lowered, 0.03 / dt)
    return np.asarray(gaussian_filter1d(np.minimum(smooth, lowered), 0.012 / dt))


def _tuck(rig: Rig, course: Course, feet: Feet, hips_m: Floats) -> None:
    """Draw a swinging foot in where its leg would lock straight."""
    for i in range(2):
        leg = _hip_to_ankle(rig, course, feet, hips_m, i)
        far = np.linalg.norm(leg, axis=1)
        over = np.maximum(far - _LONGEST_LEG * rig.leg, 0.0) * (1 - feet.down[:, i])
        feet.ball_m[:, i] -= (over / far)[:, None] * leg


def _look(course: Course, watched_m: Floats, noise: Floats, still: Floats) -> tuple[Floats, Floats]:
    """Head yaw toward the watched point as far as the neck allows, and pitch."""
    gaze = watched_m - course.place_m
    far = np.linalg.norm(gaze, axis=1)
    turn = np.arctan2(-gaze[:, 0], gaze[:, 1]) - course.facing_rad
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    turn = np.clip(turn, -0.9, 0.9) * smoothstep(far, 0.3, 1.5) * (np.abs(turn) < 2.2)
    turn = gaussian_filter1d(turn, 20.0) + 0.12 * still * noise[:, 1]
    return course.facing_rad + turn, 0.08 + 0.03 * noise[:, 0]


def _idle(t_s: Floats, seed: int, k: int) -> Floats:
    """Slow smooth wandering (m, k), about -1 to 1: no person stands still."""
    rng = np.random.default_rng(seed)
    hertz = rng.uniform(0.25, 0.9, (3, k))
    start = rng.uniform(0, 2 * np.pi, (3, k))
    waves = np.sin(2 * np.pi * hertz * t_s[:, None, None] + start)
    return np.asarray((waves * np.array([0.6, 0.4, 0.25])[:, None]).sum(axis=1))
