"""From measures and thresholds to what is said of a rep.

Nothing here looks at film: a season can be judged again in seconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import reduce
from statistics import NormalDist

from posecheck.filming.quality import NOT_GRADED, FilmQuality
from posecheck.judging.advice import advice
from posecheck.judging.asked import Asked
from posecheck.judging.odds import chance
from posecheck.judging.rules import AllOf, AnyOf, Condition, Fault, Rule, faults_of, rules
from posecheck.judging.thresholds import Good, Thresholds
from posecheck.maths.shares import SDS_ACROSS_LEVEL
from posecheck.maths.units import Units
from posecheck.measures.figures import digits, figure, in_units, span
from posecheck.measures.measure import Measure, missing
from posecheck.measures.quantities import QUANTITY


class Call(StrEnum):
    """What can be said of one rule in one rep."""

    FLAGGED = "flagged"
    """The whole 90 % interval is on the bad side; of several measures, a fault is as sure."""
    CLEAR = "clear"
    """The whole 90 % interval is on the good side; of several measures, no fault is as sure."""
    CANT_TELL = "can't tell"
    """The interval straddles the threshold, or the film does not show it."""


@dataclass(frozen=True)
class Finding:
    """One rule's result.

    Attributes:
        rule: key of the rule ("upright_run_out", "hands_in", ...).
        call: flagged, clear or can't tell.
        reason: with the numbers and thresholds it rests on.
        fix: for a flagged rule what to work on; for can't tell the change of filming that would
            help to settle it, said once in a rep; empty when clear, or when nothing would help.
    """

    rule: str
    call: Call
    reason: str
    fix: str


@dataclass(frozen=True)
class Verdict:
    """All findings of a rep.

    Attributes:
        call: of the rep as a whole.
        headline: the sentence shown first.
        findings: one for each rule, most serious first.
    """

    call: Call
    headline: str
    findings: tuple[Finding, ...]

    @property
    def advice(self) -> str:
        """The change of filming that would help a *can't tell* rep; empty when none."""
        if self.call is not Call.CANT_TELL:
            return ""
        return next((f.fix for f in self.findings if f.call is Call.CANT_TELL), "")

    @property
    def flags(self) -> tuple[Finding, ...]:
        """The flagged findings, most serious first."""
        return tuple(finding for finding in self.findings if finding.call is Call.FLAGGED)


STATE_THE_PLAN = (
    "State spot, plan and the attacker's strong hand in practice.toml, and in its layout the goal "
    "and the spot's cone."
)

TOO_CLOSE = "Too close to call"
CANT_TELL_WHY = "Can't tell: "

SURE = NormalDist().cdf(SDS_ACROSS_LEVEL / 2)
"""Chance beyond which a fault of several measures is there, or is not: the chance of a fault of one
whose interval ends on its limit.

Source: definition
"""

_TRACE = 1e-9
"""A chance that is no greater by more than this is the same.

Source: definition
"""

NOT_THEN = "the clip was measured before this was looked at; check it again"

# Three-valued logic (S. C. Kleene, Introduction to Metamathematics, 1952, section 64), with
# flagged for true and clear for false.


def negation(a: Call) -> Call:
    """Not: flagged and clear change places."""
    return {Call.FLAGGED: Call.CLEAR, Call.CLEAR: Call.FLAGGED}.get(a, a)


def conjunction(a: Call, b: Call) -> Call:
    """And: flagged if both are, clear if one is, whatever the other would turn out to be."""
    if Call.CLEAR in (a, b):
        return Call.CLEAR
    return Call.CANT_TELL if Call.CANT_TELL in (a, b) else Call.FLAGGED


def disjunction(a: Call, b: Call) -> Call:
    """Or: flagged if one is, clear if both are."""
    return negation(conjunction(negation(a), negation(b)))


def judge(
    measures: Mapping[str, Measure],
    thresholds: Thresholds,
    asked: Asked,
    film: FilmQuality = NOT_GRADED,
) -> Verdict:
    """Judge one rep.

    Args:
        measures: by key; a quantity that is not among them was not known when the rep was
            measured.
        thresholds: limits.
        asked: what the practice asks of the defender.
        film: how good the film is, for what to do otherwise where a rule is left open.
    """
    measures = with_every_quantity(measures)
    table = rules(thresholds, asked)
    findings = tuple(_said_once(_finding(rule, measures, film, asked.units) for rule in table))
    flagged = [
        (rule, finding)
        for rule, finding in zip(table, findings, strict=True)
        if finding.call is Call.FLAGGED
    ]
    if flagged:
        rule, finding = flagged[0]
        return Verdict(Call.FLAGGED, f"{rule.fault}: {finding.reason}", findings)
    core = [finding for rule, finding in zip(table, findings, strict=True) if rule.core]
    call = reduce(disjunction, (finding.call for finding in core))
    if call is Call.CANT_TELL:
        open_one = next(finding for finding in core if finding.call is Call.CANT_TELL)
        said = open_one.reason.startswith(TOO_CLOSE)
        return Verdict(call, f"{'' if said else CANT_TELL_WHY}{open_one.reason}", findings)
    knees = measures["knee_bend_deg"]
    assert knees.value is not None  # the core rules rest on it
    stance = f"knee bend {figure(knees.key, knees.value)} ({span(knees)})"
    return Verdict(call, f"Broken down and under control: {stance}.", findings)


def with_every_quantity(measures: Mapping[str, Measure]) -> dict[str, Measure]:
    """Measures by key; a quantity that was not known when the rep was measured is missing."""
    return {key: missing(key, NOT_THEN) for key in QUANTITY} | dict(measures)


def _finding(
    rule: Rule, measures: Mapping[str, Measure], film: FilmQuality, units: Units
) -> Finding:
    if isinstance(rule.condition, str):
        return Finding(
            rule.key,
            Call.CANT_TELL,
            _sentence(rule.condition),
            STATE_THE_PLAN,
        )
    call, faults, likely = _called(rule.condition, measures)
    words = "; ".join(dict.fromkeys(fault_words(fault, measures, units) for fault in faults))
    if likely is not None:
        words += f". Taken together a fault is {100 * likely:.0f} % likely"
    if call is not Call.CANT_TELL:
        return Finding(rule.key, call, _sentence(words), rule.fix if call is Call.FLAGGED else "")
    fix = advice((fault.key for fault in faults), measures, film, units)
    if any(measures[fault.key].value is None for fault in faults):
        return Finding(rule.key, call, _sentence(words), fix)
    return Finding(rule.key, call, f"{TOO_CLOSE}: {words}. Watch it and decide.", fix)


def _said_once(findings: Iterable[Finding]) -> Iterator[Finding]:
    """Findings with one piece of advice on filming among those left open, that of the most
    serious, and with the plan asked for once."""
    filming = plan = False
    for finding in findings:
        of_plan = finding.fix == STATE_THE_PLAN
        of_film = finding.call is Call.CANT_TELL and finding.fix != "" and not of_plan
        again = (of_film and filming) or (of_plan and plan)
        yield replace(finding, fix="") if again else finding
        filming, plan = filming or of_film, plan or of_plan


def _called(
    condition: Condition, measures: Mapping[str, Measure]
) -> tuple[Call, list[Fault], float | None]:
    """What can be said of a condition, the faults that decide it or leave it open, and how likely
    it is where the parts by themselves say something else.

    Of two measures that each may be on the bad side it can be sure that not both are; and of three
    that each are there with 95 % it is not that all are.
    """
    by_itself, faults = _weigh(condition, measures)
    if len({fault.key for fault in faults_of(condition)}) == 1:
        return by_itself, faults, None
    least, greatest = chance(condition, measures)
    if least > SURE + _TRACE:
        call, likely = Call.FLAGGED, least
    elif greatest <= 1 - SURE + _TRACE:
        call, likely = Call.CLEAR, greatest
    else:
        call, likely = Call.CANT_TELL, greatest if by_itself is Call.CLEAR else least
    if call is by_itself:
        return call, faults, None
    if call is Call.FLAGGED:
        every = (fault for fault in faults_of(condition) if measures[fault.key].value is not None)
        faults = [fault for fault in every if fault_call(fault, measures) is not Call.CLEAR]
    return call, faults, likely


def _weigh(condition: Condition, measures: Mapping[str, Measure]) -> tuple[Call, list[Fault]]:
    """What the parts of a condition say by themselves, and the faults that decide it or leave it
    open."""
    match condition:
        case Fault():
            return fault_call(condition, measures), [condition]
        case AllOf(parts):
            combine = conjunction
        case AnyOf(parts):
            combine = disjunction
    weighed = [_weigh(part, measures) for part in parts]
    call = reduce(combine, (each for each, _ in weighed))
    return call, [fault for each, faults in weighed if each is call for fault in faults]


def open_keys(rule: Rule, measures: Mapping[str, Measure]) -> tuple[str, ...]:
    """The measures that keep a rule from being called, in its order; none when it is called."""
    if isinstance(rule.condition, str):
        return ()
    call, faults, _ = _called(rule.condition, with_every_quantity(measures))
    return tuple(fault.key for fault in faults) if call is Call.CANT_TELL else ()


def fault_call(fault: Fault, measures: Mapping[str, Measure]) -> Call:
    """On which side of a limit the whole interval is: flagged is the bad one."""
    low, high = measures[fault.key].low, measures[fault.key].high
    if low is None or high is None:
        return Call.CANT_TELL
    if fault.below:
        low, high, limit = -high, -low, -fault.limit
    else:
        limit = fault.limit
    if low > limit:
        return Call.FLAGGED
    return Call.CLEAR if high <= limit else Call.CANT_TELL


def stands(measure: Measure, good: Good | None) -> Call | None:
    """On which side a whole interval is; None when no threshold looks at it or nothing was seen."""
    if good is None or measure.low is None or measure.high is None:
        return None
    least = -math.inf if good.low is None else good.low
    most = math.inf if good.high is None else good.high
    if measure.high < least or measure.low > most:
        return Call.FLAGGED
    return Call.CLEAR if least <= measure.low and measure.high <= most else Call.CANT_TELL


def fault_words(fault: Fault, measures: Mapping[str, Measure], units: Units) -> str:
    """A measure's figure beside the limit, as part of a sentence."""
    measure, call = measures[fault.key], fault_call(fault, measures)
    name = QUANTITY[fault.key].label.lower()
    if measure.value is None or measure.low is None or measure.high is None:
        return f"{name} not measured ({in_units(measure.missing_because or '', units)})"
    read = f"{name} {figure(fault.key, measure.value, units)} "
    read += f"({span(measure, units, _more_digits(fault, measure, units))})"
    limit = figure(fault.key, fault.limit, units)
    if call is Call.CANT_TELL:
        return f"{read} reaches across {limit}"
    if call is Call.FLAGGED:
        return f"{read}, should be {fault.wants}"
    return f"{read}, {'not under' if fault.below else 'not over'} {limit}"


def _more_digits(fault: Fault, measure: Measure, units: Units) -> int:
    """How many digits more than usual show on which side of the limit each end of the bar lies."""
    ends = [e for e in (measure.low, measure.high) if e is not None and e != fault.limit]
    for more in range(_MOST_MORE_DIGITS):
        limit = digits(fault.key, fault.limit, units, more)
        if all(digits(fault.key, end, units, more) != limit for end in ends):
            return more
    return _MOST_MORE_DIGITS


_MOST_MORE_DIGITS = 2
"""Digits more than usual that a bar's end near a limit is written with, at the most.

Source: definition
"""


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."
