"""Acts the practice out and films it: clips, their truth, and practice.toml."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.render import truth
from models.render.motion import (
    JOINTS,
    AttackerSpec,
    PlayerMotion,
    WaitingSpec,
    plan_attacker,
    plan_defender,
    plan_waiting,
)
from models.render.outfit import Outfit, Uniform
from models.render.phone import Studio, Track, encode, handheld, project, tripod
from models.render.props import CONES, GOAL_HALF_M
from models.render.scene import CREASE_RADIUS_M, Plate
from models.render.script import CLUB, DATE, NAME, PLAN, REPS, ROSTER, VIEWS, Rep

Array = NDArray[Any]

FPS = 30
BIT_RATE = 2_700_000
LOOK = 9  # raise when the pictures change, so that stale clips are rendered again
NAVY, WHITE = (0.11, 0.16, 0.27), (0.80, 0.81, 0.81)


@dataclass(frozen=True)
class Shot:
    """A rep acted out and aimed at, ready to be filmed."""

    defender: PlayerMotion | None
    attacker: PlayerMotion
    waiting: PlayerMotion | None
    track: Track


def act_out(rep: Rep) -> Shot:
    """Plan everybody's motion and the camera's."""
    seconds = rep.run.duration_s
    defender = None
    if rep.defender is not None:
        defender = plan_defender(ROSTER[rep.defender].body, rep.run)
    attacker = plan_attacker(
        ROSTER[rep.attacker].body,
        AttackerSpec(
            rep.run.attacker_m, duration_s=seconds, jog_s=rep.jog_after_s, seed=200 + rep.seed
        ),
    )
    waiting = None
    if rep.waiting is not None:
        waiting = plan_waiting(
            ROSTER[rep.waiting].body,
            WaitingSpec((2.3, 1.9), (-8.0, 12.5), seconds, seed=300 + rep.seed),
        )
    place = VIEWS[rep.view]
    if rep.view == "hand" and defender is not None:
        track = handheld(place, follow(defender, rep.spot), FPS, rep.seed)
    else:
        track = tripod(place, len(attacker.t_s))
    return Shot(defender, attacker, waiting, track)


def follow(defender: PlayerMotion, spot: str) -> Array:
    """Where somebody aims (n, 3) who turns the phone after the defender, m.

    A little behind him and always with an eye on the cone he runs to.
    """
    between = truth.ground_track(defender.joints_m) * 0.55 + np.array(CONES[spot]) * 0.45
    smooth = np.ones(25) / 25
    path = np.stack(
        [np.convolve(np.pad(between[:, i], 12, mode="edge"), smooth, "valid") for i in (0, 1)], 1
    )
    return np.column_stack([path, np.full(len(path), 1.0)])


def dress(rep: Rep, shot: Shot) -> list[Outfit]:
    """Outfits in the order defender, attacker, waiting."""
    out = []
    for number, motion in (
        (rep.defender, shot.defender),
        (rep.attacker, shot.attacker),
        (rep.waiting, shot.waiting),
    ):
        if number is None or motion is None:
            continue
        player = ROSTER[number]
        home = player.role == "defender"
        uniform = Uniform(
            number,
            NAVY if home else WHITE,
            WHITE if home else NAVY,
            (0.06, 0.08, 0.13) if home else NAVY,
            WHITE if home else NAVY,
            NAVY if home else (0.80, 0.80, 0.80),
            stick_m=player.stick_m,
            socks=WHITE if number % 2 else (0.12, 0.12, 0.13),
        )
        out.append(Outfit(motion, uniform, number))
    return out


# Sticks of the body as capsules (from, to, radius m) that can hide a joint of another player.
_CAPSULES = [
    (f"{s}_{a}", f"{s}_{b}", r)
    for s in ("left", "right")
    for a, b, r in (
        ("shoulder", "elbow", 0.07),
        ("elbow", "wrist", 0.06),
        ("shoulder", "hip", 0.14),
        ("hip", "knee", 0.10),
        ("knee", "ankle", 0.07),
    )
] + [("nose", "left_ear", 0.14), ("left_shoulder", "right_hip", 0.14)]


def visible(joints: Array, others: list[Array], track: Track) -> Array:
    """(n, J) bool: inside the picture and not behind another player's body."""
    n = len(joints)
    seen = np.zeros(joints.shape[:2], bool)
    for i in range(n):
        uv = project(track.matrix(i), track.rotation[i], track.centre, joints[i])
        ahead = (joints[i] - track.centre) @ track.rotation[i][2] > 0
        seen[i] = ahead & (uv >= -0.5).all(1) & (uv <= np.array(track.size) - 0.5).all(1)
        for other in others:
            for a, b, radius in _CAPSULES:
                p, q = (other[i, JOINTS.index(name)] for name in (a, b))
                seen[i] &= ~_blocked(track.centre, joints[i], p, q, radius)
    return seen


def _blocked(eye: Array, targets: Array, p: Array, q: Array, radius: float) -> Array:
    """Whether the sight lines eye-targets (J, 3) pass within radius of segment p-q."""
    samples = p + np.linspace(0, 1, 9)[:, None] * (q - p)
    line = targets - eye
    length = np.linalg.norm(line, axis=1, keepdims=True)
    unit = line / length
    t = (samples - eye) @ unit.T
    gap = np.linalg.norm((samples - eye)[:, None] - t[..., None] * unit[None], axis=2)
    return np.asarray(((gap < radius) & (t < length[:, 0] - radius)).any(0))


def expected_flags(rep: Rep, t: truth.RepTruth) -> list[str]:
    """Rules that a perfect measurement would flag with the default thresholds.

    The limits are written out here so that the truth does not lean on what it is to check.
    """
    if t.arrival_s is None or t.knee_bend_deg is None:
        return []
    assert t.trunk_lean_deg is not None and t.arrival_speed_mps is not None
    assert t.overrun_m is not None and t.braking_distance_m is not None
    assert t.hip_drop is not None and t.hand_reach is not None
    assert t.base_width is not None and t.approach_offset_m is not None
    assert t.closeout_speed_mps is not None
    fast, past = t.arrival_speed_mps > 2.5, t.overrun_m > 1.0
    kept = t.arrival_speed_mps / t.closeout_speed_mps
    side = _wanted_side(rep)
    rules = {
        "upright_run_out": t.knee_bend_deg < 35 and t.trunk_lean_deg < 20 and (fast or past),
        "ran_past": past,
        "never_braked": fast and (kept > 0.8 or t.braking_distance_m < 1.5),
        "late_breakdown": t.knee_bend_deg < 45 and rep.kind == "late",
        "no_breakdown": t.knee_bend_deg < 45 and rep.kind != "late",
        "high_hips": t.hip_drop < 0.12,
        "bent_over": t.trunk_lean_deg > 50,
        "stiff_trunk": t.trunk_lean_deg < 20,
        "hands_in": t.hand_reach < 0.45,
        "narrow_base": t.base_width < 1.6,
        "wrong_side": t.approach_offset_m * side < -0.3,
        "straight_up": abs(t.approach_offset_m) < 0.3,
    }
    return [name for name, broken in rules.items() if broken]


def _wanted_side(rep: Rep) -> int:
    """Sign of the approach side the plan asks for: + topside, at the top + is his right."""
    if rep.spot != "top":
        return 1  # alley: take away topside
    # A right-handed attacker facing the goal has his strong hand on the defender's left.
    return -1 if ROSTER[rep.attacker].strong_hand == "right" else 1


def write_truth(folder: Path, rep: Rep, shot: Shot, digest: str) -> None:
    """NAME.npz and NAME.json."""
    motion, track = shot.attacker, shot.track
    n = len(motion.t_s)
    arrays: dict[str, Any] = {
        "t_s": motion.t_s,
        "joint_names": np.array(JOINTS),
        "camera_matrix": track.matrices,
        "camera_rotation": track.rotation,
        "camera_centre_m": np.tile(track.centre, (n, 1)),
        "attacker_joints_m": motion.joints_m.astype(np.float32),
        "attacker_ground_m": truth.ground_track(motion.joints_m).astype(np.float32),
    }
    record: dict[str, Any] = {
        "kind": rep.kind,
        "spot": rep.spot,
        "view": rep.view,
        "defender": rep.defender,
        "attacker": rep.attacker,
        "waiting": rep.waiting,
        "note": rep.note,
    }
    if shot.defender is not None:
        j = shot.defender.joints_m
        others = [m.joints_m for m in (shot.attacker, shot.waiting) if m is not None]
        arrays |= {
            "defender_joints_m": j.astype(np.float32),
            "defender_ground_m": truth.ground_track(j).astype(np.float32),
            "knee_flexion_deg": truth.knee_flexion_deg(shot.defender).astype(np.float32),
            "trunk_lean_deg": truth.trunk_lean_deg(j).astype(np.float32),
            "defender_visible": visible(j, others, track),
        }
        rep_truth = truth.rep_truth(shot.defender, shot.attacker)
        record |= rep_truth.record()
        record["flags_expected"] = expected_flags(rep, rep_truth)
    else:
        record |= {"start_s": None, "arrival_s": None, "flags_expected": []}
    record["made_by"] = digest
    folder.mkdir(exist_ok=True)
    np.savez_compressed(folder / f"{rep.name}.npz", **arrays)
    (folder / f"{rep.name}.json").write_text(json.dumps(record, indent=1) + "\n")


def digest_of(rep: Rep) -> str:
    """Short digest of everything that decides a clip's content."""
    numbers = [n for n in (rep.defender, rep.attacker, rep.waiting) if n is not None]
    script = asdict(rep)
    if not rep.run.weighed:  # clips from before there was a choice are not out of date
        del script["run"]["weighed"]
    content = [LOOK, BIT_RATE, script, asdict(VIEWS[rep.view])]
    content += [asdict(ROSTER[n].body) for n in numbers]
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:16]


def is_done(root: Path, rep: Rep) -> bool:
    """Whether clip and truth of exactly this script are there."""
    story = root / "truth" / f"{rep.name}.json"
    if not (story.exists() and (root / "clips" / f"{rep.name}.mp4").exists()):
        return False
    return bool(json.loads(story.read_text()).get("made_by") == digest_of(rep))


def make(root: Path, reps: list[Rep]) -> None:
    """Render reps one after another, keeping the empty field between clips of one tripod place."""
    plates: dict[str, Plate] = {}
    (root / "clips").mkdir(exist_ok=True)
    for rep in reps:
        shot = act_out(rep)
        studio = Studio(shot.track, plates.get(rep.view) if shot.track.still else None)
        if shot.track.still:
            plates[rep.view] = studio.plate
        path = root / "clips" / f"{rep.name}.mp4"
        encode(path, studio.frames(dress(rep, shot), FPS), FPS, shot.track.size, BIT_RATE)
        write_truth(root / "truth", rep, shot, digest_of(rep))
        print(f"{rep.name}: {rep.note}", flush=True)


def known_points() -> dict[str, tuple[float, float]]:
    """Ground points that marks may name."""
    r = CREASE_RADIUS_M
    return {
        **CONES,
        "crease-left": (-r, 0.0),
        "crease-right": (r, 0.0),
        "crease-top": (0.0, r),
        "goal-left": (-GOAL_HALF_M, 0.0),
        "goal-right": (GOAL_HALF_M, 0.0),
    }


def marks_of(rep: Rep, shot: Shot) -> tuple[float, dict[str, list[float]]]:
    """Known points on the frame that shows most of them: its time, and pixels clicked by hand.

    The hand is off by up to 0.7 px across and down.
    """
    counts = [(len(_in_sight(shot, i)), -i) for i in range(0, len(shot.attacker.t_s), 6)]
    frame = -max(counts)[1]
    rng = np.random.default_rng(int(digest_of(rep)[:8], 16))
    marks = {
        name: [round(float(v), 1) for v in uv + rng.uniform(-0.7, 0.7, 2)]
        for name, uv in _in_sight(shot, frame).items()
    }
    return float(shot.attacker.t_s[frame]), marks


def _in_sight(shot: Shot, frame: int) -> dict[str, Array]:
    """Pixels of the known points inside the picture and not behind a player."""
    now = shot.track.only(frame)
    players = [m for m in (shot.defender, shot.attacker, shot.waiting) if m is not None]
    others = [m.joints_m[frame : frame + 1] for m in players]
    found = {}
    for name, (x, y) in known_points().items():
        point = np.array([[[x, y, 0.0]]])
        uv = project(now.matrix(0), now.rotation[0], now.centre, point[0, 0])
        inside = (uv > 4).all() and (uv < np.array(now.size) - 5).all()
        # A shoe may hide a cone's base although no limb reaches the ground.
        heights = (point, point + np.array([0, 0, 0.12]))
        if inside and all(visible(p, others, now)[0, 0] for p in heights):
            found[name] = uv
    return found


def write_practice(root: Path) -> None:
    """practice.toml: the plan, the roster, the marks and the clips."""
    lines = [f'name = "{NAME}"', f'club = "{CLUB}"', f"date = {DATE}", ""]
    lines += ["[layout]  # metres from the middle of the goal line; x right looking out, y upfield"]
    lines += ['units = "m"', "goal = true", "", "[layout.cones]"]
    lines += [f"{n} = [{x}, {y}]" for n, (x, y) in CONES.items()]
    lines += ["", "[plan]  # force him, from each spot"]
    lines += [f'{spot} = "{side}"' for spot, side in PLAN.items()]
    for p in ROSTER.values():
        lines += [
            "",
            "[[players]]",
            f"number = {p.number}",
            f'name = "{p.name}"',
            f'role = "{p.role}"',
        ]
        lines += [f'strong_hand = "{p.strong_hand}"', f"height_m = {p.body.height_m}"]
    first = {rep.view: rep for rep in reversed(REPS)}
    for name, place in VIEWS.items():
        rep = first[name]
        time_s, marks = marks_of(rep, act_out(rep))
        lines += ["", "[[views]]", f'name = "{name}"', f"size = {list(place.size)}"]
        lines += [f"time_s = {time_s:.2f}  # of the view's first clip", "[views.marks]"]
        lines += [f"{n} = {uv}" for n, uv in marks.items()]
    for rep in REPS:
        lines += ["", "[[clips]]", f'file = "clips/{rep.name}.mp4"', f'view = "{rep.view}"']
        lines += [f'spot = "{rep.spot}"']
        lines += [] if rep.defender is None else [f"defender = {rep.defender}"]
        lines += [f"attacker = {rep.attacker}"]
    (root / "practice.toml").write_text("\n".join(lines) + "\n")
