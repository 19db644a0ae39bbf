"""A rep in one sentence, as a coach would call it across the field.

Said is only what is known with the whole error bar on one side of its limit, or as surely of
several measures together: first what was good, then what was not. Of a rep left open it is said
what is not seen, and what is too close to call.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from posecheck.judging.asked import Asked
from posecheck.judging.rules import HEADLINE_RULE, faults_of, rule_name, rules
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.tuning import MOST_FAULTS, STRAIGHT_LEG_DEG
from posecheck.judging.verdict import (
    Call,
    Verdict,
    fault_call,
    open_keys,
    stands,
    with_every_quantity,
)
from posecheck.maths.units import Units
from posecheck.measures.figures import interval_in_words
from posecheck.measures.measure import Measure
from posecheck.practice.layout import Side

_NAME = {
    "knee_bend_deg": "knee bend",
    "late_knee_bend_deg": "knee bend after arrival",
    "trunk_lean_deg": "chest",
    "arrival_speed_mps": "arrival speed",
    "speed_kept": "slowing down",
    "braking_distance_m": "slowing down",
    "overrun_m": "how far past him he ran",
}
"""What the measures that core rules rest on are called when they are left open."""


def in_a_sentence(
    verdict: Verdict,
    measures: Mapping[str, Measure],
    thresholds: Thresholds,
    units: Units = Units.METRES,
    asked: Asked | None = None,
) -> str:
    """A rep in one sentence: "Legs straight, chest up, still sprinting, 2.1 to 2.4 m past him."

    Args:
        verdict: of the rep.
        measures: by key.
        thresholds: those judged with.
        units: in which figures are written.
        asked: what the practice asks; without it no side is named.
    """
    said = _Said(verdict, measures, thresholds)
    good, bad = list(said.good(asked)), list(said.bad(units))[:MOST_FAULTS]
    parts = [", ".join(good)] if good else []
    if bad:
        parts.append(f"{'but ' if good else ''}{', '.join(bad)}")
    if verdict.call is Call.CANT_TELL:
        parts.append(f"{'' if bad else 'but ' if good else ''}{said.left_open()}")
    words = ", ".join(parts) or "nothing of him is sure"
    return f"{words[0].upper()}{words[1:]}."


@dataclass(frozen=True)
class _Said:
    """A rep with what can be said of it."""

    verdict: Verdict
    measures: Mapping[str, Measure]
    limits: Thresholds

    def under(self, key: str, limit: float) -> bool:
        """Whether the whole bar of a measure lies under a limit."""
        measure = self.measures.get(key)
        return measure is not None and measure.high is not None and measure.high < limit

    def over(self, key: str, limit: float) -> bool:
        """Whether the whole bar of a measure lies over a limit."""
        measure = self.measures.get(key)
        return measure is not None and measure.low is not None and measure.low > limit

    def within(self, key: str) -> bool:
        """Whether the whole bar of a measure lies on the good side, its limits included."""
        measure = self.measures.get(key)
        return measure is not None and stands(measure, self.limits.good(key)) is Call.CLEAR

    @property
    def flags(self) -> set[str]:
        """Keys of the flagged rules."""
        return {finding.rule for finding in self.verdict.flags}

    @property
    def upright(self) -> bool:
        """Whether he ran out upright; a coach may ask less lean of a breakdown than of that."""
        return HEADLINE_RULE in self.flags

    def good(self, asked: Asked | None) -> Iterator[str]:
        """What was as it should be."""
        # Knees that may be a little straighter are bent where the rep as a whole is clear.
        bent = self.within("knee_bend_deg") or self.verdict.call is Call.CLEAR
        if bent:
            yield "knees bent"
        if self.within("trunk_lean_deg") and not self.upright:
            yield "chest over them" if bent else "chest over his knees"
        if self.within("arrival_speed_mps") and "ran_past" not in self.flags:
            yield "under control"
        side = _side(self, asked) if asked is not None and self.verdict.call is Call.CLEAR else None
        if side is not None:
            yield side

    def bad(self, units: Units) -> Iterator[str]:
        """What was not, the legs first."""
        flags, limits = self.flags, self.limits
        if self.verdict.flags and self.verdict.flags[0].rule == "late_breakdown":
            yield "knees bent only after he got there"
        elif self.under("knee_bend_deg", limits.upright_knee_bend_deg):
            nearly = "" if self.under("knee_bend_deg", STRAIGHT_LEG_DEG) else "nearly "
            yield f"legs {nearly}straight"
        elif self.under("knee_bend_deg", limits.min_knee_bend_deg):
            yield "knees not bent enough"
        if self.upright or self.under("trunk_lean_deg", limits.min_trunk_lean_deg):
            yield "chest up"
        elif self.over("trunk_lean_deg", limits.max_trunk_lean_deg):
            yield "bent at the waist"
        fast = self.over("arrival_speed_mps", limits.max_arrival_speed_mps)
        past = self.over("overrun_m", limits.max_overrun_m)
        if fast:
            yield "still sprinting" if "never_braked" in flags else "too fast"
        elif self.upright and not past:
            yield "too fast or past him"
        if past:
            yield f"{interval_in_words(self.measures['overrun_m'], units)} past him"
        yield from (rule_name(rule).lower() for rule in _OTHERS if rule in flags)

    def left_open(self) -> str:
        """What keeps the rep from being called."""
        core = {f.rule for f in self.verdict.findings if f.call is Call.CANT_TELL}
        measures = with_every_quantity(self.measures)
        missing: list[str] = []
        close: list[str] = []
        for rule in rules(self.limits, Asked()):
            if not rule.core or rule.key not in core or isinstance(rule.condition, str):
                continue
            keys = open_keys(rule, measures)
            missing += [key for key in keys if measures[key].value is None]
            # Of several measures one may lie beyond its own limit, and has been spoken of.
            close += [
                fault.key
                for fault in faults_of(rule.condition)
                if fault.key in keys
                and measures[fault.key].value is not None
                and fault_call(fault, measures) is Call.CANT_TELL
            ]
        names = _names(missing)
        close_names = [name for name in _names(close) if name not in names]
        parts = []
        if names:
            parts.append(f"{_listed(names)} not seen")
        if close_names:
            parts.append(f"{_listed(close_names)} too close to call")
        return ", ".join(parts) or "as a whole too close to call"


_OTHERS = (
    "beaten_goal_side",
    "high_hips",
    "hands_in",
    "narrow_base",
    "wrong_side",
    "straight_up",
    "too_flat",
)
"""Rules whose measures are not spoken of otherwise."""


def _names(keys: list[str]) -> list[str]:
    if "knee_bend_deg" in keys:
        keys = [key for key in keys if key != "late_knee_bend_deg"]
    return list(dict.fromkeys(_NAME[key] for key in keys))


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _side(said: _Said, asked: Asked) -> str | None:
    """On which side of the attacker he stands, when that is known and the field has sides there."""
    if asked.side in (None, Side.MIDDLE):
        return None
    margin = said.limits.min_side_offset_m
    if said.over("approach_offset_m", margin):
        return "half a body topside"
    return "half a body to the alley side" if said.under("approach_offset_m", -margin) else None
