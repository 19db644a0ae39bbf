"""Where a player goes and how fast, and where his feet land on the way.

Computed on a fine clock (STEPS per film frame) so that footfalls do not depend on the frame
rate; the film samples it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from models.render.body import Floats
from models.render.gait import Gait
from models.render.rig import SIDES, Rig, pitched

STEPS = 8
G_MPS2 = 9.81
_HOLD = 0.06  # phase (of half cycles) at which a player who stops has both feet down


@dataclass(frozen=True)
class Course:
    """Track over m instants: t_s (m,), place_m (m, 2), speed_mps, facing_rad, accel_mps2 (m,)."""

    t_s: Floats
    place_m: Floats
    speed_mps: Floats
    facing_rad: Floats
    accel_mps2: Floats  # along the run


@dataclass(frozen=True)
class Feet:
    """Feet over m instants; [:, 0] left and [:, 1] right."""

    phase: Floats  # (m,) gait cycles, right touch-down at whole numbers
    down: Floats  # (m, 2) 1 while planted
    ball_m: Floats  # (m, 2, 3)
    yaw: Floats  # (m, 2)
    pitch: Floats  # (m, 2)
    toe_pitch: Floats  # (m, 2)


def smoothstep(x: NDArray[Any], low: float, high: float) -> Floats:
    """0 below low, 1 above high, smooth between."""
    u = np.clip((np.asarray(x) - low) / (high - low), 0.0, 1.0)
    return u * u * (3 - 2 * u)


def clock(duration_s: float, fps: float) -> Floats:
    """Fine instants of a film with a frame at 0 and one every 1/fps."""
    frames = round(duration_s * fps)
    return np.arange(frames * STEPS + 1) / (fps * STEPS)


def bowed_path(start: Floats, end: Floats, bow_m: float) -> Floats:
    """Points (k, 2) from start to end along a parabola that bulges bow_m to the right."""
    u = np.linspace(0.0, 1.0, 400)[:, None]
    chord = end - start
    right = np.array([chord[1], -chord[0]]) / np.linalg.norm(chord)
    return np.asarray(start + u * chord + 4 * bow_m * u * (1 - u) * right)


def run(
    t_s: Floats, path: Floats, start_s: float, peak: float, braking_m: float, end_speed: float,
    slide_mps: float, faces: Floats | None = None,
) -> Course:  # fmt: skip
    """Accelerate along the path, brake evenly over its last braking_m, then stop, sliding sideways.

    Acceleration falls off exponentially, as sprinters' does (Furusawa, Hill and Parkinson,
    1927); the time constant of 0.75 s is a little short of their 1 s, from a crouched start.
    """
    legs = np.linalg.norm(np.diff(path, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(legs)])
    dt = t_s[1] - t_s[0]
    gone, speed = np.zeros(len(t_s)), np.zeros(len(t_s))
    for i in range(1, len(t_s)):
        v, left = speed[i - 1], along[-1] - gone[i - 1]
        if t_s[i] < start_s:
            a = 0.0
        elif left <= 1e-3:
            a = -v / 0.4
        elif left < braking_m:
            a = -max(v * v - end_speed**2, 0.0) / (2 * left)
        else:
            a = min((1.08 * peak - v) / 0.75, (peak - v) / dt)
        speed[i] = max(v + a * dt, 0.0)
        gone[i] = gone[i - 1] + speed[i] * dt
    sigma = 0.05 / dt
    gone = gaussian_filter1d(gone, sigma, mode="nearest")
    speed = np.gradient(gone, dt)
    forward = path[-1] - path[-2]
    forward /= np.linalg.norm(forward)
    on = np.minimum(gone, along[-1])
    place = np.stack([np.interp(on, along, path[:, c]) for c in range(2)], axis=1)
    place += np.maximum(gone - along[-1], 0.0)[:, None] * forward
    heading = np.gradient(path, along, axis=0)
    angle = np.unwrap(np.arctan2(-heading[:, 0], heading[:, 1]))
    facing = np.interp(on, along, angle)
    if faces is not None:  # until he goes he faces this point
        look = faces - path[0]
        first = np.arctan2(-look[0], look[1])
        turn = (angle[0] - first + np.pi) % (2 * np.pi) - np.pi
        facing = facing - turn * (1 - smoothstep(t_s, start_s - 0.1, start_s + 0.5))
    right = np.array([forward[1], -forward[0]])
    arrived = smoothstep(gone - along[-1], -0.4, 0.0)
    side = np.cumsum(gaussian_filter1d(arrived * slide_mps, 2 * sigma)) * dt
    place = place + side[:, None] * right
    return Course(t_s, place, speed, facing, gaussian_filter1d(np.gradient(speed, dt), sigma))


def walk_feet(
    rig: Rig, gait: Gait, course: Course, running: Floats, base_m: Floats, ahead_m: Floats,
    hips_m: Floats, lead_m: Floats, weighed: float,
) -> Feet:  # fmt: skip
    """Footfalls: captured leg motion where `running` is 1, short flat steps where it is 0.

    Each foot is planted where its nominal path is soon after touch-down and stays there
    (no skating); the swing carries the difference over smoothly to the next plant.
    base_m, ahead_m: feet apart, and ahead of the hips, when not running. hips_m: hip height.
    lead_m: how much further ahead, running or not. weighed: how far a foot is planted so that this
    is so on average over its contact, from 0 to 1.
    """
    t, dt = course.t_s, course.t_s[1] - course.t_s[0]
    travel = np.gradient(course.place_m, dt, axis=0)
    pace = np.linalg.norm(travel, axis=1)
    phase = _phase(pace, dt)
    c, s = np.cos(course.facing_rad), np.sin(course.facing_rad)
    m = len(t)
    feet = Feet(phase, *(np.zeros((m, 2, *x)) for x in ((), (3,), (), (), ())))
    # A planted leg reaches about 0.93 of its length from touch-down to toe-off, however fast.
    running_share = np.minimum(gait.contact, 0.93 * rig.leg * _rate(pace) / np.maximum(pace, 1.0))
    # Chopping feet that carry the weight leave the ground before he has gone past them.
    chop_share = 0.6 - weighed * np.maximum(
        0.6 - 0.6 * rig.leg * _rate(pace) / np.maximum(pace, 0.3), 0.0
    )
    share = running * running_share + (1 - running) * chop_share
    for i, side in enumerate(SIDES):
        sign = 2 * i - 1
        down, own = _contact(phase + (0.0 if i else 0.5), share, gait.contact)
        swing = np.clip((own - gait.contact) / (1 - gait.contact), 0, 1) * (1 - down)
        mirror = np.array([sign, 1.0, 1.0])
        pitch = running * gait.at(gait.foot_pitch, own)[:, 0] * np.interp(pace, [1, 4], [0.5, 0.9])
        pitch = np.clip(pitch - (1 - running) * 0.3 * np.sin(np.pi * swing), -1.2, 0.25)
        # a landing foot is flat a third into its contact; the smoothed capture is late with it
        flat = smoothstep(own, 0.0, 0.3 * gait.contact) * down
        pitch = np.where(pitch > 0, pitch * (1 - flat), pitch)
        legs = rig.thigh * gait.at(gait.thigh, own) + rig.shank * gait.at(gait.shank, own)
        legs = legs * mirror + np.array([0.5 * sign * rig.hip_width * 0.85, 0.0, 0.0])
        to_ball = -(pitched(np.zeros(m), pitch) @ (rig.body.head("foot" + side) - rig.ball[side]))
        nominal = running[:, None] * (legs + to_ball + np.array([0.0, 0.0, 1.0]) * hips_m[:, None])
        still = np.stack([sign * base_m / 2, ahead_m, 0.06 * np.sin(np.pi * swing)], axis=1)
        nominal = nominal + (1 - running)[:, None] * still
        x, y = nominal[:, 0].copy(), nominal[:, 1] + lead_m
        nominal[:, 0] = course.place_m[:, 0] + c * x - s * y
        nominal[:, 1] = course.place_m[:, 1] + s * x + c * y
        toe = np.where(pitch > 0, pitch, pitch * smoothstep(swing * (1 - swing), 0.02, 0.2))
        ground = rig.sole_lift(pitch, toe, side)
        yaw = course.facing_rad - sign * np.radians(12.0) * (1 - 0.8 * running)
        ball, yaw = _plant(nominal, yaw, down, ground, dt, weighed)
        feet.down[:, i], feet.ball_m[:, i], feet.yaw[:, i] = down, ball, yaw
        feet.pitch[:, i], feet.toe_pitch[:, i] = pitch, toe
    return feet


def _rate(pace: Floats) -> Floats:
    """Gait cycles a second (m,) for a ground speed.

    1.25 to 1.4 at the captured 3.6 m/s, rising with speed as in running (step rate about 180
    to 200 a minute at 6 m/s); 1.8 for chops and the first steps.
    """
    return np.interp(pace, [0.0, 2.2, 3.6, 5.0, 6.0, 7.0], [1.8, 1.75, 1.4, 1.48, 1.6, 1.75])


def _phase(pace: Floats, dt: float) -> Floats:
    """Gait cycles gone (m,); stops only with both feet down."""
    rate = _rate(pace)
    phase = np.empty(len(pace))
    phase[0] = _HOLD / 2
    for i in range(1, len(pace)):
        now = phase[i - 1]
        nxt = now + rate[i] * dt
        if pace[i] < 0.15:
            hold = np.floor(2 * (now - 1e-9) - _HOLD) + 1 + _HOLD
            nxt = min(nxt, hold / 2)
        phase[i] = nxt
    return phase


def _contact(phase: Floats, share: Floats, captured: float) -> tuple[Floats, Floats]:
    """Planted or not, and the captured cycle's phase, from a leg's own phase."""
    down, own = np.zeros(len(phase)), np.zeros(len(phase))
    cycle, held = np.floor(phase[0]), share[0]
    for i, p in enumerate(phase):
        if np.floor(p) > cycle:
            cycle, held = np.floor(p), share[i]
        u = p - cycle
        down[i] = u < held
        own[i] = (
            u / held * captured
            if u < held
            else (captured + (u - held) / (1 - held) * (1 - captured))
        )
    return down, own


def _plant(
    nominal: Floats, yaw: Floats, down: Floats, ground: Floats, dt: float, weighed: float
) -> tuple[Floats, Floats]:
    """Ball of the foot (m, 3) and yaw (m,) with every contact held still."""
    m = len(nominal)
    full = np.column_stack([nominal, yaw])
    out = full.copy()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], down, [0]])))
    spans = edges.reshape(-1, 2)
    shift_before = None
    last_end = 0
    for a, b in spans:
        mid = a + min((b - a) // 2, round(0.12 / dt))
        plant = (1 - weighed) * full[mid] + weighed * full[a:b].mean(axis=0)
        out[a:b] = plant
        out[a:b, 2] = ground[a:b]
        at_touch = plant - full[a]
        at_touch[2] = ground[a] - full[a, 2]
        if shift_before is None:
            shift_before = at_touch
        u = smoothstep(np.linspace(0, 1, a - last_end + 2)[1:-1], 0, 1)[:, None]
        out[last_end:a] = full[last_end:a] + (1 - u) * shift_before + u * at_touch
        shift_before = plant - full[b - 1]
        shift_before[2] = ground[b - 1] - full[b - 1, 2]
        last_end = b
    if last_end < m and shift_before is not None:
        u = smoothstep(np.arange(m - last_end) * dt, 0, 0.4)[:, None]
        out[last_end:] = full[last_end:] + (1 - u) * shift_before
    swing = (down == 0).astype(float)
    out[:, 2] = np.maximum(out[:, 2], ground + 0.004 * swing)
    return out[:, :3], out[:, 3]
