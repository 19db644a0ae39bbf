"""A rep in one short sentence, as a coach says it beside the field.

It is put together from what was flagged and measured, worst first, and says nothing that a whole
error bar does not bear out. Figures and limits stand on the rep's own page.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from posecheck.judging.rules import HEADLINE_RULE, rule_name
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.tuning import MOST_PARTS, STRAIGHT_LEG_DEG
from posecheck.judging.verdict import Call, Verdict, stands
from posecheck.measures.figures import interval_in_words
from posecheck.measures.measure import Measure

_SAID_BY_HEADLINE = {"no_breakdown", "stiff_trunk"}
"""Rules that the words of an upright run-out say already."""


def in_short(verdict: Verdict, measures: Mapping[str, Measure], thresholds: Thresholds) -> str:
    """Say a rep in one short sentence.

    Args:
        verdict: of the rep.
        measures: it was judged by.
        thresholds: it was judged with.

    Returns:
        "Legs straight, chest up, still sprinting, 2.1 to 2.4 m past him." The verdict's own
        headline where it can't be told.
    """
    if verdict.call is Call.CANT_TELL:
        return verdict.headline
    if verdict.call is Call.CLEAR:
        parts = list(_good(measures, thresholds))
        return _sentence(", ".join(parts[:MOST_PARTS]))
    parts = list(dict.fromkeys(_faults(verdict, measures, thresholds)))[:MOST_PARTS]
    kept = _kept(verdict, measures, thresholds)
    return _sentence(", ".join(parts) + (f", but {kept}" if kept else ""))


def _faults(
    verdict: Verdict, measures: Mapping[str, Measure], thresholds: Thresholds
) -> Iterator[str]:
    flagged = [finding.rule for finding in verdict.flags]
    for rule in flagged:
        if rule == HEADLINE_RULE:
            yield _legs(measures["knee_bend_deg"])
            yield "chest up"
            if _over(measures.get("arrival_speed_mps"), thresholds.max_arrival_speed_mps):
                yield _speed(measures, thresholds)
            if "ran_past" in flagged:
                yield _past(measures)
        elif rule == "ran_past":
            yield _past(measures)
        elif rule == "never_braked":
            yield _speed(measures, thresholds)
        elif not (HEADLINE_RULE in flagged and rule in _SAID_BY_HEADLINE):
            yield rule_name(rule).lower()


def _past(measures: Mapping[str, Measure]) -> str:
    return f"{interval_in_words(measures['overrun_m'])} past him"


def _legs(knee_bend: Measure) -> str:
    assert knee_bend.high is not None  # it was flagged
    return "legs straight" if knee_bend.high <= STRAIGHT_LEG_DEG else "legs nearly straight"


def _over(measure: Measure | None, limit: float) -> bool:
    """True when the whole error bar lies over the limit."""
    return measure is not None and measure.low is not None and measure.low > limit


def _speed(measures: Mapping[str, Measure], thresholds: Thresholds) -> str:
    sprinting = _over(measures.get("speed_kept"), thresholds.max_speed_kept)
    return "still sprinting" if sprinting else "arrived too fast"


def _kept(verdict: Verdict, measures: Mapping[str, Measure], thresholds: Thresholds) -> str:
    """What was right in a flagged rep, of what matters most."""
    calls = {finding.rule: finding.call for finding in verdict.findings}

    def clear(*rules: str) -> bool:
        return all(calls.get(rule) is Call.CLEAR for rule in rules)

    bent = clear(HEADLINE_RULE, "late_breakdown", "no_breakdown")
    slow = measures.get("arrival_speed_mps")
    slowed = slow is not None and stands(slow, thresholds.good(slow.key)) is Call.CLEAR
    controlled = slowed and clear("ran_past", "never_braked")
    said = ["knees bent"] * bent + ["under control"] * controlled
    return " and ".join(said)


def _good(measures: Mapping[str, Measure], thresholds: Thresholds) -> Iterator[str]:
    for key, words in (
        ("knee_bend_deg", "knees bent"),
        ("trunk_lean_deg", "chest over the knees"),
        ("hand_reach", "hands out in front"),
        ("arrival_speed_mps", "slowed down"),
        ("overrun_m", "stayed in front of him"),
    ):
        measure = measures.get(key)
        if measure is not None and stands(measure, thresholds.good(key)) is Call.CLEAR:
            yield words


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."
