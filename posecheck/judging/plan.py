"""Which side of the attacker a defender took, whether the plan asked for it, and how often.

On plan means: at arrival he stands at least half a body to the side that is to be taken away
(``min_side_offset_m``). Giving both ways is off every plan. How often a team keeps
to its plan is the figure that lets everyone else react: help can only be where the ball is sent.
Common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from posecheck.judging.asked import Asked, right_shoulder
from posecheck.judging.rules import Fault
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, fault_call, fault_words
from posecheck.maths.shares import share_interval
from posecheck.measures.figures import in_units
from posecheck.measures.measure import Measure
from posecheck.practice.layout import Side
from posecheck.practice.plan import Plan

OFFSET = "approach_offset_m"

NO_SPOT = "not stated"

WORD = {Call.CLEAR: "on plan", Call.FLAGGED: "off plan", Call.CANT_TELL: "can't tell"}


@dataclass(frozen=True)
class SideTaken:
    """Where a defender arrived, against the plan.

    Attributes:
        call: clear is on plan, flagged is off it.
        words: one sentence, with the shoulder taken away and the one given.
    """

    call: Call
    words: str


@dataclass(frozen=True)
class Kept:
    """How often the plan of a spot was kept.

    Attributes:
        spot: its name, or "all".
        plan: what it asks for, None where that differs or is not known.
        on, off, open: reps on plan, off it, and those with the side or the wanted side unknown.
    """

    spot: str
    plan: Plan | None
    on: int
    off: int
    open: int

    @property
    def known(self) -> int:
        """Reps known to be on plan or off it."""
        return self.on + self.off

    @property
    def share(self) -> tuple[float, float] | None:
        """90 % interval of the share on plan among the known reps, None when there are none.

        For the share as it would come out over many reps like these.
        """
        return share_interval(self.on, self.known)


def side_taken(measures: Mapping[str, Measure], thresholds: Thresholds, asked: Asked) -> SideTaken:
    """The side a defender took, as a call and a sentence.

    Arguments as for :func:`posecheck.judging.verdict.judge`.

    The shoulder is the attacker's, who faces the goal.
    """
    wanted, side = asked.wanted, asked.side
    margin = thresholds.min_side_offset_m
    if OFFSET not in measures or measures[OFFSET].value is None:
        because = measures[OFFSET].missing_because if OFFSET in measures else "not measured"
        because = in_units(because or "", asked.units)
        return SideTaken(Call.CANT_TELL, f"Can't tell which side he took: {because}.")
    taken = _taken(measures[OFFSET], margin)
    if isinstance(wanted, str):
        return SideTaken(
            Call.CANT_TELL, f"No side is asked for: {wanted}.{_shoulders(taken, side)}"
        )
    assert side is not None and asked.plan is not None  # no side is wanted without them
    plan = asked.plan.where
    fault = Fault(OFFSET, wanted * margin, wanted > 0, "")
    call = fault_call(fault, measures)
    if call is Call.CANT_TELL:
        return SideTaken(
            call,
            f"Can't tell whether on plan ({plan}): {fault_words(fault, measures, asked.units)}.",
        )
    start = f"{WORD[call].capitalize()} ({plan})."
    if taken is None:
        return SideTaken(
            call, f"{start} He did not take away the attacker's {_shoulder(wanted, side)}."
        )
    return SideTaken(call, start + _shoulders(taken, side))


def kept(plan: Mapping[str, Plan], sides: Iterable[tuple[str | None, Call]]) -> tuple[Kept, ...]:
    """How often the plan was kept, by spot.

    Args:
        plan: by spot.
        sides: spot and call of every rep.

    Returns:
        One for each spot of the plan that holds a rep, in the plan's order, then one for reps
        whose spot is not stated. Reps at spots without a plan count nowhere.
    """
    counts: dict[str, Counter[Call]] = {spot: Counter() for spot in (*plan, NO_SPOT)}
    for spot, call in sides:
        if plan and (spot is None or spot in plan):
            counts[spot or NO_SPOT][call] += 1
    return tuple(
        Kept(spot, plan.get(spot), each[Call.CLEAR], each[Call.FLAGGED], each[Call.CANT_TELL])
        for spot, each in counts.items()
        if each.total()
    )


def total(rows: Iterable[Kept]) -> Kept:
    """All spots together."""
    on, off, open_ = (
        sum(each) for each in zip(*((r.on, r.off, r.open) for r in rows), strict=True)
    )
    return Kept("all", None, on, off, open_)


def share_words(row: Kept) -> str:
    """Between what the share lies, "46 to 95 %"; empty when no rep is known.

    To stand beside the counts: there is no percentage without them.
    """
    if row.share is None:
        return ""
    low, high = (f"{100 * edge:.0f}" for edge in row.share)
    return f"{low} to {high} %"


def _taken(offset: Measure, margin: float) -> int | None:
    """+1 topside, -1 the alley side, 0 neither; None when the interval reaches across."""
    assert offset.low is not None and offset.high is not None
    if offset.low >= margin:
        return 1
    if offset.high <= -margin:
        return -1
    return 0 if -margin < offset.low and offset.high < margin else None


def _shoulders(taken: int | None, side: Side | None) -> str:
    if taken is None or side is None:
        return ""
    if taken == 0:
        return " He gave both ways."
    away, given = _shoulder(taken, side), _shoulder(-taken, side)
    return f" He took away the attacker's {away} and gave the {given}."


def _shoulder(sign: int, side: Side) -> str:
    if side is Side.MIDDLE:
        where = "on the defender's " + ("right" if sign > 0 else "left")
    else:
        where = "topside" if sign > 0 else "the alley side"
    return f"{'right' if sign == right_shoulder(side) else 'left'} shoulder ({where})"
