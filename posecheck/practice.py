"""The practice: its plan, its roster, its layout, and which clip shows whom."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

Point = tuple[float, float]


class Plan(StrEnum):
    """What the defence takes away at a spot. Common practice, no source."""

    ALLEY = "alley"
    """Take away topside, force down the side."""
    MIDDLE = "middle"
    """Take away the alley, force to the middle where help waits."""
    WEAK_HAND = "weak-hand"
    """Take away the attacker's strong-hand side."""


@dataclass(frozen=True)
class Player:
    """Someone on the roster; ``height_m`` and ``strong_hand`` None when not stated."""

    number: int
    name: str
    role: str | None = None
    strong_hand: str | None = None
    height_m: float | None = None


@dataclass(frozen=True)
class Layout:
    """Known points of the field.

    Metres from the middle of the goal line; x to the right looking out from the goal, y upfield.

    Attributes:
        points: name to position: cones, and with ``goal`` the posts and crease points.
        goal: True when the goal stands at the origin, so that sides can be told.
        cones: the names among ``points`` that are cones.
    """

    points: Mapping[str, Point] = field(default_factory=dict)
    goal: bool = False
    cones: frozenset[str] = frozenset()


@dataclass(frozen=True)
class View:
    """One camera position: where known points are seen in its picture.

    Attributes:
        name: of the position.
        size: width and height in pixels of the picture the marks were read from.
        time_s: moment of that picture (matters when the camera moves).
        marks: point name to pixels.
    """

    name: str
    size: tuple[int, int]
    time_s: float
    marks: Mapping[str, Point]


@dataclass(frozen=True)
class ClipNotes:
    """What the coach has said of a clip; all None when nothing was said."""

    view: View | None = None
    spot: str | None = None
    defender: Player | None = None
    attacker: Player | None = None


@dataclass(frozen=True)
class Practice:
    """One practice as described in its ``practice.toml``.

    Attributes:
        folder: where it lies.
        name, club, date: for the page; date None when not stated.
        layout: known points, empty when not stated.
        plan: by spot, empty when not stated.
        players: the roster by number.
        notes: by clip path relative to the folder, POSIX form.
        slow_motion: how many times slower than life the clips play.
    """

    folder: Path
    name: str
    club: str = ""
    date: dt.date | None = None
    layout: Layout = field(default_factory=Layout)
    plan: Mapping[str, Plan] = field(default_factory=dict)
    players: Mapping[int, Player] = field(default_factory=dict)
    notes: Mapping[str, ClipNotes] = field(default_factory=dict)
    slow_motion: float = 1.0
