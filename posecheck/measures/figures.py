"""How figures are written: digits, signs, units and intervals of every quantity, the same on pages,
in pictures, in sentences and on the terminal."""

from __future__ import annotations

from posecheck.measures.measure import Measure
from posecheck.measures.quantities import QUANTITY

MINUS = "\N{MINUS SIGN}"


def figure(key: str, value: float) -> str:
    """A value with its unit: 14°, 2.5 m/s."""
    return f"{digits(key, value)}{after_figure(QUANTITY[key].unit)}"


def digits(key: str, value: float) -> str:
    """A value without its unit."""
    return fixed(value, QUANTITY[key].decimals)


def fixed(value: float, decimals: int, signed: bool = False) -> str:
    """A number with so many digits after the point; no sign before zero."""
    text = f"{value:{'+' if signed else ''}.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("+-")
    return text.replace("-", MINUS)


def span(measure: Measure) -> str:
    """An interval with its unit, short: joined by a dash where no minus sign is near.

    Raises:
        ValueError: the measure is missing.
    """
    low, high = _ends(measure)
    joint = " to " if low < 0 else "\N{EN DASH}"
    return f"{digits(measure.key, low)}{joint}{figure(measure.key, high)}"


def interval_in_words(measure: Measure) -> str:
    """An interval with its unit, joined by a word: 26 to 36°.

    Raises:
        ValueError: the measure is missing.
    """
    low, high = _ends(measure)
    return f"{digits(measure.key, low)} to {figure(measure.key, high)}"


def interval(measure: Measure) -> str:
    """An interval without its unit: 26 to 36.

    Raises:
        ValueError: the measure is missing.
    """
    low, high = _ends(measure)
    return f"{digits(measure.key, low)} to {digits(measure.key, high)}"


def after_figure(unit: str) -> str:
    """A unit as it follows a figure: degrees at once, the others after a space."""
    return unit if unit in ("", "°") else f" {unit}"


def error_decimals(unit: str) -> int:
    """Digits after the point with which errors in a unit are written."""
    return 1 if unit in ("°", "frames") else 2


def _ends(measure: Measure) -> tuple[float, float]:
    if measure.low is None or measure.high is None:
        raise ValueError(f"{measure.key}: there is no interval ({measure.missing_because})")
    return measure.low, measure.high
