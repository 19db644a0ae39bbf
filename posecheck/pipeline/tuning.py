"""Constants of what a practice says of its players, with their sources."""

from __future__ import annotations

from typing import Final

STATED_HEIGHT_SD_M: Final = 0.02
"""Standard deviation of a height on a roster, metres: rounded, last year's, and without boots.

Source: common practice
"""
