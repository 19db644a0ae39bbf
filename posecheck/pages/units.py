"""Yards and miles an hour: only here, at the edge, and only beside the metric figure."""

from __future__ import annotations

from posecheck.maths.units import YARD_M
from posecheck.measures.figures import figure
from posecheck.measures.quantities import QUANTITY

YARDS_PER_M = 1 / YARD_M
"""Source: definition"""
MPH_PER_MPS = 3600 / (1760 * YARD_M)
"""Source: definition (a mile is 1760 yards)"""


def figure_in_both(key: str, value: float) -> str:
    """A figure with its unit, and in miles an hour or yards where it has such a unit."""
    beside = {"m/s": in_mph, "m": in_yards}.get(QUANTITY[key].unit)
    return figure(key, value) + ("" if beside is None else f" {beside(value)}")


def in_yards(metres: float) -> str:
    """``(5.5 yd)`` for 5 m."""
    return f"({metres * YARDS_PER_M:.1f} yd)"


def in_mph(mps: float) -> str:
    """``(5.6 mph)`` for 2.5 m/s."""
    return f"({mps * MPH_PER_MPS:.1f} mph)"
