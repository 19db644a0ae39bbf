"""What to film otherwise, so that a rule left open can be called next time.

Advice comes from what was measured: from what the film's grade found wanting, or from the reason
why a measure is missing. Where neither says so, better film would not help, and nothing is advised.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from posecheck.filming.quality import Aspect, FilmQuality, Grade, Graded
from posecheck.filming.slow_part import PLAYS_SLOW
from posecheck.ground.ground import FROM_PLAYERS
from posecheck.maths.units import Units
from posecheck.measures.figures import in_units
from posecheck.measures.measure import Measure
from posecheck.measures.of_rep import LOST_BEFORE, NO_ARRIVAL
from posecheck.measures.of_run import (
    ATTACKER_LOST,
    NO_ATTACKER,
    NO_SIDES,
    NO_START,
    NO_TARGET,
    NOT_TOGETHER,
    OUT_OF_SIGHT,
    PEAK_UNSEEN,
    START_UNSEEN,
)
from posecheck.measures.quantities import QUANTITY, ReadFrom

_BOTH_IN_VIEW = "Keep both players in the picture until a second after he arrives."
_FROM_THE_START = "Start filming before he leaves the inside."

MARK_POINTS = (
    "Distances come from the players' height; marking four or more known points of the field "
    "(posecheck points) would narrow it."
)

_FOR_REASON = {
    NO_ARRIVAL: _BOTH_IN_VIEW,
    LOST_BEFORE: _BOTH_IN_VIEW,
    NO_ATTACKER: _BOTH_IN_VIEW,
    NOT_TOGETHER: _BOTH_IN_VIEW,
    ATTACKER_LOST: _BOTH_IN_VIEW,
    NO_TARGET: "Keep the attacker in the picture, or name the clip's spot in practice.toml.",
    NO_SIDES: "Mark the goal among the known points (posecheck points).",
    OUT_OF_SIGHT: "Keep him in the picture from his first step to a second after he arrives.",
    PEAK_UNSEEN: _FROM_THE_START,
    START_UNSEEN: _FROM_THE_START,
    NO_START: _FROM_THE_START,
}


def advice(
    keys: Iterable[str], measures: Mapping[str, Measure], film: FilmQuality, units: Units
) -> str:
    """The one change of filming that would help to call what is open; empty when none would.

    Args:
        keys: of the measures that leave it open, the one that matters most first.
        measures: by key.
        film: how good the film of the rep is.
        units: in which lengths are written.
    """
    found = (_for_one(measures[key], film) for key in keys)
    return in_units(next((each for each in found if each), ""), units)


def _for_one(measure: Measure, film: FilmQuality) -> str:
    stance = QUANTITY[measure.key].read_from is ReadFrom.STANCE
    if measure.value is None:
        worst = next(iter(film.limits), None)
        if worst is not None and worst.grade is Grade.TOO_POOR:
            return worst.fix
        if measure.missing_because == PLAYS_SLOW:
            slow = (each.fix for each in film.limits if each.aspect is Aspect.SLOW_PART)
            return next(slow, "")
        return _FOR_REASON.get(measure.missing_because or "", "")
    if not stance and FROM_PLAYERS in measure.read_from:
        return MARK_POINTS
    # The height of the phone says how well places are seen, all else how well a body is.
    own = [each for each in film.limits if (each.aspect is Aspect.HEIGHT) is not stance]
    return _narrower(own[0]) if own else ""


def _narrower(limit: Graded) -> str:
    return f"The film is {limit.grade} ({limit.found}), better film would narrow it. {limit.fix}"
