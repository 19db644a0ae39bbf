"""What a rep is judged by: one value object, one file with the reasons (thresholds.toml)."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

from posecheck.files.toml_table import TomlTable, read_toml

_RANGES = {
    # The first ending that fits counts.
    "heading_deg": (-180.0, 180.0),
    "goal_side_m": (-5.0, 5.0),
    "deg": (0.0, 180.0),
    "mps": (0.0, 12.0),  # nobody sprints faster
    "m": (0.0, 20.0),
    "hip_drop": (0.0, 1.0),
    "hand_reach": (-1.0, 1.0),  # an arm is one arm long
    "base_width": (0.0, 6.0),
}


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
    max_overrun_m: float = 1.0
    upright_knee_bend_deg: float = 35.0
    upright_trunk_lean_deg: float = 20.0
    min_side_offset_m: float = 0.3
    min_heading_deg: float = -45.0
    max_heading_deg: float = 45.0
    min_goal_side_m: float = 0.0

    def digest(self) -> str:
        """SHA-256 over all limits, hexadecimal; equal for equal limits."""
        told = json.dumps(dataclasses.asdict(self), sort_keys=True)
        return hashlib.sha256(told.encode()).hexdigest()


DEFAULT_THRESHOLDS = Thresholds()


def read_thresholds(path: Path) -> Thresholds:
    """Read a thresholds file; what it leaves out keeps its default.

    Raises:
        SettingsError: it cannot be read, names an unknown limit, or asks for nonsense.
    """
    table = read_toml(path)
    names = [field.name for field in dataclasses.fields(Thresholds)]
    table.allow(*names)
    given = {name: table.number(name, *_range(name)) for name in names}
    thresholds = Thresholds(**{name: value for name, value in given.items() if value is not None})
    for lower, upper in (
        ("min_trunk_lean_deg", "max_trunk_lean_deg"),
        ("upright_knee_bend_deg", "min_knee_bend_deg"),
        ("upright_trunk_lean_deg", "max_trunk_lean_deg"),
        ("min_heading_deg", "max_heading_deg"),
    ):
        _in_order(table, thresholds, lower, upper)
    return thresholds


def _range(name: str) -> tuple[float, float]:
    return next(limits for ending, limits in _RANGES.items() if name.endswith(f"_{ending}"))


def _in_order(table: TomlTable, thresholds: Thresholds, lower: str, upper: str) -> None:
    low, high = getattr(thresholds, lower), getattr(thresholds, upper)
    if low > high:
        table.refuse(
            lower,
            f"is {low:g}, above {upper} which is {high:g}",
            "no rep could be right by both; lower the one or raise the other",
        )
