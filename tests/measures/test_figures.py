"""Figures as people read them."""

from __future__ import annotations

import pytest

from posecheck.maths.units import Units
from posecheck.measures.figures import (
    after_figure,
    digits,
    error_decimals,
    figure,
    fixed,
    in_units,
    interval,
    interval_in_words,
    span,
)
from posecheck.measures.measure import Measure, missing

MINUS = "\N{MINUS SIGN}"


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("knee_bend_deg", 14.4, "14°"),
        ("arrival_speed_mps", 2.5, "2.5 m/s"),
        ("hip_drop", 0.123, "0.12"),
        ("approach_offset_m", -0.7, f"{MINUS}0.7 m"),
        ("approach_offset_m", -0.04, "0.0 m"),  # no minus sign before zero
    ],
)
def test_a_figure_has_its_digits_and_its_unit(key: str, value: float, words: str) -> None:
    assert figure(key, value) == words
    assert words.startswith(digits(key, value))


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        # 12 miles of 1609.344 m in an hour; 10 yards of 0.9144 m (international yard and pound
        # agreement, 1959).
        ("arrival_speed_mps", 12 * 1609.344 / 3600, "12.0 mph"),
        ("overrun_m", 9.144, "10.0 yd"),
        ("peak_braking_mps2", 1609.344 / 3600, "1.0 mph/s"),
        ("approach_offset_m", -0.9144, f"{MINUS}1.0 yd"),
        ("approach_offset_m", -0.04, "0.0 yd"),
        ("knee_bend_deg", 14.4, "14°"),
        ("time_to_arrival_s", 2.5, "2.50 s"),
        ("hip_drop", 0.123, "0.12"),
    ],
)
def test_the_other_system_of_units(key: str, value: float, words: str) -> None:
    assert figure(key, value, Units.YARDS) == words
    measure = Measure(key, value, value, value, "")
    for form in (span, interval_in_words):
        assert form(measure, Units.YARDS).endswith(words)
    assert interval(measure, Units.YARDS).endswith(digits(key, value, Units.YARDS))


@pytest.mark.parametrize(
    ("kept", "read"),
    [
        ("Move 4 m nearer, so he is 200 px tall.", "Move 4 yd nearer, so he is 200 px tall."),
        ("not within 1.8 m, at the nearest 2.4 m", "not within 2.0 yd, at the nearest 2.6 yd"),
        ("no player is outside 0 to 12 m/s", "no player is outside 0 to 27 mph"),
        ("6 marked points, fit to 5 cm, lens 26 mm", "6 marked points, fit to 2.0 in, lens 26 mm"),
        ("6 marked points, fit to 1 cm, lens 26 mm", "6 marked points, fit to 0.4 in, lens 26 mm"),
        ("view 'at 20 m': the line's height, 3.0 m", "view 'at 20 m': the line's height, 3.3 yd"),
        ("33 of 41 frames", "33 of 41 frames"),
    ],
)  # fmt: skip
def test_kept_sentences_are_read_in_the_units_of_the_practice(kept: str, read: str) -> None:
    assert in_units(kept, Units.YARDS) == read
    assert in_units(kept, Units.METRES) == kept


def test_intervals_in_their_three_forms() -> None:
    knee = Measure("knee_bend_deg", 14, 8, 20, "")
    assert span(knee) == "8\N{EN DASH}20°"
    assert interval_in_words(knee) == "8 to 20°"
    assert interval(knee) == "8 to 20"
    # Beside a minus sign a dash would be read as another.
    side = Measure("approach_offset_m", -0.7, -0.9, -0.4, "")
    assert span(side) == f"{MINUS}0.9 to {MINUS}0.4 m"
    for form in (span, interval, interval_in_words):
        with pytest.raises(ValueError, match="there is no interval"):
            form(missing("knee_bend_deg", "hidden"))


def test_errors_carry_their_sign_and_the_digits_of_their_unit() -> None:
    assert fixed(-2.04, 1, signed=True) == f"{MINUS}2.0"
    assert fixed(0.02, 1, signed=True) == "0.0"
    assert fixed(0.06, 1, signed=True) == "+0.1"
    assert [error_decimals(unit) for unit in ("°", "frames", "m/s", "")] == [1, 1, 2, 2]
    assert [after_figure(unit) for unit in ("°", "", "m")] == ["°", "", " m"]
