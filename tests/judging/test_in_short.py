"""A rep in one short sentence: put together from its figures, never more than they bear out."""

from __future__ import annotations

import pytest
from factories import make_measures

from posecheck.judging.asked import Asked
from posecheck.judging.in_short import in_short
from posecheck.judging.rules import rule_name
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import judge


def said(kind: str, **values: float | None) -> str:
    measures = make_measures(kind, **values)
    return in_short(judge(measures, DEFAULT_THRESHOLDS, Asked()), measures, DEFAULT_THRESHOLDS)


@pytest.mark.parametrize(
    ("kind", "values", "sentence"),
    [
        # Knee bend 17 within 11 to 23, lean 7 within 3 to 11, 92 % of the speed kept.
        ("upright", {}, "Legs straight, chest up, still sprinting, 2.1 to 2.7 m past him."),
        # 27 within 21 to 33 is under the 35 of an upright run-out and not straight.
        (
            "upright",
            {"knee_bend_deg": 27.0},
            "Legs nearly straight, chest up, still sprinting, 2.1 to 2.7 m past him.",
        ),
        # Too fast, yet with a good part of his speed gone, and stopped in front of him.
        (
            "upright",
            {"speed_kept": 0.5, "braking_distance_m": 2.5, "overrun_m": 0.2},
            f"Legs straight, chest up, arrived too fast, {rule_name('beaten_goal_side').lower()}.",
        ),
        ("breakdown", {"hand_reach": 0.1}, "Hands in, but knees bent and under control."),
        ("breakdown", {"overrun_m": 2.0}, "1.9 to 2.1 m past him, but knees bent."),
        (
            "breakdown",
            {},
            "Knees bent, chest over the knees, hands out in front, slowed down.",
        ),
        # What cannot be told is not said to be good.
        ("breakdown", {"hand_reach": None}, "Knees bent, chest over the knees, slowed down, "
         "stayed in front of him."),
    ],
)  # fmt: skip
def test_a_rep_in_one_sentence(kind: str, values: dict[str, float | None], sentence: str) -> None:
    assert said(kind, **values) == sentence


def test_what_cant_be_told_is_said_by_the_verdict() -> None:
    measures = make_measures("unclear")
    verdict = judge(measures, DEFAULT_THRESHOLDS, Asked())
    assert in_short(verdict, measures, DEFAULT_THRESHOLDS) == verdict.headline
