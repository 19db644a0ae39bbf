"""Figures as people read them."""

from __future__ import annotations

import pytest

from posecheck.measures.figures import (
    after_figure,
    digits,
    error_decimals,
    figure,
    fixed,
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
