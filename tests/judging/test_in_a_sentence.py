"""What one sentence says of a rep."""

from __future__ import annotations

import pytest
from factories import make_measures

from posecheck.judging.asked import Asked
from posecheck.judging.in_a_sentence import in_a_sentence
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import judge
from posecheck.maths.units import Units
from posecheck.measures.measure import Measure
from posecheck.practice.layout import Side
from posecheck.practice.plan import Plan

LIMITS = Thresholds()
LEFT = Asked(Plan.ALLEY, "right", "top-left", Side.LEFT)
STRAIGHT = {"knee_bend_deg": (12, 20), "trunk_lean_deg": (6, 14)}
FAST = {"arrival_speed_mps": (5, 5.6), "speed_kept": (0.9, 1.0)}
PAST = {"overrun_m": (2.1, 2.3), "goal_side_m": (0.1, 0.5)}


def sentence(
    asked: Asked = LEFT,
    units: Units = Units.METRES,
    limits: Thresholds = LIMITS,
    **intervals: tuple[float, float] | None,
) -> str:
    """Of a good breakdown with single measures replaced by ``(low, high)`` or by nothing."""
    measures: dict[str, Measure] = make_measures("breakdown")
    for key, interval in intervals.items():
        if interval is None:
            measures[key] = make_measures(**{key: None})[key]
        else:
            low, high = interval
            measures[key] = Measure(key, (low + high) / 2, low, high, "")
    verdict = judge(measures, limits, asked)
    return in_a_sentence(verdict, measures, limits, units, asked)


@pytest.mark.parametrize(
    ("said", "intervals"),
    [
        ("Knees bent, chest over them, under control, half a body topside.", {}),
        ("Legs straight, chest up, still sprinting, 2.1 to 2.3 m past him.",
         STRAIGHT | FAST | PAST),
        ("Knees bent, chest over them, under control, but hands in.", {"hand_reach": (0.1, 0.3)}),
        # A figure whose bar reaches across its limit is not spoken of.
        ("Knees bent, chest over them, but 2.1 to 2.3 m past him.",
         {"arrival_speed_mps": (2.2, 2.8)} | PAST),
        # Under the limit of an upright run-out, and not straight.
        ("Legs nearly straight, chest up, still sprinting, 2.1 to 2.3 m past him.",
         STRAIGHT | FAST | PAST | {"knee_bend_deg": (21, 33)}),
        # One of the two for sure, though not which.
        ("Legs straight, chest up, too fast or past him.",
         STRAIGHT | {"arrival_speed_mps": (2.3, 4.5), "overrun_m": (0.8, 2.0)}),
        # The bar of the knees reaches across, and yet he neither came late nor stayed high.
        ("Knees bent, chest over them, under control, half a body topside.",
         {"knee_bend_deg": (44.5, 64.5), "late_knee_bend_deg": (40, 60)}),
        # Fast, but he did brake.
        ("Legs straight, chest up, too fast.",
         STRAIGHT | {"arrival_speed_mps": (3, 3.6), "speed_kept": (0.4, 0.6),
                     "braking_distance_m": (2, 3)}),
        # Not the straight legs of a run-out, and yet too little.
        ("Chest over his knees, under control, but knees not bent enough.",
         {"knee_bend_deg": (36, 44), "late_knee_bend_deg": (36, 44)}),
        ("Chest over his knees, under control, but knees bent only after he got there.",
         {"knee_bend_deg": (20, 32), "late_knee_bend_deg": (50, 62)}),
        ("Chest over his knees, under control, but knee bend too close to call.",
         {"knee_bend_deg": (40, 50)}),
        # Each measure is beyond its limit, and the two together are not sure.
        ("Chest over his knees, under control, but knees not bent enough, as a whole too close to "
         "call.", {"knee_bend_deg": (33, 44.8), "late_knee_bend_deg": (33, 44.8)}),
        # One of two ways to slow down is hidden, the other across its limit.
        ("Knees bent, chest over them, but too fast, slowing down not seen.",
         {"arrival_speed_mps": (3, 3.6), "speed_kept": None, "braking_distance_m": (1.2, 1.8)}),
        # Stopped, and the legs hidden.
        ("Under control, but knee bend not seen.",
         {"knee_bend_deg": None, "late_knee_bend_deg": None, "trunk_lean_deg": None}),
        ("Knees bent, chest over them, under control, but gave both ways.",
         {"approach_offset_m": (-0.1, 0.1)}),
    ],
)  # fmt: skip
def test_a_rep_in_one_sentence(said: str, intervals: dict[str, tuple[float, float] | None]) -> None:
    assert sentence(**intervals) == said


def test_it_speaks_in_the_units_of_the_practice() -> None:
    assert "2.3 to 2.5 yd past him" in sentence(units=Units.YARDS, **STRAIGHT, **FAST, **PAST)


def test_no_side_is_named_where_the_field_has_none() -> None:
    plain = "Knees bent, chest over them, under control."
    assert sentence(Asked(Plan.WEAK_HAND, "left", "top", Side.MIDDLE)) == plain
    assert sentence(Asked()) == plain


def test_the_chest_is_spoken_of_as_it_is_flagged() -> None:
    # A coach who asks more lean of a breakdown than of one who is not upright, and the reverse.
    stiff = sentence(limits=Thresholds(upright_trunk_lean_deg=15.0), trunk_lean_deg=(16, 18))
    assert stiff == "Knees bent, under control, but chest up."
    leaning: dict[str, tuple[float, float]] = STRAIGHT | FAST | PAST | {"trunk_lean_deg": (22, 26)}
    upright = sentence(limits=Thresholds(upright_trunk_lean_deg=28.0), **leaning)
    assert upright == "Legs straight, chest up, still sprinting, 2.1 to 2.3 m past him."
