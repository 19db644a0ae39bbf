"""What a player is told of his own reps: addressed as "you", nobody else named, nothing compared.

What to work on is said in words that point outside the body, at the cone, the stick, the grass: a
cue for an effect is learned faster and holds better than one for a limb (G. Wulf, Attentional focus
and motor learning: a review of 15 years, International Review of Sport and Exercise Psychology 6,
2013, 77-104).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from posecheck.judging.asked import Asked
from posecheck.judging.rules import rules
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import TOO_CLOSE, Call, Verdict, open_keys, stands
from posecheck.maths.units import Units
from posecheck.measures.figures import interval_in_words
from posecheck.measures.measure import Measure
from posecheck.pages.tuning import MOST_PHRASES

CUES: Mapping[str, str] = {
    "upright_run_out": "Brake three steps out, then sit, as if a low stool stood there.",
    "ran_past": "Stop with a stick's length of grass left between you and him.",
    "never_braked": "Sprint to a line three steps short of him, then hit the grass short and loud.",
    "late_breakdown": "Be sitting on the stool when you get to the cone, not a step after it.",
    "no_breakdown": "Take the last three steps under a low branch, and stay under it.",
    "beaten_goal_side": "Stay on the line from the ball to the goal: when he goes, beat him to it.",
    "high_hips": "Sit down on a low stool that stands at the cone.",
    "bent_over": "Keep the number on your jersey where he can read it.",
    "stiff_trunk": "Point the number on your jersey at the grass just in front of him.",
    "hands_in": "Let the head of your stick get there first: put it in the lane between you.",
    "narrow_base": "Stand so that a ball bucket fits between your shoes.",
    "wrong_side": "Run at the grass on the side we take away, not at him.",
    "straight_up": "Leave him one door: run at the side we take away, not at his jersey.",
    "too_flat": "Get on the line from the goal to him first, then come up that line.",
}
"""By rule, what to work on. The source for pointing outside the body stands above; the cues
themselves are common practice."""

SEEN: Mapping[str, str] = {
    "upright_run_out": "came in standing tall",
    "ran_past": "ran past him",
    "never_braked": "did not slow down",
    "late_breakdown": "sat down a moment late",
    "no_breakdown": "stayed high",
    "beaten_goal_side": "let him get between you and the goal",
    "high_hips": "kept your hips high",
    "bent_over": "bent at the waist",
    "stiff_trunk": "kept your chest straight up",
    "hands_in": "kept your stick in",
    "narrow_base": "had your feet close together",
    "wrong_side": "came from the side we do not take away",
    "straight_up": "came straight up and gave him both ways",
    "too_flat": "came in too flat",
}
"""By rule, what you did when it is flagged."""

OPEN: Mapping[str, str] = {
    "upright_run_out": "how tall you came in",
    "ran_past": "how far you went past him",
    "never_braked": "whether you slowed down in time",
    "late_breakdown": "whether you sat down in time",
    "no_breakdown": "whether you sat down in time",
    "beaten_goal_side": "whether you stayed between him and the goal",
    "high_hips": "how low your hips were",
    "bent_over": "whether you bent at the waist",
    "stiff_trunk": "how far your chest came forward",
    "hands_in": "how far out your stick was",
    "narrow_base": "how wide you stood",
    "wrong_side": "which side you took away",
    "straight_up": "whether you gave him both ways",
    "too_flat": "how flat you came in",
}
"""By rule, what stays open when the call is *can't tell*."""

_SAID_BY = {
    "upright_run_out": {"no_breakdown", "late_breakdown", "stiff_trunk", "high_hips"},
    "no_breakdown": {"high_hips"},
    "late_breakdown": {"high_hips"},
    "wrong_side": {"straight_up"},
}
"""Rules that the words of a more serious one say already."""


def sentence(
    verdict: Verdict, measures: Mapping[str, Measure], limits: Thresholds, units: Units
) -> str:
    """A rep in one plain sentence.

    Args:
        verdict: of the rep.
        measures: it was judged by.
        limits: it was judged with.
        units: in which figures are written.

    Returns:
        "You came in standing tall, did not slow down and ran 2.1 to 2.4 m past him."
    """
    if verdict.call is Call.CANT_TELL:
        open_ones = [f for f in verdict.findings if f.call is Call.CANT_TELL]
        if any(finding.reason.startswith(TOO_CLOSE) for finding in open_ones):
            return "How this rep went is too close to call."
        return "The film does not show enough of this rep to say how it went."
    if verdict.call is Call.CLEAR:
        return f"You {_joined(list(_good(measures, limits))[:MOST_PHRASES])}."
    flagged = [finding.rule for finding in verdict.flags]
    silent = set().union(*(_SAID_BY.get(rule, set()) for rule in flagged))
    said = [_seen(rule, measures, units) for rule in flagged if rule not in silent]
    return f"You {_joined(said[:MOST_PHRASES])}."


def not_shown(measures: Mapping[str, Measure], limits: Thresholds, asked: Asked) -> tuple[str, ...]:
    """What is open in a rep, and why: too close to call, or not to be seen in the film.

    A rule for which the practice states too little is left out: that is nobody's film.
    """
    close: list[str] = []
    unseen: list[str] = []
    for rule in rules(limits, asked):
        keys = open_keys(rule, measures)
        seen = all(key in measures and measures[key].value is not None for key in keys)
        if keys:
            (close if seen else unseen).append(OPEN[rule.key])
    words = []
    if close:
        words.append(f"Too close to call: {_joined(list(dict.fromkeys(close)))}.")
    if unseen:
        words.append(f"The film does not show {_joined(list(dict.fromkeys(unseen)), 'or')}.")
    return tuple(words)


def worst_rule(verdicts: Sequence[Verdict]) -> str | None:
    """The most serious rule that any of a player's reps is flagged for, None when none is."""
    places = {
        finding.rule: place
        for verdict in verdicts
        for place, finding in enumerate(verdict.findings)
        if finding.call is Call.FLAGGED
    }
    return min(places, key=lambda rule: places[rule], default=None)


def _seen(rule: str, measures: Mapping[str, Measure], units: Units) -> str:
    past = measures.get("overrun_m")
    if rule == "ran_past" and past is not None and past.value is not None:
        return f"ran {interval_in_words(past, units)} past him"
    return SEEN[rule]


def _good(measures: Mapping[str, Measure], limits: Thresholds) -> Iterator[str]:
    for key, words in (
        ("knee_bend_deg", "sat down"),
        ("arrival_speed_mps", "got there under control"),
        ("overrun_m", "stayed in front of him"),
        ("hand_reach", "had your stick out in front"),
    ):
        measure = measures.get(key)
        # Nobody is clear who did not sit down, even where the knees' own bar reaches across.
        sat = key == "knee_bend_deg"
        if sat or (measure is not None and stands(measure, limits.good(key)) is Call.CLEAR):
            yield words


def _joined(phrases: Sequence[str], last: str = "and") -> str:
    if len(phrases) < 2:
        return "".join(phrases)
    return f"{', '.join(phrases[:-1])} {last} {phrases[-1]}"
