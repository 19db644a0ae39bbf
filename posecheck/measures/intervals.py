"""Error bars: from what is known of the film at run time to 90 % intervals.

How far a stance may be off in one picture comes with the reading, from the stance net; places on
the ground bring a standard deviation. By how much to lengthen or shorten that stands in
``intervals.toml``; here is how it is applied.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal

from posecheck.filming.conditions import Side, StanceReading
from posecheck.filming.limits import unfit
from posecheck.measures.measure import Measure, missing

SIGNED = frozenset(
    {
        *("hip_drop", "hand_reach", "hand_height"),
        *("approach_offset_m", "bow_m", "heading_deg", "goal_side_m", "attacker_went_m"),
    }
)
"""Measures that may be negative; the others, and their intervals, end at 0."""

SAME_AS = {"late_knee_bend_deg": "knee_bend_deg"}
"""Measures read in the same way as another share its error bars."""


@dataclass(frozen=True)
class Spread:
    """Error bars carried over from the ground: half = factor * sqrt(floor² + sd²)."""

    factor: float
    floor: float


@dataclass(frozen=True)
class Intervals:
    """All error bars.

    Attributes:
        stance: by measure and side seen, factors for the room that the stance net leaves below
            and above.
        ground: by measure and source of metres.
    """

    stance: Mapping[str, Mapping[Side, Sequence[float]]]
    ground: Mapping[str, Mapping[str, Spread]]

    def stance_measure(self, key: str, reading: StanceReading) -> Measure:
        """The measure for a stance reading, missing with the reason when film cannot show it."""
        because = unfit(reading.conditions)
        if because is not None:
            return missing(key, because)
        factors, read = self.stance[SAME_AS.get(key, key)], reading.value
        below, above = factors[reading.conditions.seen_from]
        low, high = read - below * reading.below, read + above * reading.above
        return _measure(key, read, low, high, reading.conditions.described)

    def ground_measure(
        self,
        key: str,
        value: float,
        sd: float,
        source: Literal["marks", "players"],
        read_from: str,
        *,
        unseen: float = 0.0,
    ) -> Measure:
        """The measure for a reading from ground positions.

        Args:
            key: of the measure.
            value: as read.
            sd: standard deviation carried over from the ground track.
            source: where metres come from.
            read_from: for the page.
            unseen: how much more it may be because the film does not show the rest.
        """
        spread = self.ground[key][source]
        half = spread.factor * math.hypot(spread.floor, sd)
        return _measure(key, value, value - half, value + half + unseen, read_from)


def _measure(key: str, value: float, low: float, high: float, read_from: str) -> Measure:
    least = -math.inf if key in SIGNED else 0.0
    value, low, high = (max(least, each) for each in (value, low, high))
    return Measure(key, value, low, high, read_from)


@cache
def default_intervals() -> Intervals:
    """The error bars that come with posecheck."""
    text = resources.files("posecheck.measures").joinpath("intervals.toml").read_text("utf-8")
    return parse_intervals(tomllib.loads(text))


def parse_intervals(table: Mapping[str, Any]) -> Intervals:
    """Error bars from the tables of ``intervals.toml``."""
    return Intervals(
        stance=table["stance"],
        ground={
            key: {source: Spread(**spread) for source, spread in entry.items()}
            for key, entry in table["ground"].items()
        },
    )
