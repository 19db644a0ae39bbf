"""What a rep is judged by: one value object, one file with the reasons (thresholds.toml)."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path

from posecheck.files.digest import facts_digest
from posecheck.files.toml_table import TomlTable, read_toml
from posecheck.maths.units import Units
from posecheck.measures.figures import figure
from posecheck.measures.quantities import QUANTITY, Quantity

_EITHER_SIDE = "side_offset_m"
"""The one limit that is looked at from both sides is not named after its quantity."""

_IN_ORDER = (
    ("min_trunk_lean_deg", "max_trunk_lean_deg"),
    ("upright_knee_bend_deg", "min_knee_bend_deg"),
    ("upright_trunk_lean_deg", "max_trunk_lean_deg"),
    ("min_heading_deg", "max_heading_deg"),
)
"""Of each pair the first may not be above the second."""


@dataclass(frozen=True)
class Good:
    """The good side of a quantity: at least ``low``, at most ``high``; None where open."""

    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Thresholds:
    """Limits of good and bad. The reason for each default stands in ``thresholds.toml``.

    A limit itself is still good: "at least 45" is met by 45.
    """

    min_knee_bend_deg: float = 45.0
    min_trunk_lean_deg: float = 20.0
    max_trunk_lean_deg: float = 50.0
    min_hip_drop: float = 0.12
    min_hand_reach: float = 0.45
    min_base_width: float = 1.6
    max_arrival_speed_mps: float = 2.5
    min_braking_distance_m: float = 1.5
    max_speed_kept: float = 0.8
    max_overrun_m: float = 1.0
    upright_knee_bend_deg: float = 35.0
    upright_trunk_lean_deg: float = 20.0
    min_side_offset_m: float = 0.3
    min_heading_deg: float = -45.0
    max_heading_deg: float = 45.0
    min_goal_side_m: float = 0.0

    def digest(self) -> str:
        """SHA-256 over all limits, hexadecimal; equal for equal limits."""
        return facts_digest(dataclasses.asdict(self))

    def good(self, key: str) -> Good | None:
        """The good side of a quantity, None when no limit looks at it."""
        low, high = (getattr(self, f"{end}_{key}", None) for end in ("min", "max"))
        return None if low is None and high is None else Good(low, high)


@dataclass(frozen=True)
class Limit:
    """What one of the thresholds looks at, from its name.

    Attributes:
        end: "min", "max", or "upright" for the headline rule's own.
        quantity: that it limits.
        least, greatest: between which it makes sense.
    """

    end: str
    quantity: Quantity
    least: float
    greatest: float

    @classmethod
    def named(cls, name: str) -> Limit:
        """The limit of a name among the thresholds."""
        end, _, key = name.partition("_")
        if key == _EITHER_SIDE:
            quantity = QUANTITY["approach_offset_m"]
            return cls(end, quantity, 0.0, quantity.plausible[1])
        return cls(end, QUANTITY[key], *QUANTITY[key].plausible)


DEFAULT_THRESHOLDS = Thresholds()


def limit_words(name: str, value: float, units: Units) -> tuple[str, str]:
    """One of the thresholds as words and figure: "Knee bend, at least" and "45°"."""
    limit = Limit.named(name)
    joint = {"min": "at least", "max": "at most", "upright": "upright when under"}[limit.end]
    return f"{limit.quantity.label}, {joint}", figure(limit.quantity.key, value, units)


def read_thresholds(path: Path) -> Thresholds:
    """Read a thresholds file; what it leaves out keeps its default.

    Raises:
        SettingsError: it cannot be read, names an unknown limit, or asks for nonsense.
    """
    table = read_toml(path)
    names = [field.name for field in dataclasses.fields(Thresholds)]
    table.allow(*names)
    given = {}
    for name in names:
        limit = Limit.named(name)
        given[name] = table.number(name, limit.least, limit.greatest)
    thresholds = Thresholds(**{name: value for name, value in given.items() if value is not None})
    for lower, upper in _IN_ORDER:
        _refuse_crossed(table, thresholds, lower, upper)
    return thresholds


def in_order(thresholds: Thresholds) -> bool:
    """False when two limits cross, so that no rep could be right by both."""
    return all(
        getattr(thresholds, lower) <= getattr(thresholds, upper) for lower, upper in _IN_ORDER
    )


def _refuse_crossed(table: TomlTable, thresholds: Thresholds, lower: str, upper: str) -> None:
    low, high = getattr(thresholds, lower), getattr(thresholds, upper)
    if low > high:
        table.refuse(
            lower,
            f"is {low:g}, above {upper} which is {high:g}",
            "no rep could be right by both; lower the one or raise the other",
        )
