"""Constants of what a practice says of its players, with their sources."""

from __future__ import annotations

from typing import Final

STATED_HEIGHT_SD_M: Final = 0.02
"""Standard deviation of a height on a roster, metres: rounded, last year's, and without boots.

Source: common practice
"""

LAYOUT_APART_LOG_SD: Final = 0.1
"""Standard deviation of the logarithm of how far apart the players begin, over the distance of
their cones in the layout: nobody waits exactly at his cone.

Source: guess
"""

GROUND_SD_M: Final = {"marks": 0.03, "players": 0.3}
"""Metres that what a player stands on may lie above or below the camera's ground, by where that
comes from, in the kinematic fit.

Source: guess
"""
