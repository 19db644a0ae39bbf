"""Bodies and poses by chance: who stands in a single picture, how, and where.

Poses come three film frames each, the middle one meant: the others tell how it moves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import truth as told
from .captured import Name, plan_captured, plan_varied
from .motion import (
    AttackerSpec,
    BodySpec,
    PlayerMotion,
    RepSpec,
    Stance,
    plan_attacker,
    plan_defender,
)
from .outfit import Kit

Array = NDArray[Any]

FPS = 30
POSES_PER_REP, LATE_POSES_PER_REP = 5, 3
"""Many reps of few poses: poses come from the run to a stance and from the stance itself."""
UPRIGHT_SHARE = 0.3
"""Of the reps; these are what must not be missed."""
WEIGHED = 0.3, 1.0
"""How far feet in reps carry the weight, where they do at all."""
REP_S = 3.4
RUNNING_S, RUN_TO_M = (0.7, 2.2), 17.0
"""Of a rep in which only the run is meant: he has set off, and does not brake yet on so long
a way."""
VARIED: tuple[Name, ...] = ("run", "walk", "dance_a", "dance_b", "punch", "kick", "spin")
AS_CAPTURED: tuple[Name, ...] = (*VARIED, "run", "walk")
CAPTURED: tuple[Name, ...] = ("run", "walk", "jump")
"""Captured movements: what the net learns from besides closeouts, put together by chance and as
captured (running and walking twice as often), and what it is tried on. Jumping is kept out of the
first."""
NEAREST_M, FARTHEST_M = 4.2, 12.0


def body(rng: np.random.Generator) -> BodySpec:
    """From ten years on, both sexes, slight to strong, light to heavy, all skin tones."""
    sex = "male" if rng.uniform() < 0.6 else "female"
    age = float(rng.uniform(10, 32))
    grown = min((age - 12) / 5, 1.0)
    tall, short = (1.78, 1.53) if sex == "male" else (1.66, 1.51)
    height = short + (tall - short) * grown + float(rng.normal(0, 0.065))
    light, dark = np.array([0.87, 0.68, 0.57]), np.array([0.22, 0.14, 0.10])
    skin = light + (dark - light) * rng.uniform(0, 1)
    return BodySpec(
        sex, age, round(float(np.clip(height, 1.32, 2.0)), 3),
        float(rng.uniform(0.3, 0.9)), float(rng.uniform(0.25, 0.8)),
        tuple(float(v) for v in skin.round(3)),
    )  # fmt: skip


def kit(rng: np.random.Generator) -> Kit:
    """Any colours, a short stick or a long one."""

    def colour() -> tuple[float, float, float]:
        hue = rng.uniform(0.02, 0.9, 3)
        return tuple(float(v) for v in hue * rng.uniform(0.3, 1.0))  # type: ignore[return-value]

    return Kit(
        int(rng.integers(1, 99)), colour(), colour(), colour(), colour(), colour(), colour(),
        (0.9, 0.9, 0.9) if rng.uniform() < 0.6 else colour(),
        stick_m=float(rng.choice([1.05, 1.55])),
    )  # fmt: skip


def _rep(
    rng: np.random.Generator, duration_s: float, weighed: bool = False, to_m: float = 10.0
) -> RepSpec:
    """Any depth of stance with any lean of the trunk, so that neither tells the other."""
    stance = Stance(
        float(rng.uniform(8, 88)), float(rng.uniform(2, 50)), float(rng.uniform(1.0, 2.4)),
        float(rng.uniform(0.15, 0.7)), float(rng.uniform(0.15, 0.8)),
    )  # fmt: skip
    return RepSpec(
        attacker_m=(float(rng.uniform(-3, 3)), float(rng.uniform(to_m - 0.5, to_m + 0.5))),
        stance=None if rng.uniform() < UPRIGHT_SHARE else stance,
        duration_s=duration_s,
        start_s=0.15,
        peak_speed_mps=float(rng.uniform(4.2, 6.5)),
        braking_distance_m=float(rng.uniform(1.2, 3.6)),
        past_m=float(rng.uniform(-1.6, 1.5)),
        side_offset_m=float(rng.uniform(-1, 1)),
        settled_before_arrival_s=float(rng.uniform(-0.3, 0.4)),
        slide_mps=float(rng.uniform(-0.9, 0.9)),
        seed=int(rng.integers(1 << 30)),
        weighed=float(rng.uniform(*WEIGHED)) if weighed else 0.0,
    )


def album(rng: np.random.Generator, spec: BodySpec, n_poses: int) -> PlayerMotion:
    """Poses of several reps strung together: three film frames for each, the middle one meant."""
    return _of_reps(rng, spec, n_poses, _mostly_late, lambda: _rep(rng, REP_S))


def weighed_album(rng: np.random.Generator, spec: BodySpec, n_poses: int) -> PlayerMotion:
    """The same of reps in which feet stand where the weight of a braking body demands it."""
    return _of_reps(rng, spec, n_poses, _mostly_late, lambda: _rep(rng, REP_S, weighed=True))


def running_album(rng: np.random.Generator, spec: BodySpec, n_poses: int) -> PlayerMotion:
    """The same of long runs."""
    return _of_reps(rng, spec, n_poses, _running, lambda: _rep(rng, REP_S, to_m=RUN_TO_M))


def _mostly_late(rng: np.random.Generator) -> Array:
    """Frames of a rep, most of them from the end, where stances are."""
    last = round(REP_S * FPS) - 2
    late = rng.integers(int(0.6 * last), last, LATE_POSES_PER_REP)
    return np.concatenate([late, rng.integers(1, last, POSES_PER_REP - len(late))])


def _running(rng: np.random.Generator) -> Array:
    first, last = np.rint(np.array(RUNNING_S) * FPS).astype(int)
    return rng.integers(first, last, POSES_PER_REP)


def _of_reps(
    rng: np.random.Generator,
    spec: BodySpec,
    n_poses: int,
    frames: Callable[[np.random.Generator], Array],
    rep: Callable[[], RepSpec],
) -> PlayerMotion:
    pieces: list[PlayerMotion] = []
    while len(pieces) < n_poses // POSES_PER_REP:
        only = (frames(rng)[:, None] + [-1, 0, 1]).ravel()
        try:
            pieces.append(plan_defender(spec, rep(), only))
        except ValueError:  # a body that cannot take the stance asked for
            continue
    return _strung(pieces)


def attacker_album(rng: np.random.Generator, spec: BodySpec, n_poses: int) -> PlayerMotion:
    """Poses of attackers: ready on their cones, calling for the ball, catching it, jogging off."""
    pieces = []
    for _ in range(n_poses // POSES_PER_REP):
        acts = AttackerSpec(
            (float(rng.uniform(-3, 3)), 10.0),
            duration_s=REP_S,
            catch_s=float(rng.uniform(0.3, 2.5)) if rng.uniform() < 0.8 else None,
            jog_s=float(rng.uniform(1.5, 2.5)) if rng.uniform() < 0.4 else None,
            seed=int(rng.integers(1 << 30)),
        )
        chosen = rng.integers(1, round(REP_S * FPS) - 1, POSES_PER_REP)
        pieces.append(_rows(plan_attacker(spec, acts), (chosen[:, None] + [-1, 0, 1]).ravel()))
    return _strung(pieces)


def captured_album(rng: np.random.Generator, spec: BodySpec, n_poses: int) -> PlayerMotion:
    """The same of movements as they were captured, as many poses of each."""
    return _strung(_as_captured(rng, spec, CAPTURED, n_poses))


def varied_album(rng: np.random.Generator, spec: BodySpec, n_poses: int) -> PlayerMotion:
    """Half of them as captured, half put together by chance; of these nothing moves."""
    n_varied = n_poses - n_poses // 2 // len(AS_CAPTURED) * len(AS_CAPTURED)
    motion = plan_varied(spec, VARIED, n_varied, int(rng.integers(1 << 30)))
    varied = _rows(motion, np.repeat(np.arange(n_varied), 3))
    return _strung([varied, *_as_captured(rng, spec, AS_CAPTURED, n_poses - n_varied)])


def _as_captured(
    rng: np.random.Generator, spec: BodySpec, names: tuple[Name, ...], n_poses: int
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
    rows = {name: np.concatenate([getattr(piece, name) for piece in pieces]) for name in _BY_FRAME}
    n = len(rows["joints_m"])
    return replace(pieces[0], t_s=np.arange(n) / FPS, **rows)


def scattered(
    rng: np.random.Generator, motion: PlayerMotion, camera_m: Array, azimuth: float
) -> PlayerMotion:
    """Every pose turned about the vertical and put somewhere in front of the camera."""
    n = len(motion.t_s) // 3
    turn = rng.uniform(0, 2 * np.pi, n)
    away = np.exp(rng.uniform(np.log(NEAREST_M), np.log(FARTHEST_M), n))
    aside = azimuth + rng.uniform(-0.12, 0.12, n)
    goal = camera_m[:2] + away[:, None] * np.stack([np.cos(aside), np.sin(aside)], 1)
    return _placed(motion, turn, goal)


def in_front(rng: np.random.Generator, motion: PlayerMotion, camera_m: Array) -> PlayerMotion:
    """Another player for every pose: the same poses in another order, between it and the camera."""
    n = len(motion.t_s) // 3
    order = np.roll(np.arange(3 * n), 3 * int(rng.integers(1, n)))
    here = told.ground_track(motion.joints_m)[1::3]
    way = here - camera_m[:2]
    far = np.linalg.norm(way, axis=1)
    ahead = rng.uniform(0.5, np.minimum(2.5, 0.5 * far))
    across = np.stack([-way[:, 1], way[:, 0]], axis=1) / far[:, None]
    aside = rng.choice([-1, 1], n) * rng.uniform(0.1, 0.55, n)
    goal = here - ahead[:, None] * way / far[:, None] + aside[:, None] * across
    return _placed(_rows(motion, order), rng.uniform(0, 2 * np.pi, n), goal)


def _placed(motion: PlayerMotion, turn: Array, goal: Array) -> PlayerMotion:
    """Every pose turned by turn (n,) rad about the vertical, its hips over goal (n, 2) m."""
    n = len(turn)
    here = told.ground_track(motion.joints_m)[1::3]
    move = np.tile(np.eye(4), (n, 1, 1))
    c, s = np.cos(turn), np.sin(turn)
    move[:, 0, 0], move[:, 0, 1], move[:, 1, 0], move[:, 1, 1] = c, -s, s, c
    move[:, :2, 3] = goal - np.einsum("nij,nj->ni", move[:, :2, :2], here)
    each = np.repeat(move, 3, axis=0)

    def carried(points: Array) -> Array:
        turned = np.einsum("nij,nvj->nvi", each[:, :3, :3], points) + each[:, None, :3, 3]
        return turned.astype(points.dtype)

    poses = ("head_pose", "left_hand_pose", "right_hand_pose", "chest_pose")
    return replace(
        motion,
        vertices_m=carried(motion.vertices_m),
        joints_m=carried(motion.joints_m),
        **{name: each @ getattr(motion, name) for name in poses},
    )


ALBUMS = {
    "closeout": album,
    "weighed": weighed_album,
    "running": running_album,
    "attacker": attacker_album,
    "varied": varied_album,
    "captured": captured_album,
}
"""By kind of movement: n poses of a body."""
