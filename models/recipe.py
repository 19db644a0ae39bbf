"""The recipe: what the models are made from and how, read from ``recipe.toml``."""

from __future__ import annotations

import hashlib
import json
import tomllib
import types
import typing
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal, TypeVar

FOLDER = Path(__file__).parent
FILE = FOLDER / "recipe.toml"

Movement = Literal[
    "closeout", "weighed", "running", "attacker", "varied", "captured", "perturbed", "database"
]  # fmt: skip
Purpose = Literal["fit", "held-out", "captured"]
CameraKind = Literal["phone", "wide"]
LookName = Literal["first", "second"]
Range = tuple[float, float]
T = TypeVar("T")


class RecipeError(ValueError):
    """The recipe cannot be used; the message names the key and the fault."""


@dataclass(frozen=True)
class StillsSet:
    """``casts`` bodies from number ``first`` on, ``poses`` pictures of each.

    Attributes:
        camera: "wide": any lens, height and distance, a wider range of bodies, read by both pose
            models; None: as all sets before there was a choice.
        looks: of the film, dealt to the casts in turn; None: the first look only.
        street_of_six: how many of six casts wear street clothes; None: none.
    """

    purpose: Purpose
    movement: Movement
    first: int
    casts: int
    poses: int
    camera: CameraKind | None = None
    looks: tuple[LookName, ...] | None = None
    street_of_six: int | None = None

    @property
    def numbers(self) -> range:
        """Numbers of its casts."""
        return range(self.first, self.first + self.casts)

    def look_of(self, cast: int) -> LookName:
        """How the cast's pictures look."""
        looks = self.looks or ("first",)
        return looks[(cast - self.first) % len(looks)]

    def in_street_clothes(self, cast: int) -> bool:
        """Whether the cast wears no uniform; of every six in turn the same share, of every look."""
        n_looks = len(self.looks or ("first",))
        turn = (cast - self.first) // n_looks * 5 % 6
        return turn < (self.street_of_six or 0)


@dataclass(frozen=True)
class Wide:
    """Cameras of "wide" stills: any phone, any zoom, from anywhere.

    Attributes:
        frames_px: sizes of the whole picture that a still is cut out of.
        focal: focal length over the longer side of the whole picture.
        camera_height_m, distance_m: of the camera.
        tall_px, usual_tall_px: how tall the player is in the picture, and mostly is.
        usual_share: how mostly.
        steepest_deg: most that the camera looks down on the player.
        distorted_share: of the pictures have radial distortion.
        k1: of that, over the focal length squared.
        roll_sd_deg: how far from level the camera is held.
    """

    frames_px: tuple[tuple[int, int], ...]
    focal: Range
    camera_height_m: Range
    distance_m: Range
    tall_px: Range
    usual_tall_px: Range
    usual_share: float
    steepest_deg: float
    distorted_share: float
    k1: Range
    roll_sd_deg: float


@dataclass(frozen=True)
class Poses:
    """From which moments of which movements poses come."""

    per_rep: int
    late_per_rep: int
    rep_s: float
    upright_share: float
    weighed: Range
    running_s: Range
    run_to_m: float
    varied: tuple[str, ...]
    as_captured: tuple[str, ...]
    captured: tuple[str, ...]
    on_stick_share: float
    database: tuple[str, ...]
    database_sha256: str


@dataclass(frozen=True)
class Stills:
    """Single pictures of bodies in many poses."""

    seed: int
    pose_model: str
    second_model: str
    size_px: tuple[int, int]
    focal_px: float
    camera_height_m: Range
    distance_m: Range
    occluded_share: float
    degraded_share: float
    mistaken: float
    trousers_from: int
    wide: Wide
    poses: Poses
    sets: tuple[StillsSet, ...]

    def purpose_of(self, number: int) -> Purpose:
        """What the cast of this number is for.

        Raises:
            RecipeError: no set holds it.
        """
        return self.set_of(number).purpose

    def set_of(self, number: int) -> StillsSet:
        """The set that holds the cast of this number.

        Raises:
            RecipeError: no set holds it.
        """
        for each in self.sets:
            if number in each.numbers:
                return each
        raise RecipeError(f"cast {number} is in none of the sets of recipe.toml")


@dataclass(frozen=True)
class Spread:
    """Short reps filmed from tripods all round."""

    seed: int
    numbers: tuple[tuple[int, int], ...]
    bodies: int
    attackers: int
    wider_from: int
    wider_bodies: int
    weighed_from: int

    @property
    def all_numbers(self) -> list[int]:
        """Every clip's number."""
        return [number for first, end in self.numbers for number in range(first, end)]


@dataclass(frozen=True)
class Database:
    """Clips of movement from a motion database, so many of each kind."""

    seed: int
    piece_s: Range
    clips: Mapping[str, int]

    @property
    def kinds(self) -> list[str]:
        """What every clip shows, by its number."""
        return [kind for kind, count in self.clips.items() for _ in range(count)]


@dataclass(frozen=True)
class Moving:
    """Reps filmed by a phone held in several ways."""

    reps: tuple[int, ...]
    duration_s: float
    unsteady_deg: float
    zoom: Range
    zoom_s: Range


@dataclass(frozen=True)
class Captured:
    """Clips of captured movement."""

    seed: int
    clips: int
    cycles: Mapping[str, int]


@dataclass(frozen=True)
class Foreign:
    """Short closeouts of families that differ in kind from what is fitted on.

    Attributes:
        seed: plus the number of the clip.
        clips: how many.
        duration_s, run_m, bit_rate: of each.
        past_m: how far beyond the attacker upright run-outs go.
        knee_bend_deg, trunk_lean_deg: true ones of clean breakdowns, around arrival.
        tall_px, small_px: the defender at arrival, in two of three clips and in the others.
        in_view_m: from this far to the attacker on, the run is in the picture.
        street_share, waiting_share, zoom_share: of the clips.
    """

    seed: int
    clips: int
    duration_s: float
    run_m: Range
    bit_rate: int
    past_m: Range
    knee_bend_deg: Range
    trunk_lean_deg: Range
    tall_px: Range
    small_px: Range
    in_view_m: float
    street_share: float
    waiting_share: float
    zoom_share: float


@dataclass(frozen=True)
class Clips:
    """Rendered clips."""

    size_px: tuple[int, int]
    bit_rate: int
    spread: Spread
    database: Database
    moving: Moving
    captured: Captured
    foreign: Foreign


@dataclass(frozen=True)
class Hips:
    """How well places in a clip show how low the hips are carried, as the stance is fitted.

    Attributes:
        sd: best and worst standard deviation, shares of the standing height.
        usual_sd: as in most clips.
        unknown_share: of the pictures in which nothing is known.
        freedom: degrees of freedom of the errors (Student's t).
    """

    sd: Range
    usual_sd: float
    unknown_share: float
    freedom: float


@dataclass(frozen=True)
class NetRecipe:
    """How one net is fitted.

    Attributes:
        movements: of the pictures it is fitted on.
        unit: about the spread of each output, so that all weigh alike.
        hidden: units of its layers.
        dropout, epochs, batch, rate: of the fit.
        wide: pictures by "wide" cameras count too.
        mean: the value is to be the truth's mean rather than its median.
        hips: for the stance net only.
        families: albums of each family of movement that is left out in turn, so that the cards say
            how movement is read that is in no fit; without them bodies are left out.
    """

    movements: tuple[Movement, ...]
    unit: tuple[float, ...]
    hidden: tuple[int, ...]
    dropout: float
    epochs: int
    batch: int
    rate: float
    wide: bool
    mean: bool
    hips: Hips | None = None
    families: Mapping[str, tuple[Movement, ...]] | None = None


@dataclass(frozen=True)
class Fit:
    """How the nets are fitted."""

    cover: float
    members: int
    folds: int
    weight_decay: float
    warm_up: float
    huber: float
    stance: NetRecipe
    base: NetRecipe
    feet: NetRecipe


@dataclass(frozen=True)
class StanceIntervals:
    """Windows of film that the stance's intervals are fitted on."""

    window_s: float
    every_s: float
    around_s: Range
    click_px: float


@dataclass(frozen=True)
class GroundIntervals:
    """How the ground's intervals are fitted."""

    floors: tuple[float, ...]
    min_reps: int
    followed: float
    marks: tuple[int, ...]
    click_sd_px: float


@dataclass(frozen=True)
class IntervalsRecipe:
    """How intervals are fitted."""

    cover: float
    stance: StanceIntervals
    ground: GroundIntervals


@dataclass(frozen=True)
class Real:
    """Real film that is read beside what is known of it.

    Attributes:
        window_s, every_s: of the windows.
        standing: by clip from when to when somebody stands with straight legs, by eye.
    """

    window_s: float
    every_s: float
    standing: Mapping[str, Range]


@dataclass(frozen=True)
class Recipe:
    """Everything that decides what the models come out as."""

    stills: Stills
    clips: Clips
    fit: Fit
    intervals: IntervalsRecipe
    real: Real
    rows: Mapping[str, str]

    def digest(self, *parts: str) -> str:
        """SHA-256 of the named parts, of all without names, hexadecimal; comments do not count."""
        content = asdict(self)
        chosen = {name: content[name] for name in parts or content}
        return hashlib.sha256(json.dumps(chosen, sort_keys=True).encode()).hexdigest()


@cache
def recipe() -> Recipe:
    """The recipe in the tree."""
    return read_recipe(FILE)


def read_recipe(path: Path) -> Recipe:
    """A recipe from a file.

    Raises:
        RecipeError: a key is missing, unknown or of the wrong kind.
    """
    with path.open("rb") as file:
        return _built(Recipe, tomllib.load(file), path.name)


def _built(kind: type[T], table: object, where: str) -> T:
    """A dataclass from a table, strictly: every key known, none missing, all of the right kind."""
    if not isinstance(table, dict):
        raise RecipeError(f"{where}: wants a table, got {table!r}")
    hints = typing.get_type_hints(kind)
    optional = {each.name for each in fields(kind) if each.default is None}  # type: ignore[arg-type]
    unknown, missing = table.keys() - hints.keys(), hints.keys() - table.keys() - optional
    if unknown or missing:
        fault = f"unknown {sorted(unknown)}" if unknown else f"missing {sorted(missing)}"
        raise RecipeError(f"{where}: {fault}")
    return kind(**{key: _value(hints[key], each, f"{where}: {key}") for key, each in table.items()})


def _value(kind: Any, value: object, where: str) -> Any:
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        return _value(args[0], value, where)
    if is_dataclass(kind):
        return _built(typing.cast(type[Any], kind), value, where)
    if origin is tuple and isinstance(value, list):
        kinds = [args[0]] * len(value) if args[-1] is Ellipsis else list(args)
        if len(kinds) == len(value):
            return tuple(_value(k, each, where) for k, each in zip(kinds, value, strict=True))
    elif origin is Literal and value in args:
        return value
    elif origin is Mapping and isinstance(value, dict):
        return {key: _value(args[1], each, where) for key, each in value.items()}
    elif kind is float and isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    elif isinstance(kind, type) and type(value) is kind:
        return value
    raise RecipeError(f"{where}: wants {kind}, got {value!r}")
