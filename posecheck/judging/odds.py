"""How likely faults are there, given what was measured.

A measure's interval is taken at its word: the truth lies about the value, as the halves of two
normal distributions reach to the interval's ends, each measure by itself.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

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
    still = np.zeros(())
    without, with_it = (
        float(Odds(measures, still, still, there).of_any(any_of)) for there in (False, True)
    )
    return without, with_it


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

    def of_any(self, terms: Sequence[Term]) -> FloatArray:
        """Chance that at least one term is there, by inclusion and exclusion."""
        chance = np.zeros(np.broadcast_shapes(self.limit.shape, self.blur.shape))
        for size in range(1, len(terms) + 1):
            for some in itertools.combinations(terms, size):
                chance += (-1) ** (size + 1) * self._of_all(itertools.chain(*some))
        return chance

    def _of_all(self, parts: Iterable[Part]) -> FloatArray:
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
            between = _chance_under(measure, under, blur) - _chance_under(measure, over, blur)
            chance = chance * np.maximum(between, 0.0)
        return chance


def _chance_under(measure: Measure, edge: FloatArray, blur: FloatArray) -> FloatArray:
    """Chance that the truth is less than an edge."""
    from scipy.special import ndtr

    assert measure.value is not None and measure.low is not None and measure.high is not None
    off = edge - measure.value
    half = np.where(off < 0, measure.value - measure.low, measure.high - measure.value)
    spread = np.maximum(half / (SDS_ACROSS_LEVEL / 2), _SHARP)
    return np.asarray(ndtr(off / np.hypot(spread, blur)), np.float64)


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
