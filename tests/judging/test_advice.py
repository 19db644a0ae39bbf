"""What is advised for the next filming: from what was measured, once in a rep, or not at all."""

from __future__ import annotations

import pytest
from factories import make_measures

from posecheck.filming.quality import NOT_GRADED, Aspect, FilmQuality, Grade, Graded
from posecheck.filming.slow_part import PLAYS_SLOW
from posecheck.ground.ground import FROM_PLAYERS
from posecheck.judging.advice import MARK_POINTS
from posecheck.judging.asked import Asked
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, Finding, Verdict, judge
from posecheck.maths.units import Units
from posecheck.measures.measure import Measure, missing
from posecheck.measures.of_run import ATTACKER_LOST, NO_SIDES, START_UNSEEN
from posecheck.practice.layout import Side
from posecheck.practice.plan import Plan

ASKED = Asked(Plan.ALLEY, "right", "top-left", Side.LEFT)
NEARER = "Move 4 m nearer, so that he is 200 px tall."
GOOD = FilmQuality((Graded(Aspect.SIZE, Grade.GOOD, "he is 300 px tall at arrival", ""),))
SMALL = FilmQuality((Graded(Aspect.SIZE, Grade.USABLE, "he is 160 px tall at arrival", NEARER),))
TOO_SMALL = FilmQuality(
    (
        Graded(Aspect.LIGHT, Grade.USABLE, "he is almost black", "Hold the sun behind you."),
        Graded(Aspect.SIZE, Grade.TOO_POOR, "he is 84 px tall at arrival", NEARER),
    )
)
HIGHER = "Hold the phone 1.3 m or more above the ground."
LOW = FilmQuality(
    (Graded(Aspect.HEIGHT, Grade.USABLE, "the phone looks down at his feet by 4°", HIGHER),)
)
TAKE_OUT = "Take the slow motion out on the phone and copy the clip again."
SLOW = FilmQuality(
    (
        *SMALL.aspects,
        Graded(Aspect.SLOW_PART, Grade.USABLE, "a part of it plays in slow motion", TAKE_OUT),
    )
)
FROM_MARKS = "ground positions scaled from 6 marked points"
FROM_MEN = f"ground positions scaled from {FROM_PLAYERS} 2 players"


def straddling(key: str, low: float, high: float, read_from: str = "13 of 13 frames") -> Measure:
    return Measure(key, (low + high) / 2, low, high, read_from)


KNEES = straddling("knee_bend_deg", 40, 50)
HIDDEN = missing("knee_bend_deg", "hips, knees and ankles are too hidden or blurred")
OVERRUN = straddling("overrun_m", 0.8, 1.4, FROM_MARKS)


@pytest.mark.parametrize(
    ("measure", "film", "advised"),
    [
        # The bar reaches across on good film: no film would settle it, a look does.
        (KNEES, GOOD, ""),
        (KNEES, NOT_GRADED, ""),
        # The film is not good, and says what would narrow the bar.
        (KNEES, SMALL, "The film is usable (he is 160 px tall at arrival), better film would "
         f"narrow it. {NEARER}"),
        # Too poor to measure: what is worst of it, whatever else is not good.
        (HIDDEN, TOO_SMALL, NEARER),
        # Not seen on film with nothing else against it: nothing is made up.
        (HIDDEN, GOOD, ""),
        # Distances: points narrow them where there are none; how he looks does not matter.
        (OVERRUN, SMALL, ""),
        # From low down the film shows badly where they are, and how they stand no worse.
        (OVERRUN, LOW, "The film is usable (the phone looks down at his feet by 4°), better film "
         f"would narrow it. {HIGHER}"),
        (KNEES, LOW, ""),
        (straddling("overrun_m", 0.8, 1.4, FROM_MEN), SMALL, MARK_POINTS),
        (missing("overrun_m", ATTACKER_LOST), GOOD,
         "Keep both players in the picture until a second after he arrives."),
        (missing("overrun_m", START_UNSEEN), GOOD, "Start filming before he leaves the inside."),
        # Slow motion in part: the film is usable, and times are missing all the same.
        (missing("overrun_m", PLAYS_SLOW), SLOW, TAKE_OUT),
        (missing("overrun_m", NO_SIDES), GOOD,
         "Mark the goal among the known points (posecheck points)."),
    ],
)  # fmt: skip
def test_advice_comes_from_what_was_measured(
    measure: Measure, film: FilmQuality, advised: str
) -> None:
    verdict = judged(film, measure)
    assert verdict.call is Call.CANT_TELL
    assert verdict.advice == advised


def test_lengths_in_it_are_in_the_units_of_the_practice() -> None:
    yards = Asked(Plan.ALLEY, "right", "top-left", Side.LEFT, Units.YARDS)
    measures = make_measures("breakdown") | {"knee_bend_deg": HIDDEN}
    verdict = judge(measures, Thresholds(), yards, TOO_SMALL)
    assert verdict.advice == "Move 4 yd nearer, so that he is 200 px tall."


def test_it_is_said_once_in_a_rep() -> None:
    """Rules left open by the same film do not each repeat it, nor name another size."""
    verdict = judged(TOO_SMALL, *(missing(key, "he is too small") for key in STANCE))
    assert len(open_ones(verdict)) > 4
    assert [finding.fix for finding in open_ones(verdict) if finding.fix] == [NEARER]


def test_a_bar_across_the_limit_is_for_the_coach_to_decide() -> None:
    verdict = judged(GOOD, KNEES)
    assert verdict.headline == (
        "Too close to call: knee bend 45° (40\N{EN DASH}50°) reaches across 45°. "
        "Watch it and decide."
    )
    # With something not measured beside it a look at the numbers is not all that is wanting.
    verdict = judged(GOOD, KNEES, missing("late_knee_bend_deg", "the film ends"))
    (late, *_) = open_ones(verdict)
    assert "Watch it and decide" not in late.reason
    assert "not measured (the film ends)" in late.reason


STANCE = ("knee_bend_deg", "late_knee_bend_deg", "trunk_lean_deg", "hip_drop", "hand_reach",
          "base_width")  # fmt: skip


def judged(film: FilmQuality, *measures: Measure) -> Verdict:
    """A good breakdown with other measures in place of its own."""
    known = make_measures("breakdown") | {measure.key: measure for measure in measures}
    return judge(known, Thresholds(), ASKED, film)


def open_ones(verdict: Verdict) -> list[Finding]:
    return [finding for finding in verdict.findings if finding.call is Call.CANT_TELL]
