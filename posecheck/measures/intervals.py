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

from posecheck.filming.look import NOT_LOOKED, Look
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

MAX_BLUR = 0.05
"""Wider edges than this, in heights of the player, and nothing is said of his stance.

Found on sample clips blurred by known kernels (models/FILM_CARD.md): as filmed edges are 0.01 wide;
at 0.04 knees come out 4 degrees too straight; beyond 0.05 single reps shift by as much as their
error bar, and some are read wrong by far with legs the pose model is sure of.
"""
MAX_BURNT = 0.3
"""More of the player burnt out than this, and nothing is said of his stance.

Found likewise: up to 0.1 knee bend is off as before, from 0.25 on by twice as much.
"""
MIN_LIGHT = 0.02
"""A player darker than this, of 1, and nothing is said of his stance.

Found likewise: down to 0.03 knee bend is off as before, at 0.02 half of all frames are lost.
"""
MIN_RATE_HZ = 10.0
"""Fewer frames a second than this, and nothing is said of a rep.

Found on the sample clips with frames left out: down to 10 a second every error bar holds as with
30, at 7.5 that of the braking distance holds the truth in 7 reps of 13.
"""

Side = Literal["front", "side", "behind"]
SIDES: tuple[Side, ...] = ("front", "side", "behind")
FRONT_TO_DEG, SIDE_TO_DEG = 45.0, 105.0
"""Views up to these, 0 from the front and 180 from behind. Seen from the side a leg shows its bend
in the picture, and readings come closer than the room that the stance net leaves."""

_VIEWS = (
    "from the front",
    "at a slant from the front",
    "side-on",
    "at a slant from behind",
    "from behind",
)


@dataclass(frozen=True)
class Conditions:
    """What is known of a stance reading when it is made.

    Attributes:
        view_deg: 0 seen from the front, 90 side-on, 180 from behind.
        height_px: the player's height in the picture.
        score: mean chance that hips, knees and ankles are seen.
        seen: frames of the window in which the stance was seen.
        of: frames the window should hold.
        look: how the player looks in the picture, over the window.
    """

    view_deg: float
    height_px: float
    score: float
    seen: int
    of: int
    look: Look = NOT_LOOKED

    @property
    def described(self) -> str:
        """For the page: "13 of 13 frames, 240 px tall, seen side-on"."""
        tall = f"{self.height_px:.0f} px tall"
        return f"{self.seen} of {self.of} frames, {tall}, seen {self.view_words}"

    @property
    def seen_from(self) -> Side:
        """Which side of him the camera sees, as error bars are told apart by it."""
        if self.view_deg < FRONT_TO_DEG:
            return "front"
        return "side" if self.view_deg < SIDE_TO_DEG else "behind"

    @property
    def view_words(self) -> str:
        """Where the camera stood, as in "side-on"."""
        return _VIEWS[min(int((self.view_deg + 22.5) // 45), 4)]


@dataclass(frozen=True)
class StanceReading:
    """What is read of a stance over a window of time.

    Attributes:
        value: the median of what is read in its frames.
        below, above: medians of how far the truth may lie below and above it, frame by frame.
        conditions: under which it was read.
    """

    value: float
    below: float
    above: float
    conditions: Conditions


@dataclass(frozen=True)
class Spread:
    """Error bars carried over from the ground: half = factor * sqrt(floor² + sd²)."""

    factor: float
    floor: float


@dataclass(frozen=True)
class Intervals:
    """All error bars.

    Attributes:
        min_height_px, min_seen_share, min_score: below these nothing is said of a stance.
        stance: by measure and side seen, factors for the room that the stance net leaves below
            and above.
        ground: by measure and source of metres.
    """

    min_height_px: float
    min_seen_share: float
    min_score: float
    stance: Mapping[str, Mapping[Side, Sequence[float]]]
    ground: Mapping[str, Mapping[str, Spread]]

    def unfit(self, conditions: Conditions) -> str | None:
        """Why nothing can be said of a stance under these conditions, None when something can."""
        c = conditions
        if c.seen < self.min_seen_share * c.of or not c.seen:
            return f"the defender is seen in only {c.seen} of the {c.of} frames around it"
        if c.height_px < self.min_height_px:
            return (
                f"the defender is only {c.height_px:.0f} px tall in the picture, "
                f"{self.min_height_px:.0f} are needed"
            )
        if not c.score >= self.min_score:
            return "hips, knees and ankles are too hidden or blurred"
        if c.look.blur > MAX_BLUR:
            return (
                f"the defender is blurred: his edges are {c.look.blur:.0%} of his height wide, "
                f"{MAX_BLUR:.0%} is the most"
            )
        if c.look.burnt > MAX_BURNT:
            return f"{c.look.burnt:.0%} of the defender is burnt out, {MAX_BURNT:.0%} is the most"
        if c.look.light < MIN_LIGHT:
            return "the defender is too dark in the picture"
        return None

    def stance_measure(self, key: str, reading: StanceReading) -> Measure:
        """The measure for a stance reading, missing with the reason when film cannot show it."""
        because = self.unfit(reading.conditions)
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
        **table["limits"],
        stance=table["stance"],
        ground={
            key: {source: Spread(**spread) for source, spread in entry.items()}
            for key, entry in table["ground"].items()
        },
    )
