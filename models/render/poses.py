"""Poses drawn at random: how somebody stands in a single picture, and where.

Poses come three film frames each, the middle one meant: the others show how it moves.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.recipe import Movement, Poses
from models.render import truth
from models.render.captured import plan_captured, plan_varied
from models.render.database import motion_file, plan_stills, read_pieces
from models.render.motion import (
    AttackerSpec,
    BodySpec,
    PlayerMotion,
    RepSpec,
    Stance,
    plan_attacker,
    plan_defender,
)
from models.render.perturbed import plan_perturbed

Array = NDArray[Any]

FPS = 30
TO_M = 10.0
"""How far upfield the attacker of a rep stands, about."""


def _rep(rng: np.random.Generator, poses: Poses, weighed: bool, to_m: float) -> RepSpec:
    """Any depth of stance with any lean of the trunk, so that neither gives the other away."""
    stance = Stance(
        float(rng.uniform(8, 88)), float(rng.uniform(2, 50)), float(rng.uniform(1.0, 2.4)),
        float(rng.uniform(0.15, 0.7)), float(rng.uniform(0.15, 0.8)),
    )  # fmt: skip
    return RepSpec(
        attacker_m=(float(rng.uniform(-3, 3)), float(rng.uniform(to_m - 0.5, to_m + 0.5))),
        stance=None if rng.uniform() < poses.upright_share else stance,
        duration_s=poses.rep_s,
        start_s=0.15,
        peak_speed_mps=float(rng.uniform(4.2, 6.5)),
        braking_distance_m=float(rng.uniform(1.2, 3.6)),
        past_m=float(rng.uniform(-1.6, 1.5)),
        side_offset_m=float(rng.uniform(-1, 1)),
        settled_before_arrival_s=float(rng.uniform(-0.3, 0.4)),
        slide_mps=float(rng.uniform(-0.9, 0.9)),
        seed=int(rng.integers(1 << 30)),
        weighed=float(rng.uniform(*poses.weighed)) if weighed else 0.0,
    )


def album(
    movement: Movement, rng: np.random.Generator, spec: BodySpec, n_poses: int, poses: Poses
) -> PlayerMotion:
    """Poses of a body strung together: three film frames for each, the middle one meant."""
    if movement == "attacker":
        return _attackers(rng, spec, n_poses, poses)
    if movement == "captured":
        return _strung(_as_captured(rng, spec, poses.captured, n_poses))
    if movement == "varied":
        return _varied(rng, spec, n_poses, poses)
    if movement == "perturbed":
        on_stick = bool(rng.uniform() < poses.on_stick_share)
        return plan_perturbed(spec, n_poses, rng, on_stick)
    if movement == "database":
        pieces = read_pieces(motion_file(), poses.database_sha256)
        return plan_stills(spec, pieces, shown(movement, n_poses, poses).tolist(), rng)
    return _of_reps(movement, rng, spec, n_poses, poses)


def shown(movement: Movement, n_poses: int, poses: Poses) -> NDArray[np.str_]:
    """(n_poses,) what each pose of an album shows: its own name, or the captured movement's."""
    kinds = {"captured": poses.captured, "database": poses.database}.get(movement, (movement,))
    return np.array(kinds)[np.arange(n_poses) * len(kinds) // n_poses]


def wide(movement: Movement) -> bool:
    """True for albums of any body in any dress, the sport's or not."""
    return movement in ("perturbed", "database")


def _of_reps(
    movement: Movement, rng: np.random.Generator, spec: BodySpec, n_poses: int, poses: Poses
) -> PlayerMotion:
    """Of several reps; "weighed": feet stand where the weight of a braking body demands it."""
    pieces: list[PlayerMotion] = []
    running, weighed = movement == "running", movement == "weighed"
    to_m = poses.run_to_m if running else TO_M
    while len(pieces) < n_poses // poses.per_rep:
        frames = _of_run(rng, poses) if running else _mostly_late(rng, poses)
        only = (frames[:, None] + [-1, 0, 1]).ravel()
        try:
            pieces.append(plan_defender(spec, _rep(rng, poses, weighed, to_m), only))
        except ValueError:  # a body that cannot take the stance asked for
            continue
    return _strung(pieces)


def _mostly_late(rng: np.random.Generator, poses: Poses) -> Array:
    """Frames of a rep, most of them from the end, where stances are."""
    last = round(poses.rep_s * FPS) - 2
    late = rng.integers(int(0.6 * last), last, poses.late_per_rep)
    return np.concatenate([late, rng.integers(1, last, poses.per_rep - len(late))])


def _of_run(rng: np.random.Generator, poses: Poses) -> Array:
    first, last = np.rint(np.array(poses.running_s) * FPS).astype(int)
    return rng.integers(first, last, poses.per_rep)


def _attackers(
    rng: np.random.Generator, spec: BodySpec, n_poses: int, poses: Poses
) -> PlayerMotion:
    """Ready on their cones, calling for the ball, catching it, jogging off."""
    pieces = []
    for _ in range(n_poses // poses.per_rep):
        acts = AttackerSpec(
            (float(rng.uniform(-3, 3)), TO_M),
            duration_s=poses.rep_s,
            catch_s=float(rng.uniform(0.3, 2.5)) if rng.uniform() < 0.8 else None,
            jog_s=float(rng.uniform(1.5, 2.5)) if rng.uniform() < 0.4 else None,
            seed=int(rng.integers(1 << 30)),
        )
        chosen = rng.integers(1, round(poses.rep_s * FPS) - 1, poses.per_rep)
        pieces.append(_rows(plan_attacker(spec, acts), (chosen[:, None] + [-1, 0, 1]).ravel()))
    return _strung(pieces)


def _varied(rng: np.random.Generator, spec: BodySpec, n_poses: int, poses: Poses) -> PlayerMotion:
    """Half of them as captured, half put together at random; of these nothing moves."""
    names = poses.as_captured
    n_varied = n_poses - n_poses // 2 // len(names) * len(names)
    motion = plan_varied(spec, poses.varied, n_varied, int(rng.integers(1 << 30)))
    varied = _rows(motion, np.repeat(np.arange(n_varied), 3))
    return _strung([varied, *_as_captured(rng, spec, names, n_poses - n_varied)])


def _as_captured(
    rng: np.random.Generator, spec: BodySpec, names: tuple[str, ...], n_poses: int
) -> list[PlayerMotion]:
    pieces = []
    for name in names:
        motion = plan_captured(spec, name, int(rng.integers(1 << 30)))
        chosen = rng.integers(1, len(motion.t_s) - 1, n_poses // len(names))
        pieces.append(_rows(motion, (chosen[:, None] + [-1, 0, 1]).ravel()))
    return pieces


def _rows(motion: PlayerMotion, chosen: Array) -> PlayerMotion:
    return replace(motion, **{name: getattr(motion, name)[chosen] for name in ("t_s", *_BY_FRAME)})


_BY_FRAME = (
    "vertices_m", "joints_m", "head_pose", "left_hand_pose", "right_hand_pose", "chest_pose",
)  # fmt: skip


def _strung(pieces: list[PlayerMotion]) -> PlayerMotion:
    rows: dict[str, Any] = {
        name: np.concatenate([getattr(piece, name) for piece in pieces]) for name in _BY_FRAME
    }
    n = len(rows["joints_m"])
    return replace(pieces[0], t_s=np.arange(n) / FPS, **rows)


def scattered(
    rng: np.random.Generator,
    motion: PlayerMotion,
    camera_m: Array,
    azimuth: float,
    distance_m: tuple[float, float],
) -> PlayerMotion:
    """Every pose turned about the vertical and put somewhere in front of the camera."""
    n = len(motion.t_s) // 3
    turn = rng.uniform(0, 2 * np.pi, n)
    near, far = np.log(distance_m)
    away = np.exp(rng.uniform(near, far, n))
    aside = azimuth + rng.uniform(-0.12, 0.12, n)
    goal = camera_m[:2] + away[:, None] * np.stack([np.cos(aside), np.sin(aside)], 1)
    return placed(motion, turn, goal)


def in_front(rng: np.random.Generator, motion: PlayerMotion, camera_m: Array) -> PlayerMotion:
    """Another player for every pose: the same poses in another order, between it and the camera."""
    n = len(motion.t_s) // 3
    order = np.roll(np.arange(3 * n), 3 * int(rng.integers(1, n)))
    here = truth.ground_track(motion.joints_m)[1::3]
    sight = here - camera_m[:2]
    far = np.linalg.norm(sight, axis=1)
    ahead = rng.uniform(0.5, np.minimum(2.5, 0.5 * far))
    across = np.stack([-sight[:, 1], sight[:, 0]], axis=1) / far[:, None]
    aside = rng.choice([-1, 1], n) * rng.uniform(0.1, 0.55, n)
    goal = here - ahead[:, None] * sight / far[:, None] + aside[:, None] * across
    return placed(_rows(motion, order), rng.uniform(0, 2 * np.pi, n), goal)


def placed(motion: PlayerMotion, turn: Array, goal: Array) -> PlayerMotion:
    """Every pose turned by turn (n,) rad about the vertical, its hips over goal (n, 2) m."""
    n = len(turn)
    here = truth.ground_track(motion.joints_m)[1::3]
    move = np.tile(np.eye(4), (n, 1, 1))
    c, s = np.cos(turn), np.sin(turn)
    move[:, 0, 0], move[:, 0, 1], move[:, 1, 0], move[:, 1, 1] = c, -s, s, c
    move[:, :2, 3] = goal - np.einsum("nij,nj->ni", move[:, :2, :2], here)
    each = np.repeat(move, 3, axis=0)

    def carried(points: Array) -> Array:
        turned = np.einsum("nij,nvj->nvi", each[:, :3, :3], points) + each[:, None, :3, 3]
        return np.asarray(turned.astype(points.dtype))

    poses = ("head_pose", "left_hand_pose", "right_hand_pose", "chest_pose")
    return replace(
        motion,
        vertices_m=carried(motion.vertices_m),
        joints_m=carried(motion.joints_m),
        **{name: each @ getattr(motion, name) for name in poses},
    )
