"""How likely faults are there, given what was measured, as one limit moves.

A measure's interval is taken at its word: the truth lies about the value with the normal spread
that the interval states, each measure by itself. What a coach says of several rules is taken
together, since they look at the same measures: who broke down late did not stay high.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from posecheck.judging.asked import Asked
from posecheck.judging.rules import AllOf, AnyOf, Condition, Fault, rules
from posecheck.judging.thresholds import Thresholds
from posecheck.maths.arrays import FloatArray
from posecheck.maths.shares import SDS_ACROSS_LEVEL
from posecheck.measures.measure import Measure

_STEP = 0.25
"""By how much a limit is moved to see which faults go with it; an exact binary fraction.

Source: definition
"""

_SHARP = 1e-9
"""Spread of a measure that is known exactly.

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
    slope: int


Term = tuple[Part, ...]
"""Faults that are there together."""

Moving = tuple[Term, ...]
"""A rule's condition as one limit moves: the terms of which one is enough."""


@cache
def moving(limits: Thresholds, name: str, asked: Asked) -> dict[str, Moving]:
    """The conditions of the rules that one limit takes part in, by rule.

    Args:
        limits: all others as they stand.
        name: of the limit that moves.
        asked: which side is wanted.
    """
    stands = getattr(limits, name)
    moved = dataclasses.replace(limits, **{name: stands + _STEP})
    here, there = (
        {rule.key: rule.condition for rule in rules(each, asked)} for each in (limits, moved)
    )
    return {
        rule: _terms(here[rule], there[rule], stands)
        for rule in here
        if here[rule] != there[rule] and not isinstance(here[rule], str)
    }


def crossings(condition: Moving, measures: Mapping[str, Measure]) -> list[float]:
    """Where the moving limit would stand just at each measure that it looks at."""
    found = []
    for part in itertools.chain(*condition):
        value = measures[part.fault.key].value
        if part.slope and value is not None:
            found.append((value - part.fault.limit) / part.slope)
    return found


def chance_of_others(
    limits: Thresholds, name: str, asked: Asked, measures: Mapping[str, Measure]
) -> float:
    """Chance of a fault by any rule in which a limit takes no part; a missing measure makes it 1.

    Arguments as for :func:`moving`.
    """
    moved, none = moving(limits, name, asked), 1.0
    stays = Odds(measures, np.zeros(()), np.zeros(()), if_missing=True)
    for rule in rules(limits, asked):
        if rule.key not in moved and not isinstance(rule.condition, str):
            terms = _terms(rule.condition, rule.condition, 0.0)
            none *= 1 - float(stays.of_any(terms))
    return 1 - none


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

    def _of_all(self, parts: itertools.chain[Part]) -> FloatArray:
        from scipy.special import ndtr

        by_key: dict[str, list[Part]] = {}
        for part in parts:
            by_key.setdefault(part.fault.key, []).append(part)
        chance: FloatArray = np.ones(())
        for key, own in by_key.items():
            measure = self.measures[key]
            if measure.value is None or measure.low is None or measure.high is None:
                chance = chance * float(self.if_missing)
                continue
            spread = max((measure.high - measure.low) / SDS_ACROSS_LEVEL, _SHARP)
            blur = self.blur if any(part.slope for part in own) else 0.0
            over, under = np.array(-np.inf), np.array(np.inf)
            for part in own:
                edge = part.fault.limit + part.slope * self.limit
                if part.fault.below:
                    under = np.minimum(under, edge)
                else:
                    over = np.maximum(over, edge)
            reach = np.hypot(spread, blur)
            between = ndtr((under - measure.value) / reach) - ndtr((over - measure.value) / reach)
            chance = chance * np.maximum(between, 0.0)
        return chance


def _terms(here: Condition | str, there: Condition | str, stands: float) -> Moving:
    """The terms of a condition, from it with the limit where it stands and one step on."""
    match here, there:
        case Fault(), Fault():
            slope = round((there.limit - here.limit) / _STEP)
            return ((Part(dataclasses.replace(here, limit=here.limit - slope * stands), slope),),)
        case AnyOf(ours), AnyOf(theirs):
            pairs = zip(ours, theirs, strict=True)
            return tuple(itertools.chain(*(_terms(a, b, stands) for a, b in pairs)))
        case AllOf(ours), AllOf(theirs):
            each = [_terms(a, b, stands) for a, b in zip(ours, theirs, strict=True)]
            return tuple(tuple(itertools.chain(*some)) for some in itertools.product(*each))
    raise AssertionError("a rule's condition has one form whatever its limits")
