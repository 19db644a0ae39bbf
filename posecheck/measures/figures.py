"""How figures are written: digits, signs, units and intervals of every quantity, the same on pages,
in pictures, in sentences and on the terminal. Values come in SI units and are written in those of
the practice."""

from __future__ import annotations

import re

from posecheck.maths.units import INCH_M, Units
from posecheck.measures.measure import Measure
from posecheck.measures.quantities import QUANTITY

MINUS = "\N{MINUS SIGN}"

_KEPT_FIGURE = re.compile(
    r"(?<!\w)'[^']*'"  # a name in quotes stays as it is
    r"|(?:(?P<first>\d+(?:\.\d+)?) to )?(?P<value>\d+(?:\.\d+)?) (?P<unit>m/s²|m/s|cm|m)(?![\w/²])"
)


def figure(key: str, value: float, units: Units = Units.METRES, more: int = 0) -> str:
    """A value with its unit: 14°, 2.5 m/s, 5.6 mph; with ``more`` digits than usual."""
    return f"{digits(key, value, units, more)}{after_figure(units.unit(QUANTITY[key].unit))}"


def digits(key: str, value: float, units: Units = Units.METRES, more: int = 0) -> str:
    """A value without its unit, with ``more`` digits than usual."""
    quantity = QUANTITY[key]
    return fixed(units.shown(value, quantity.unit), quantity.decimals + more)


def fixed(value: float, decimals: int, signed: bool = False) -> str:
    """A number with so many digits after the point; no sign before zero."""
    text = f"{value:{'+' if signed else ''}.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("+-")
    return text.replace("-", MINUS)


def span(measure: Measure, units: Units = Units.METRES, more: int = 0) -> str:
    """An interval with its unit, short: joined by a dash where no minus sign is near; with ``more``
    digits than usual.

    Raises:
        ValueError: the measure is missing.
    """
    low, high = _ends(measure)
    joint = " to " if low < 0 else "\N{EN DASH}"
    ends = digits(measure.key, low, units, more), figure(measure.key, high, units, more)
    return joint.join(ends)


def interval_in_words(measure: Measure, units: Units = Units.METRES) -> str:
    """An interval with its unit, joined by a word: 26 to 36°.

    Raises:
        ValueError: the measure is missing.
    """
    low, high = _ends(measure)
    return f"{digits(measure.key, low, units)} to {figure(measure.key, high, units)}"


def interval(measure: Measure, units: Units = Units.METRES) -> str:
    """An interval without its unit: 26 to 36.

    Raises:
        ValueError: the measure is missing.
    """
    low, high = _ends(measure)
    return f"{digits(measure.key, low, units)} to {digits(measure.key, high, units)}"


def in_units(sentence: str, units: Units) -> str:
    """A sentence that was kept beside the measures, where figures are metric, with its lengths and
    speeds in the units of the practice: "Move 4 m nearer" is "Move 4 yd nearer"."""

    def figure_of(found: re.Match[str]) -> str:
        if found["value"] is None:
            return found[0]
        unit = "in" if found["unit"] == "cm" else units.unit(found["unit"])
        values = [each for each in (found["first"], found["value"]) if each is not None]
        shown = (_as_exact(each, found["unit"], units) for each in values)
        return f"{' to '.join(shown)} {unit}"

    return sentence if units is Units.METRES else _KEPT_FIGURE.sub(figure_of, sentence)


def _as_exact(text: str, unit: str, units: Units) -> str:
    """A figure in a metric unit in its place in ``units``, with as many digits after the point.

    In inches with one more: a centimetre would be 0.
    """
    decimals = len(text.partition(".")[2])
    value = float(text)
    if unit == "cm":
        return fixed(value / (100 * INCH_M), decimals + 1)
    return fixed(units.shown(value, unit), decimals)


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
