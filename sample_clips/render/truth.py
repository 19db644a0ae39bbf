"""The truth of a rep from its 3-D joints: the formulas of the measures, without a camera."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np

from sample_clips.render.body import JOINTS, Floats
from sample_clips.render.gait import knee_flexion
from sample_clips.render.motion import REACH_M, SOLE_M, PlayerMotion

WINDOW_S = (-0.1, 0.3)  # arrival window
AFTERMATH_S = 1.0
_MOVING_MPS = 0.5
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
    trunk_lean_deg: float | None
    hip_height_ratio: float | None
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


def knee_flexion_deg(joints_m: Floats) -> Floats:
    """Left and right knee flexion (n, 2)."""
    return np.degrees(
        np.stack(
            [
                knee_flexion(*(joint(joints_m, f"{side}_{p}") for p in ("hip", "knee", "ankle")))
                for side in ("left", "right")
            ],
            axis=1,
        )
    )


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
    """Horizontal ankle separation over hip separation (n,)."""
    ankles = joint(joints_m, "left_ankle") - joint(joints_m, "right_ankle")
    hips = joint(joints_m, "left_hip") - joint(joints_m, "right_hip")
    return np.asarray(np.linalg.norm(ankles[:, :2], axis=1) / np.linalg.norm(hips, axis=1))


def speed_mps(track_m: Floats, t_s: Floats) -> Floats:
    """Ground speed (n,) of a track (n, 2), central differences."""
    return np.asarray(np.linalg.norm(np.gradient(track_m, t_s, axis=0), axis=1))


def rep_truth(defender: PlayerMotion, attacker: PlayerMotion | None) -> RepTruth:
    """Everything about a rep. Without an attacker there is no arrival and most is None."""
    t, track = defender.t_s, ground_track(defender.joints_m)
    speed = speed_mps(track, t)
    moving = np.flatnonzero(speed > _MOVING_MPS)
    start = int(moving[0]) if len(moving) else None
    blank = dict.fromkeys(RepTruth.__dataclass_fields__)
    if attacker is None or start is None:
        return RepTruth(**{**blank, "start_s": None if start is None else float(t[start])})
    other = ground_track(attacker.joints_m)
    near = np.flatnonzero(np.linalg.norm(track - other, axis=1) <= REACH_M)
    if not len(near):
        return RepTruth(**{**blank, "start_s": float(t[start])})
    arrival = int(near[0])
    ta = t[arrival]
    window = (t >= ta + WINDOW_S[0] - 1e-9) & (t <= ta + WINDOW_S[1] + 1e-9)
    after = (t >= ta) & (t <= ta + AFTERMATH_S + 1e-9)
    fastest = start + int(speed[start : arrival + 1].argmax())
    steps = np.linalg.norm(np.diff(track[fastest : arrival + 1], axis=0), axis=1)
    slowing = -np.gradient(speed, t)[fastest : arrival + 1]
    chord = track[arrival] - track[start]
    way = chord / np.linalg.norm(chord)
    reach, height = hands(defender)

    def typical(values: Floats) -> float:
        return float(np.median(values[window]))

    topside = _topside(other[arrival])
    right = np.array([way[1], -way[0]])
    off = (track[start : arrival + 1] - track[start]) @ right
    sign = 1.0 if abs(right @ topside) < 1e-9 else float(np.sign(right @ topside))
    return RepTruth(
        start_s=float(t[start]),
        arrival_s=float(ta),
        knee_bend_deg=typical(knee_flexion_deg(defender.joints_m).min(axis=1)),
        trunk_lean_deg=typical(trunk_lean_deg(defender.joints_m)),
        hip_height_ratio=typical(hip_height_ratio(defender)),
        hand_reach=typical(reach),
        hand_height=typical(height),
        base_width=typical(base_width(defender.joints_m)),
        closeout_speed_mps=float(speed[fastest]),
        arrival_speed_mps=float(speed[arrival]),
        braking_distance_m=float(steps.sum()),
        peak_braking_mps2=float(max(slowing.max(), 0.0)),
        overrun_m=max(float(((track[after] - other[arrival]) @ way).max()), 0.0),
        approach_offset_m=float((track[arrival] - other[arrival]) @ topside),
        bow_m=sign * float(off[np.abs(off).argmax()]),
    )


def _topside(attacker_m: Floats) -> Floats:
    """Unit vector square to the line attacker-goal, toward the middle of the field."""
    way = (_GOAL_M - attacker_m) / np.linalg.norm(attacker_m)
    side = np.array([-way[1], way[0]])
    toward = side @ (_MIDDLE_M - attacker_m)
    if abs(toward) < 0.5:  # straight in front: no side is nearer the middle
        toward = side[0]
    return side if toward > 0 else -side


def _rest(motion: PlayerMotion) -> Floats:
    body = motion.body
    n = len(body.bones)
    turns = np.tile(np.eye(3), (1, n, 1, 1))
    return body.joints(turns, body.place(turns, body.heads_m[:1]))
