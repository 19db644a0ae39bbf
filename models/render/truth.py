"""The truth of a rep from its 3-D joints: the formulas of the measures, without a camera."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np

from models.render.body import JOINTS, Floats
from models.render.gait import knee_flexion
from models.render.motion import REACH_M, SOLE_M, PlayerMotion

WINDOW_S = (-0.1, 0.3)  # arrival window
LATER_S = (0.5, 1.0)  # window in which a late stance is looked for
AFTERMATH_S = 1.0
MOVING_MPS = 0.5  # he leaves when he gets faster than this
STILL_FAST = 0.95  # braking begins when the speed falls below this share of its peak for good
BRAKING_OVER_S = 0.2  # loss of speed is taken over this long
TOP_WITHIN_DEG = 12.0  # of the goal's axis: no side is nearer the middle
_GOAL_M = np.zeros(2)
_MIDDLE_M = np.array([0.0, 50.0])  # the middle of the field, in front of the goal


@dataclass(frozen=True)
class RepTruth:
    """What happened, unknown as None. Angles in degrees, lengths in metres, speeds in m/s.

    The stance (knee bend to base width) is the median over the arrival window. Positive
    approach_offset_m and bow_m lie toward the middle of the field (topside); for an attacker
    straight in front of the goal neither side is nearer and positive is the defender's right.
    """

    start_s: float | None
    arrival_s: float | None
    knee_bend_deg: float | None
    late_knee_bend_deg: float | None
    trunk_lean_deg: float | None
    hip_drop: float | None
    hand_reach: float | None
    hand_height: float | None
    base_width: float | None
    closeout_speed_mps: float | None
    arrival_speed_mps: float | None
    braking_distance_m: float | None
    peak_braking_mps2: float | None
    overrun_m: float | None
    approach_offset_m: float | None
    bow_m: float | None

    def record(self) -> dict[str, float | None]:
        """Rounded to a tenth of a millimetre, degree or millisecond, ready for JSON."""
        return {k: None if v is None else round(float(v), 4) for k, v in asdict(self).items()}


def joint(joints_m: Floats, name: str) -> Floats:
    """One joint's track (n, 3)."""
    return np.asarray(joints_m[:, JOINTS.index(name)])


def middle(joints_m: Floats, part: str) -> Floats:
    """Midway between left and right (n, 3)."""
    return (joint(joints_m, f"left_{part}") + joint(joints_m, f"right_{part}")) / 2


def ground_track(joints_m: Floats) -> Floats:
    """Mid-hips on the ground (n, 2)."""
    return middle(joints_m, "hip")[:, :2]


def knee_flexion_deg(motion: PlayerMotion) -> Floats:
    """Left and right knee flexion (n, 2): a straight leg is 0.

    Straight is the body at rest, whose knees stand straight although the points the rig turns
    about do not lie on one line (they read some 10 degrees).
    """
    return np.maximum(_leg_angles_deg(motion.joints_m) - _leg_angles_deg(_rest(motion)), 0.0)


def _leg_angles_deg(joints_m: Floats) -> Floats:
    legs = [
        knee_flexion(*(joint(joints_m, f"{side}_{p}") for p in ("thigh", "knee", "ankle")))
        for side in ("left", "right")
    ]
    return np.degrees(np.stack(legs, axis=1))


def trunk_lean_deg(joints_m: Floats) -> Floats:
    """Mid-hip to mid-shoulder against the vertical (n,)."""
    line = middle(joints_m, "shoulder") - middle(joints_m, "hip")
    return np.asarray(np.degrees(np.arctan2(np.linalg.norm(line[:, :2], axis=1), line[:, 2])))


def hip_height_ratio(motion: PlayerMotion) -> Floats:
    """Hip height over the same player's standing hip height (n,), both above the shoe's sole."""
    standing = middle(_rest(motion), "hip")[0, 2] + SOLE_M
    return np.asarray(middle(motion.joints_m, "hip")[:, 2] / standing)


def hands(motion: PlayerMotion) -> tuple[Floats, Floats]:
    """Hand reach and hand height (n,), means of the two wrists.

    Reach: horizontally ahead of mid-shoulder over arm length (shoulder to wrist, straight),
    ahead being where chest and hips face. Height: hips 0, shoulders 1.
    """
    j, rest = motion.joints_m, _rest(motion)
    shoulder, hip, wrist = (middle(j, p) for p in ("shoulder", "hip", "wrist"))
    across = np.sum(
        [joint(j, f"right_{p}") - joint(j, f"left_{p}") for p in ("shoulder", "hip")], axis=0
    )
    ahead = np.stack([-across[:, 1], across[:, 0]], axis=1)
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True)
    s, e, w = (joint(rest, f"right_{p}")[0] for p in ("shoulder", "elbow", "wrist"))
    arm = np.linalg.norm(e - s) + np.linalg.norm(w - e)
    reach = ((wrist - shoulder)[:, :2] * ahead).sum(axis=1) / arm
    height = (wrist - hip)[:, 2] / (shoulder - hip)[:, 2]
    return reach, height


def base_width(joints_m: Floats) -> Floats:
    """Horizontal ankle separation over pelvis width (n,), the distance of the thighs' tops."""
    ankles = joint(joints_m, "left_ankle") - joint(joints_m, "right_ankle")
    hips = joint(joints_m, "left_thigh") - joint(joints_m, "right_thigh")
    return np.asarray(np.linalg.norm(ankles[:, :2], axis=1) / np.linalg.norm(hips, axis=1))


def stance(motion: PlayerMotion) -> dict[str, Floats]:
    """Every measure of a stance (n,), by its key; knee bend is the straighter leg's."""
    reach, hand_height = hands(motion)
    return {
        "knee_bend_deg": knee_flexion_deg(motion).min(axis=1),
        "trunk_lean_deg": trunk_lean_deg(motion.joints_m),
        "hip_drop": 1 - hip_height_ratio(motion),
        "hand_reach": reach,
        "hand_height": hand_height,
        "base_width": base_width(motion.joints_m),
    }


def speed_mps(track_m: Floats, t_s: Floats) -> Floats:
    """Ground speed (n,) of a track (n, 2), central differences."""
    return np.asarray(np.linalg.norm(np.gradient(track_m, t_s, axis=0), axis=1))


def rep_truth(defender: PlayerMotion, attacker: PlayerMotion | None) -> RepTruth:
    """Everything about a rep. Without an attacker there is no arrival and most is None."""
    t, track = defender.t_s, ground_track(defender.joints_m)
    speed = speed_mps(track, t)
    moving = np.flatnonzero(speed > MOVING_MPS)
    start = int(moving[0]) if len(moving) else None
    blank = dict.fromkeys(RepTruth.__dataclass_fields__)
    if attacker is None or start is None:
        return RepTruth(**{**blank, "start_s": None if start is None else float(t[start])})
    other = ground_track(attacker.joints_m)
    apart = np.linalg.norm(track - other, axis=1)
    near = np.flatnonzero(apart <= REACH_M)
    if not len(near):
        return RepTruth(**{**blank, "start_s": float(t[start])})
    first = max(int(near[0]), 1)
    ta = float(np.interp(-REACH_M, -apart[first - 1 : first + 1], t[first - 1 : first + 1]))
    here, there = (_at(ta, t, each) for each in (track, other))
    run = (t >= t[start]) & (t <= ta)
    peak = float(speed[run].max())
    fast_until = t[(t <= ta + AFTERMATH_S) & (t >= t[start]) & (speed >= STILL_FAST * peak)][-1]
    loss = (speed - np.interp(t + BRAKING_OVER_S, t, speed)) / BRAKING_OVER_S
    top_s = t[start] + (t[run] - t[run][0])[speed[run].argmax()]
    braked = loss[(t >= top_s) & (t + BRAKING_OVER_S <= min(ta + AFTERMATH_S, t[-1]) + 1e-9)]
    steps = np.linalg.norm(np.diff(track, axis=0), axis=1)
    covered = np.concatenate([[0.0], np.cumsum(steps)])
    chord = here - track[start]
    forward = chord / np.linalg.norm(chord)
    after = (t >= ta) & (t <= ta + AFTERMATH_S + 1e-9)
    reach, height = hands(defender)
    knee_bend = knee_flexion_deg(defender).min(axis=1)

    def typical(values: Floats, window_s: tuple[float, float] = WINDOW_S) -> float | None:
        held = (t >= ta + window_s[0]) & (t <= ta + window_s[1])
        return float(np.median(values[held])) if held.any() else None

    topside = _topside(there)
    right = np.array([forward[1], -forward[0]])
    off = (track[run] - track[start]) @ right
    sign = float(np.sign(right @ topside))
    return RepTruth(
        start_s=float(t[start]),
        arrival_s=ta,
        knee_bend_deg=typical(knee_bend),
        late_knee_bend_deg=typical(knee_bend, LATER_S),
        trunk_lean_deg=typical(trunk_lean_deg(defender.joints_m)),
        hip_drop=typical(1 - hip_height_ratio(defender)),
        hand_reach=typical(reach),
        hand_height=typical(height),
        base_width=typical(base_width(defender.joints_m)),
        closeout_speed_mps=peak,
        arrival_speed_mps=float(np.interp(ta, t, speed)),
        braking_distance_m=max(
            float(np.interp(ta, t, covered) - np.interp(fast_until, t, covered)), 0.0
        ),
        peak_braking_mps2=max(0.0, float(braked.max())) if len(braked) else None,
        overrun_m=max(float(((track[after] - there) @ forward).max()), 0.0),
        approach_offset_m=float((here - there) @ topside),
        bow_m=sign * float(off[np.abs(off).argmax()]),
    )


def _at(moment_s: float, t_s: Floats, track_m: Floats) -> Floats:
    """A track's place (2,) between frames."""
    return np.array([np.interp(moment_s, t_s, track_m[:, i]) for i in range(track_m.shape[1])])


def _topside(attacker_m: Floats) -> Floats:
    """Unit vector square to the line attacker-goal, toward the middle of the field."""
    to_goal = (_GOAL_M - attacker_m) / np.linalg.norm(attacker_m)
    side = np.array([-to_goal[1], to_goal[0]])
    if abs(np.degrees(np.arctan2(attacker_m[0], attacker_m[1]))) <= TOP_WITHIN_DEG:
        toward = side[0]
    else:
        toward = side @ (_MIDDLE_M - attacker_m)
    return side if toward > 0 else -side


def _rest(motion: PlayerMotion) -> Floats:
    body = motion.body
    n = len(body.bones)
    turns = np.tile(np.eye(3), (1, n, 1, 1))
    return body.joints(turns, body.place(turns, body.heads_m[:1]))
