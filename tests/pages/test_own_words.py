"""What a player is told: "you", outside the body, nothing that the film does not bear out."""

from __future__ import annotations

import re

import pytest
from factories import make_measures

from posecheck.judging.asked import Asked
from posecheck.judging.rules import rules
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import Verdict, judge
from posecheck.maths.units import Units
from posecheck.pages.own_words import CUES, OPEN, SEEN, not_shown, sentence, worst_rule
from posecheck.practice.layout import Side
from posecheck.practice.plan import Plan

ASKED = Asked(Plan.ALLEY, "right", "top-left", Side.LEFT)

BODY = (
    "ankle|arm|back|body|chest|elbow|eye|feet|finger|foot|hand|heel|hip|knee|leg|neck|nose|"
    "shin|shoulder|thigh|toe|trunk|waist|weight|wrist"
)
"""Words for parts of one's own body; "the head of your stick" is a part of the stick."""


def judged(kind: str, **values: float | None) -> Verdict:
    return judge(make_measures(kind, **values), DEFAULT_THRESHOLDS, ASKED)


def test_every_rule_has_its_words() -> None:
    keys = {rule.key for rule in rules(DEFAULT_THRESHOLDS, ASKED)}
    assert set(CUES) == set(SEEN) == set(OPEN) == keys
    for clause in (*SEEN.values(), *OPEN.values()):
        assert clause[0].islower() and "." not in clause


@pytest.mark.parametrize("rule", CUES)
def test_a_cue_points_outside_the_body(rule: str) -> None:
    words = CUES[rule].lower().replace("head of your stick", "")
    assert not re.search(rf"\b({BODY}|head)s?\b", words)
    assert words.endswith(".")


def test_a_run_out_is_said_with_its_error_bar() -> None:
    measures = make_measures("upright")
    words = sentence(judged("upright"), measures, DEFAULT_THRESHOLDS, Units.METRES)
    assert words == "You came in standing tall, ran 2.1 to 2.7 m past him and did not slow down."
    in_yards = sentence(judged("upright"), measures, DEFAULT_THRESHOLDS, Units.YARDS)
    assert "ran 2.3 to 3.0 yd past him" in in_yards


def test_a_breakdown_is_said_as_what_was_right() -> None:
    words = sentence(
        judged("breakdown"), make_measures("breakdown"), DEFAULT_THRESHOLDS, Units.METRES
    )
    assert words == "You sat down, got there under control and stayed in front of him."


def test_a_sentence_says_nothing_twice() -> None:
    stays_high = judged("breakdown", knee_bend_deg=25, late_knee_bend_deg=25, hip_drop=0.02)
    rules_flagged = {flag.rule for flag in stays_high.flags}
    assert {"no_breakdown", "high_hips"} <= rules_flagged
    words = sentence(stays_high, make_measures("breakdown"), DEFAULT_THRESHOLDS, Units.METRES)
    assert words == "You stayed high."


def test_too_close_is_told_from_not_seen() -> None:
    measures = make_measures("breakdown", hand_reach=0.47, base_width=None)
    assert not_shown(measures, DEFAULT_THRESHOLDS, ASKED) == (
        "Too close to call: how far out your stick was.",
        "The film does not show how wide you stood.",
    )


def test_a_plan_that_is_not_set_is_not_laid_on_the_film() -> None:
    measures = make_measures("breakdown", approach_offset_m=0.3)
    assert not_shown(measures, DEFAULT_THRESHOLDS, ASKED)
    assert not_shown(measures, DEFAULT_THRESHOLDS, Asked()) == ()


def test_the_one_thing_is_the_most_serious_not_the_most_frequent() -> None:
    hands = judged("breakdown", hand_reach=0.1)
    assert worst_rule([hands, hands, hands, judged("upright")]) == "upright_run_out"
    assert worst_rule([hands, judged("breakdown")]) == "hands_in"
    assert worst_rule([judged("breakdown")]) is None
