"""From readings to measures: 90 % intervals by what is known of the film.

How far a stance may be off in one picture comes with the reading, from the stance net; places on
the ground bring a standard deviation. By how much to lengthen or shorten that stands in
``intervals.toml``; here is how it is applied. Where it is not sure at which moment a stance is to
be read, its interval is that of a mixture of what is read at each of them.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal

from posecheck.filming.conditions import Group, StanceReading
from posecheck.filming.limits import unfit
from posecheck.filming.tuning import MOST_APART
from posecheck.maths.shares import LEVEL
from posecheck.measures.figures import digits, figure
from posecheck.measures.measure import Measure, missing
from posecheck.measures.quantities import QUANTITY
from posecheck.measures.tuning import BY_SIDE, HIDDEN_OFF, LATER_OFF, SURER_WITH_POINTS

Source = Literal["marks", "players"]
"""Where metres come from: points marked in the picture, or the players alone."""

TAIL = (1 - LEVEL) / 2
"""Share of cases in which the truth lies beyond one end of an interval.

Source: definition
"""


@dataclass(frozen=True)
class GroundReading:
    """What is read of a quantity from places on the ground.

    Attributes:
        value: as read, in the quantity's unit; NaN when the player was not seen for part of it.
        sd: standard deviation carried over from the ground track, same unit.
        unseen_below, unseen_above: how much less and how much more it may be because the film
            does not show the rest.
    """

    value: float
    sd: float
    unseen_below: float = 0.0
    unseen_above: float = 0.0


@dataclass(frozen=True)
class Elsewhen:
    """What is read of a stance at another moment at which it may have to be read.

    Attributes:
        weight: how likely that moment is, where the moment of the reading itself counts 1.
        reading: at that moment.
    """

    weight: float
    reading: StanceReading


NEVER_OFF = (0.0, 0.0)
"""Nothing below and nothing above, beside what the margins of the stance net say.

Source: definition
"""


@dataclass(frozen=True)
class Spread:
    """Error bars carried over from the ground: half = factor * sqrt(floor² + sd²)."""

    factor: float
    floor: float


@dataclass(frozen=True)
class Intervals:
    """All error bars.

    Attributes:
        stance: by quantity, side seen and legs, factors for the distances below and above a
            reading that the stance net gives.
        ground: by quantity and source of metres.
    """

    stance: Mapping[str, Mapping[Group, Sequence[float]]]
    ground: Mapping[str, Mapping[str, Spread]]

    def stance_measure(
        self,
        key: str,
        reading: StanceReading,
        elsewhen: Sequence[Elsewhen] = (),
        *,
        source: Source = "players",
    ) -> Measure:
        """The measure for a stance reading, missing with the reason when film cannot show it.

        Args:
            key: of the quantity.
            reading: of the stance.
            elsewhen: what is read at the other moments at which it may have to be read; those that
                film cannot show are left out.
            source: where metres come from, and with them the camera that the stance is read by.
        """
        because = unfit(reading.conditions)
        if because is None and reading.apart > MOST_APART:
            because = "two independent readings of it contradict each other"
        if because is not None:
            return missing(key, because)
        base, read = QUANTITY[key].base, reading.value
        surer = SURER_WITH_POINTS.get(key, 1.0) if source == "marks" else 1.0
        later_off, hidden_off = LATER_OFF.get(key, NEVER_OFF), HIDDEN_OFF[base]
        parts = [
            _part(each, self._factors(key, each.reading, surer), later_off, hidden_off)
            for each in (Elsewhen(1.0, reading), *elsewhen)
            if unfit(each.reading.conditions) is None
        ]
        low, high = _ends(parts)
        return _measure(key, read, min(low, read), max(high, read), reading.conditions.described)

    def _factors(self, key: str, reading: StanceReading, surer: float) -> tuple[float, float]:
        seen = reading.conditions
        below, above = self.stance[QUANTITY[key].base][seen.group]
        asked = surer * BY_SIDE.get(key, {}).get(seen.seen_from, 1.0)
        return asked * below, asked * above

    def ground_measure(
        self,
        key: str,
        reading: GroundReading,
        source: Source,
        read_from: str,
    ) -> Measure:
        """The measure for a reading from ground positions.

        Args:
            key: of the quantity.
            reading: its value must be a number.
            source: where metres come from.
            read_from: for the page.
        """
        spread, value = self.ground[QUANTITY[key].base][source], reading.value
        half = spread.factor * math.hypot(spread.floor, reading.sd)
        low, high = value - half - reading.unseen_below, value + half + reading.unseen_above
        return _measure(key, value, low, high, read_from)


@dataclass(frozen=True)
class _Part:
    """One reading as part of a mixture: a normal law with a spread of its own on either side.

    Attributes:
        weight: how likely it is beside the others.
        value: as read.
        low, high: its 90 % interval.
    """

    weight: float
    value: float
    low: float
    high: float

    def share_below(self, value: float) -> float:
        """Probability that the truth is below a value."""
        from scipy.special import ndtr, ndtri

        half = self.value - self.low if value < self.value else self.high - self.value
        if half <= 0:
            return float(value >= self.value)
        return float(ndtr((value - self.value) / half * ndtri(1 - TAIL)))


def _part(
    one: Elsewhen,
    factors: Sequence[float],
    later_off: Sequence[float],
    hidden_off: Sequence[float],
) -> _Part:
    read = one.reading
    hidden_off = hidden_off if read.conditions.hidden else NEVER_OFF
    below = math.hypot(factors[0] * read.below, later_off[0], hidden_off[0])
    above = math.hypot(factors[1] * read.above, later_off[1], hidden_off[1])
    return _Part(one.weight, read.value, read.value - below, read.value + above)


def _ends(parts: Sequence[_Part]) -> tuple[float, float]:
    """Ends of the 90 % interval of a mixture: its 5 % and 95 % quantiles."""
    from scipy.optimize import brentq

    first, last = min(part.low for part in parts), max(part.high for part in parts)
    if len(parts) == 1 or first == last:
        return first, last
    whole = sum(part.weight for part in parts)

    def beyond(value: float, level: float) -> float:
        return sum(part.weight * part.share_below(value) for part in parts) / whole - level

    # No part has more than 5 % below its own low end, so nor has the mixture below the lowest.
    apart = last - first
    within = first - apart, last + apart
    low, high = (brentq(beyond, *within, args=(level,)) for level in (TAIL, 1 - TAIL))
    return float(low), float(high)


def _measure(key: str, value: float, low: float, high: float, read_from: str) -> Measure:
    quantity = QUANTITY[key]
    least = -math.inf if quantity.signed else 0.0
    value, low, high = (max(least, each) for each in (value, low, high))
    first, last = quantity.plausible
    low, high = max(low, first), min(high, last)
    if not first <= value <= last:
        return missing(
            key,
            f"the film reads {figure(key, value)}, and no player is outside "
            f"{digits(key, first)} to {figure(key, last)}",
        )
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
