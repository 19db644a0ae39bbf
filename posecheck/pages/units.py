"""Yards and miles an hour: only here, at the edge, and only beside the metric figure."""

from __future__ import annotations

YARDS_PER_M = 1 / 0.9144
MPH_PER_MPS = 3600 / 1609.344


def in_yards(metres: float) -> str:
    """``(5.5 yd)`` for 5 m."""
    return f"({metres * YARDS_PER_M:.1f} yd)"


def in_mph(mps: float) -> str:
    """``(5.6 mph)`` for 2.5 m/s."""
    return f"({mps * MPH_PER_MPS:.1f} mph)"
