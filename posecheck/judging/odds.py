"""How likely faults are there, given what was measured.

A measure's interval is taken at its word: the truth lies about the value, as the halves of two
normal distributions reach to the interval's ends, each measure by itself.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from posecheck.judging.rules import AllOf, AnyOf, Condition, Fault
from posecheck.maths.arrays import FloatArray
from posecheck.maths.shares import SDS_ACROSS_LEVEL
from posecheck.measures.measure import Measure

_SHARP = 1e-9
"""Spread of a measure that is known exactly.

Source: definition
"""

_STILL_GOOD = 1e-6
"""A limit itself is still good, and so is a measure that is known exactly and stands on it.

Source: definition
"""


@dataclass(frozen=True)
class Part:
    """One fault.

    Attributes:
        fault: its limit where the moving limit stands at 0.
        slope: +1 or -1 when it moves with that limit, 0 when it does not.
    """

    fault: Fault
    slope: int = 0


Term = tuple[Part, ...]
"""Faults that are there together."""


def chance(condition: Condition, measures: Mapping[str, Measure]) -> tuple[float, float]:
    """Least and greatest chance of a condition; the same where none of its measures is missing."""
    any_of = terms(condition)
    least, greatest = 0.0, 0.0
    for sign, together in _combinations(any_of):
        of_all, missing = 1.0, False
        for key, (over, under) in _between(together).items():
            if measures[key].value is None:
                missing = True
            else:
                # Numbers, not arrays: a season is judged in a second.
                measure = measures[key]
                of_all *= max(_under(measure, under) - _under(measure, over), 0.0)
        least += 0.0 if missing else sign * of_all
        greatest += sign * of_all
    return least, greatest


@dataclass(frozen=True)
class Odds:
    """One rep's measures against a moving limit.

    Attributes:
        measures: by key.
        limit: values of the moving limit.
        blur: standard deviation of a coach's own limit about it, in its units; shapes broadcast.
        if_missing: True when a fault whose measure is missing counts as there.
    """

    measures: Mapping[str, Measure]
    limit: FloatArray
    blur: FloatArray
    if_missing: bool = False

    def of_any(self, any_of: Sequence[Term]) -> FloatArray:
        """Chance that at least one term is there."""
        chance = np.zeros(np.broadcast_shapes(self.limit.shape, self.blur.shape))
        for sign, together in _combinations(any_of):
            chance += sign * self._of_all(together)
        return chance

    def _of_all(self, parts: Sequence[Part]) -> FloatArray:
        by_key: dict[str, list[Part]] = {}
        for part in parts:
            by_key.setdefault(part.fault.key, []).append(part)
        chance: FloatArray = np.ones(())
        for key, own in by_key.items():
            measure = self.measures[key]
            if measure.value is None:
                chance = chance * float(self.if_missing)
                continue
            blur = self.blur if any(part.slope for part in own) else np.zeros(())
            over, under = np.array(-np.inf), np.array(np.inf)
            for part in own:
                edge = part.fault.limit + part.slope * self.limit
                if part.fault.below:
                    under = np.minimum(under, edge - _STILL_GOOD)
                else:
                    over = np.maximum(over, edge + _STILL_GOOD)
            between = _blurred_under(measure, under, blur) - _blurred_under(measure, over, blur)
            chance = chance * np.maximum(between, 0.0)
        return chance


def _combinations(any_of: Sequence[Term]) -> Iterator[tuple[int, tuple[Part, ...]]]:
    """What is added and taken away again, by inclusion and exclusion, for the chance of any."""
    for size in range(1, len(any_of) + 1):
        for some in itertools.combinations(any_of, size):
            yield (-1) ** (size + 1), tuple(itertools.chain(*some))


def _between(parts: Sequence[Part]) -> dict[str, tuple[float, float]]:
    """By measure between what and what it is where all faults are there."""
    edges: dict[str, tuple[float, float]] = {}
    for part in parts:
        over, under = edges.get(part.fault.key, (-math.inf, math.inf))
        if part.fault.below:
            under = min(under, part.fault.limit - _STILL_GOOD)
        else:
            over = max(over, part.fault.limit + _STILL_GOOD)
        edges[part.fault.key] = over, under
    return edges


def _spreads(measure: Measure) -> tuple[float, float]:
    """Standard deviations of the halves below and above the value."""
    assert measure.value is not None and measure.low is not None and measure.high is not None
    halves = (measure.value - measure.low, measure.high - measure.value)
    below, above = (max(half / (SDS_ACROSS_LEVEL / 2), _SHARP) for half in halves)
    return below, above


def _under(measure: Measure, edge: float) -> float:
    """Chance that the truth is less than an edge."""
    assert measure.value is not None
    off = edge - measure.value
    below, above = _spreads(measure)
    return math.erfc(-off / (below if off < 0 else above) / math.sqrt(2)) / 2


def _blurred_under(measure: Measure, edge: FloatArray, blur: FloatArray) -> FloatArray:
    """The same of edges that are known to a standard deviation."""
    from scipy.special import ndtr

    assert measure.value is not None
    off = edge - measure.value
    below, above = (np.hypot(each, blur) for each in _spreads(measure))
    return np.asarray(ndtr(np.where(off < 0, off / below, off / above)), np.float64)


@cache
def terms(condition: Condition) -> tuple[Term, ...]:
    """The terms of which one is enough."""
    match condition:
        case Fault():
            return ((Part(condition),),)
        case AnyOf(parts):
            return tuple(itertools.chain(*map(terms, parts)))
        case AllOf(parts):
            together = itertools.product(*map(terms, parts))
            return tuple(tuple(itertools.chain(*some)) for some in together)
