"""How likely faults are there, given what was measured, as one limit moves.

What a coach says of several rules is taken together, since they look at the same measures: who
broke down late did not stay high.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Mapping
from functools import cache

from posecheck.judging.asked import Asked
from posecheck.judging.odds import Part, Term, chance
from posecheck.judging.rules import AllOf, AnyOf, Condition, Fault, rules
from posecheck.judging.thresholds import Thresholds
from posecheck.measures.measure import Measure

_STEP = 0.25
"""By how much a limit is moved to see which faults go with it; an exact binary fraction.

Source: definition
"""

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
        rule: _moving(here[rule], there[rule], stands)
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
    for rule in rules(limits, asked):
        if rule.key not in moved and not isinstance(rule.condition, str):
            none *= 1 - chance(rule.condition, measures)[1]
    return 1 - none


def _moving(here: Condition | str, there: Condition | str, stands: float) -> Moving:
    """The terms of a condition, from it with the limit where it stands and one step on."""
    match here, there:
        case Fault(), Fault():
            slope = round((there.limit - here.limit) / _STEP)
            return ((Part(dataclasses.replace(here, limit=here.limit - slope * stands), slope),),)
        case AnyOf(ours), AnyOf(theirs):
            pairs = zip(ours, theirs, strict=True)
            return tuple(itertools.chain(*(_moving(a, b, stands) for a, b in pairs)))
        case AllOf(ours), AllOf(theirs):
            each = [_moving(a, b, stands) for a, b in zip(ours, theirs, strict=True)]
            return tuple(tuple(itertools.chain(*some)) for some in itertools.product(*each))
    raise AssertionError("a rule's condition has one form whatever its limits")
