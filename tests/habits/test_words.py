"""Changes as they are said and as they stand in the table: in the same unit."""

from __future__ import annotations

from posecheck.habits.changes import Change, Question
from posecheck.habits.habit import habits
from posecheck.habits.season import PlayerId
from posecheck.habits.words import amount, change_figure, difference_figure
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.maths.units import Units
from posecheck.measures.figures import MINUS

SHARE, KNEES, *_ = habits(DEFAULT_THRESHOLDS)


def test_a_difference_between_shares_is_in_reps_of_100_in_table_and_sentence() -> None:
    who = PlayerId(5, "theo marsh")
    change = Change(who, SHARE, Question.LAST, -0.39, -0.60, -0.10, (30, 6), p=0.01)
    assert amount(change, Units.METRES) == "in 39 fewer of 100 reps (10 to 60)"
    assert change_figure(change, Units.METRES) == f"{MINUS}39 of 100"
    assert difference_figure(SHARE, 0.39, Units.METRES) == "39 of 100"
    assert difference_figure(KNEES, 12.0, Units.METRES) == "12°"
