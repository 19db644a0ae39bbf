"""Constants of reading and smoothing landmarks, with their sources.

A *height* is a player's own height in the picture.
"""

from __future__ import annotations

from typing import Final

# -- when a player is read -----------------------------------------------------------------------

NEAR_HEIGHTS: Final = 2.5
"""Closer together than this, in heights of the players, arrival is at hand or just over, and the
defender is read in every frame.

Source: guess
"""

STILL_HEIGHTS_PER_S: Final = 0.3
"""Slower than this, about half a metre a second, a player only shifts his feet.

Source: guess
"""

STILL_OVER_S: Final = 0.3
"""Seconds before and after a frame over which a player's speed is taken.

Source: guess
"""

HEIGHTS_AWAY: Final = 7
"""Heights from camera to player taken for granted, about 12 m: turns a change of size into a
distance.

Source: guess
"""

STANDING_SPACING_S: Final = 0.1
"""Seconds between readings of a player who stands.

Source: guess
"""

MOST_HIDDEN: Final = 0.5
"""With more than this share of his box behind the box of one who stands nearer a player is not
read: the model would give the nearer one's limbs for his.

Source: guess
"""

# -- smoothing -----------------------------------------------------------------------------------

CUTOFF_HZ: Final = 7.0
"""Frequency whose amplitude falls to 0.71. Winter (Biomechanics and Motor Control of Human
Movement, 4th ed., 2009, from memory) finds 6 Hz right for walking; a closeout's last steps are
quicker. What was compared is the knee bend on the sample clips.

Source: chosen, insensitive between 5 and 9
"""

MAX_FILL_S: Final = 0.1
"""Longest gap that is filled in: seconds between two sightings less the usual one frame.

Source: guess
"""

JUMP_M: Final = 0.15
"""A landmark this far off the line between its places before and after has jumped; to get there
by itself it would take 17 g at 24 frames a second, and more at higher rates.

Source: guess
"""

MIN_RUN: Final = 5
"""Fewer sightings in a row than this cannot carry a cubic smoothing spline; they stay as they are.

Source: definition (what scipy's smoothing spline asks for)
"""

# -- left and right, and jumps -------------------------------------------------------------------

LANDMARK_NOISE_M: Final = 0.02
NEXT_WEIGHT: Final = 0.5
FAR_WEIGHT: Final = 0.3
LEAST_STEP_S: Final = 0.025
TRUNK_TURN_MPS2: Final = 10.0
LIMB_TURN_MPS2: Final = 30.0
SURPRISE_COST: Final = 4.0
EXCHANGED_COST: Final = 0.4
LABELS_CHANGE_COST: Final = 0.5
TOGETHER_COST: Final = 1.5
ROUNDS: Final = 4
UNDECIDED: Final = 0.1
SAME_PLACE_M: Final = 0.1
TRUNK_MPS2: Final = 15.0
LIMB_MPS2: Final = {"elbow": 40.0, "wrist": 60.0, "pinky": 60.0, "index": 60.0, "thumb": 60.0, "knee": 50.0, "ankle": 70.0, "heel": 70.0, "foot_index": 70.0}
MOST_SHAKE_M: Final = 0.15
LEFT_OUT_COST: Final = 3.0
JUMP_STARTS_COST: Final = 1.0
