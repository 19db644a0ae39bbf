"""Constants of the mathematics, with their sources."""

from __future__ import annotations

from typing import Final

ROUNDING_S: Final = 1e-9
"""Seconds by which a moment may miss a limit and still count as on it: frame times are sums of
fractions.

Source: common practice
"""
