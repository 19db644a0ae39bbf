"""Constants of reading and smoothing landmarks, with their sources."""

from __future__ import annotations

from typing import Final

NEAR_HEIGHTS: Final = 2.5
"""Heights of the players: closer together than this, arrival is imminent or has just passed.

Source: guess
"""

STILL_HEIGHTS_PER_S: Final = 0.3
"""Heights per second: slower than this, about half a metre a second, a player only shifts his feet.

Source: guess
"""

STILL_OVER_S: Final = 0.3
"""Seconds before and after a frame over which that speed is measured.

Source: guess
"""

DEPTH_HEIGHTS: Final = 7
"""Heights from the camera to a player, roughly, when a change of size is turned into a distance.

Source: guess
"""

STANDING_SPACING_S: Final = 0.1
"""Seconds between two readings of a player who stands.

Source: guess
"""

MAX_OCCLUDED: Final = 0.5
"""Share of a player's box that may lie behind the box of one who stands nearer; beyond it he is not
read, since the model would give the nearer one's limbs for his.

Source: guess
"""

CUTOFF_HZ: Final = 7.0
"""Frequency in Hz whose amplitude smoothing reduces to 0.71. Winter finds 6 Hz right for walking;
the last steps of a closeout are quicker. Knee bend on the sample clips is equally good over the
range.

Source: chosen, insensitive between 5 and 9
"""

MAX_FILL_S: Final = 0.1
"""Longest gap in seconds that is filled: the time between two sightings less the usual one frame.

Source: guess
"""

JUMP_M: Final = 0.15
"""Metres: a landmark further than this from the line between its places before and after has
jumped; to get there by itself it would need 17 g at 24 frames a second, and more at higher rates.

Source: guess
"""

MIN_RUN: Final = 5
"""Sightings in a run, at least, for a cubic smoothing spline; shorter runs stay as they are.

Source: definition
"""
