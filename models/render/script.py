"""The script of the invented practice: club, roster, camera places and the fourteen reps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from models.render.motion import BodySpec, RepSpec, Stance
from models.render.phone import Place
from models.render.props import CONES

NAME, CLUB, DATE = "Tuesday recovery reps", "Harbor Point Herons", "2026-09-15"
PLAN = {
    "top": "to his weak hand",
    "top-left": "down the alley",
    "top-right": "down the alley",
    "side-left": "down the alley",
    "side-right": "down the alley",
}
ATTACKER_BEHIND_CONE_M = 0.45
SHORT_STICK_M = 1.05


@dataclass(frozen=True)
class Player:
    """One name on the roster."""

    number: int
    name: str
    role: str
    strong_hand: str
    body: BodySpec
    stick_m: float


def _player(
    number: int, name: str, role: str, strong_hand: str, age_years: float, height_m: float,
    muscle: float, weight: float, skin_rgb: tuple[float, float, float],
    stick_m: float = SHORT_STICK_M,
) -> Player:  # fmt: skip
    body = BodySpec("male", age_years, height_m, muscle, weight, skin_rgb)
    return Player(number, name, role, strong_hand, body, stick_m)


_D, _A = "defender", "attacker"
ROSTER = {
    p.number: p
    for p in (
        _player(14, "Theo Marsh", _D, "right", 17, 1.80, 0.68, 0.45, (0.80, 0.60, 0.48), 1.55),
        _player(22, "Ellis Rowan", _D, "right", 18, 1.86, 0.72, 0.50, (0.46, 0.31, 0.23), 1.60),
        _player(5, "Cal Whitlock", _D, "left", 16, 1.73, 0.60, 0.42, (0.84, 0.66, 0.55), 1.52),
        _player(31, "Dev Okoro", _D, "right", 17, 1.83, 0.75, 0.55, (0.36, 0.24, 0.18), 1.60),
        _player(8, "Nico Brandt", _D, "right", 16, 1.76, 0.62, 0.40, (0.76, 0.56, 0.43), 1.52),
        _player(27, "Sam Ferro", _D, "left", 17, 1.78, 0.66, 0.48, (0.66, 0.48, 0.36), 1.55),
        _player(7, "Jonah Pell", _A, "right", 17, 1.78, 0.62, 0.42, (0.78, 0.58, 0.46)),
        _player(19, "Marcus Lyle", _A, "left", 17, 1.82, 0.68, 0.46, (0.42, 0.28, 0.21)),
        _player(3, "Owen Tate", _A, "right", 16, 1.72, 0.58, 0.42, (0.82, 0.63, 0.52)),
    )
}

VIEWS = {
    "sideline": Place((11.2, 12.0, 1.9), (0.0, 10.9, 0.85)),
    "front": Place((-7.0, 20.5, 2.7), (-6.6, 6.5, 0.75)),
    "end-line": Place((-7.5, -6.8, 3.4), (-6.85, 6.0, 0.6)),
    "hand": Place((11.5, 1.0, 1.65), (4.0, 8.0, 1.0)),
    "far": Place((27.0, 9.0, 2.2), (0.0, 9.0, 1.0)),
}


@dataclass(frozen=True)
class Rep:
    """One clip: who, where, from which view, and how it is run.

    side is the approach: metres to the runner's right of the attacker at the end of the run.
    """

    name: str
    kind: str
    spot: str
    view: str
    defender: int | None
    attacker: int
    note: str
    run: RepSpec
    seed: int
    jog_after_s: float | None = None
    waiting: int | None = None


def _rep(
    number: int, kind: str, spot: str, view: str, defender: int | None, attacker: int, note: str,
    waiting: int | None = None, **run: Any,
) -> Rep:  # fmt: skip
    cone = np.array(CONES[spot])
    start = np.array(CONES["inside"])
    outward = (cone - start) / np.linalg.norm(cone - start)
    x, y = np.round(cone + outward * ATTACKER_BEHIND_CONE_M, 3)
    spec = RepSpec(attacker_m=(float(x), float(y)), seed=100 + number, **run)
    jog = 3.0 if kind == "upright" else None
    name = f"rep-{number:02d}"
    return Rep(name, kind, spot, view, defender, attacker, note, spec, number, jog, waiting)


def _upright(**more: Any) -> dict[str, Any]:
    base = {
        "stance": None,
        "peak_speed_mps": 5.6,
        "past_m": 2.1,
        "braking_distance_m": 1.6,
        "duration_s": 4.4,
    }
    return {**base, **more}


def _sound(knee: float = 62, lean: float = 34, width: float = 1.95, **more: Any) -> dict[str, Any]:
    stance = Stance(knee, lean, width, 0.58, 0.45)
    base = {"stance": stance, "past_m": -1.42, "braking_distance_m": 3.2, "duration_s": 4.7}
    return {**base, **more}


REPS = (
    _rep(
        1,
        "breakdown",
        "top",
        "sideline",
        14,
        7,
        "clean breakdown from the top, sideline",
        **_sound(side_offset_m=-0.6),
    ),
    _rep(
        2,
        "upright",
        "top",
        "sideline",
        22,
        7,
        "runs out standing straight up and past him",
        **_upright(side_offset_m=-0.75),
    ),
    _rep(
        3,
        "breakdown",
        "top-left",
        "front",
        31,
        19,
        "clean breakdown, seen from the front",
        **_sound(66, 32, 2.0, side_offset_m=0.65),
    ),
    _rep(
        4,
        "upright",
        "top-left",
        "front",
        5,
        19,
        "runs out upright and past, seen from the front",
        **_upright(side_offset_m=0.8, peak_speed_mps=5.3),
    ),
    _rep(
        5,
        "breakdown",
        "side-left",
        "end-line",
        8,
        3,
        "clean breakdown, from behind the goal",
        **_sound(60, 36, 1.9, side_offset_m=0.6),
    ),
    _rep(
        6,
        "upright",
        "side-left",
        "end-line",
        27,
        3,
        "runs out upright, from behind the goal",
        **_upright(side_offset_m=0.8, peak_speed_mps=5.8),
    ),
    _rep(
        7,
        "late",
        "top",
        "sideline",
        5,
        19,
        "breaks down, but only after he has arrived",
        **_sound(
            58, 30, 2.2, side_offset_m=0.6, settled_before_arrival_s=-0.55, braking_distance_m=2.2
        ),
    ),
    _rep(
        8,
        "hands-in",
        "top-left",
        "front",
        27,
        7,
        "low enough, but hands in and feet together",
        **{**_sound(side_offset_m=0.65), "stance": Stance(63, 28, 1.15, 0.26, 0.40)},
    ),
    _rep(
        9,
        "curved",
        "side-left",
        "end-line",
        14,
        3,
        "curved run, arrives topside, broken down",
        **_sound(62, 34, 1.95, bow_m=1.1, side_offset_m=0.8, duration_s=4.8),
    ),
    _rep(
        10,
        "wrong-side",
        "side-left",
        "end-line",
        31,
        3,
        "good stance on the alley side: gives up the middle",
        **_sound(60, 32, 1.9, side_offset_m=-1.1, past_m=-1.0),
    ),
    _rep(
        11,
        "breakdown",
        "top-left",
        "front",
        22,
        3,
        "clean breakdown, the next defender waits by the crease",
        waiting=8,
        **_sound(64, 34, 1.95, side_offset_m=0.65),
    ),
    _rep(
        12,
        "upright",
        "top-right",
        "hand",
        8,
        19,
        "runs out upright; the phone follows by hand",
        **_upright(side_offset_m=-0.8, peak_speed_mps=5.5),
    ),
    _rep(
        13,
        "small",
        "top",
        "far",
        22,
        7,
        "filmed from too far away to judge",
        **_upright(side_offset_m=-0.75),
    ),
    _rep(
        14, "alone", "top", "sideline", None, 7, "no defender: the attacker alone", duration_s=3.5
    ),
)
