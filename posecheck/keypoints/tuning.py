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
"""Seconds between readings of a defender who stands.

Source: guess
"""

ATTACKER_SPACING_S: Final = 0.2
"""Seconds between readings of the attacker: he stands and waits, and where he is follows from many
of them. With twice as many, figures of 16 development clips came out no nearer to the truth.

Source: guess
"""

MOST_HIDDEN: Final = 0.5
"""With more than this share of his box behind the box of one who stands nearer a player is not
read: the model would give the nearer one's limbs for his.

Source: guess
"""

SAME_LINE: Final = 0.015
"""Share of a player's height within which two boxes end at the same line, so that who stands nearer
is not known. Of development frames in which he is covered by the other, those within 0.01 of it are
read a tenth of his height off, if at all; where the other ends lower by 0.01 to 0.03 he is the
nearer one in 83 of 85.

Source: guess
"""

NEARER_OVER_S: Final = 0.33
"""Seconds before one of two players covers the other, over which the median height of their feet in
the picture tells who is nearer. In 34 stretches of development film only one of the two is seen
once they overlap: in 14 his feet were lower before, and he is the nearer one or level; in 16 of the
20 others the other one is.

Source: guess
"""

# -- the heavy model around arrival --------------------------------------------------------------

CLOSE_HEIGHTS: Final = 0.3
"""The defender has probably arrived when, to within this many heights, he is as near to the
attacker as he will be: in 90 % of 108 rendered clips between 0.33 s too early and 0.46 s too late.

Source: guess
"""

CLOSE_DEPTH_HEIGHTS: Final = 4.0
"""Turns the logarithm of two players' sizes in the picture, one over the other, into heights that
one of them is further away.

Source: chosen, insensitive between 2 and 7 (the same clips)
"""

APART_HEIGHTS: Final = 3.0
"""As far apart as this in between, and nearing each other again is another rep.

Source: guess
"""

CLOSE_S: Final = (-0.45, 0.4)
"""Seconds before and after the probable arrival over which the heavy model reads the defender: each
reading costs as much as four by the usual model. Of the 0.3 s before and after the true arrival
70 % lie within, in 76 rendered clips of foreign lenses, bodies and looks; from -0.75 to 0.65 s it
would be 81 %, but the knee bend at arrival came out no nearer to the truth.

Source: guess
"""

CLOSE_SPACING_S: Final = 1 / 35
"""Seconds between its readings, at least about: every frame at 30 a second, every other at 60.

Source: guess
"""

CROPS_AHEAD: Final = 2
"""Frames whose crops are cut out on a thread of their own before they are read. It changes no
figure.

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
"""Longest gap that is filled in: seconds between two sightings less the usual one frame. For one
who is read less often it is the time between two readings, where that is longer.

Source: guess
"""

MIN_RUN: Final = 5
"""Fewer sightings in a row than this cannot carry a cubic smoothing spline; they stay as they are.

Source: definition (what scipy's smoothing spline asks for)
"""

# -- left and right, and jumps -------------------------------------------------------------------
# Costs are negative logarithms of probabilities. Where a source says "spread clips", what was
# compared is how many frames of 109 rendered clips have left and right wrong afterwards. A real man
# on film showed that five frames must be looked at, not three; no value was chosen by him.

SCALE_OVER_S: Final = 0.25
"""Seconds before and after a frame over which the scale of a body in the picture is taken.

Source: guess
"""

LEAST_STEP_S: Final = 0.025
"""Frames nearer together than this show too little movement to judge it: at higher rates than 40 a
second every second, third ... frame is judged with its like.

Source: guess
"""

LANDMARK_NOISE_M: Final = 0.03
"""Standard deviation of a landmark about its place, along each axis, in metres. At 0.02, noise of 2
cm that changes from frame to frame would pass for jumps.

Source: chosen, insensitive between 0.02 and 0.04 (spread clips)
"""

NEXT_WEIGHT: Final = 0.5
"""Weight of the unevenness of three frames in a row; what is seen of them overlaps with the rest.

Source: chosen, insensitive between 0.3 and 0.8 (spread clips)
"""

FAR_WEIGHT: Final = 0.3
"""The same for three of five frames that are not in a row.

Source: chosen, insensitive between 0.2 and 0.5 (spread clips)
"""

TRUNK_TURN_MPS2: Final = 10.0
"""Standard deviation of the acceleration of half the way between shoulders or hips.

Source: chosen, insensitive between 7 and 15 (spread clips)
"""

LIMB_TURN_MPS2: Final = 30.0
"""The same for elbows, wrists, knees and ankles.

Source: chosen, insensitive between 15 and 50 (spread clips)
"""

SURPRISE_COST: Final = 4.0
"""No landmark may make one assignment of left and right less likely than by this.

Source: chosen, insensitive between 3 and 8 (spread clips)
"""

EXCHANGED_COST: Final = 0.3
"""Of a frame whose left and right are exchanged. Less than its rarity would give (one frame in
twenty), as such frames come in stretches.

Source: chosen, insensitive between 0.2 and 0.6 (spread clips)
"""

LABELS_CHANGE_COST: Final = 0.5
"""Of left and right becoming exchanged, or right again, from one frame to the next.

Source: chosen, insensitive between 0.2 and 1 (spread clips)
"""

TOGETHER_COST: Final = 1.5
"""Of one of two groups that hang together (hips and legs, say) being exchanged without the other.

Source: chosen, insensitive between 1 and 2.5 (spread clips)
"""

ROUNDS: Final = 3
"""How often each group is judged again, with what was found of its neighbours.

Source: chosen, insensitive between 2 and 5 (spread clips)
"""

LIKE_COST: Final = 1.0
"""No landmark may speak by more than this for the sides that another reading has.

Source: guess
"""

UNDECIDED: Final = 0.1
"""With a probability between this and one less it, a frame's left and right are not decided.

Source: guess
"""

SAME_PLACE_M: Final = 0.1
"""Nearer together than this in the picture it does not matter which of two landmarks is left.

Source: guess
"""

TRUNK_MPS2: Final = 20.0
"""Standard deviation of the acceleration of head, shoulders and hips. In captured running, jumping,
basketball and soccer at 30 frames a second 99 % of it is below 30.

Source: guess
"""

LIMB_MPS2: Final = {
    "elbow": 80.0,
    "wrist": 120.0,
    "pinky": 120.0,
    "index": 120.0,
    "thumb": 120.0,
    "knee": 100.0,
    "ankle": 140.0,
    "heel": 140.0,
    "foot_index": 140.0,
}
"""The same for parts of limbs. In the captured movement 99 % is below 50 for wrists, 60 for knees
and 95 for ankles, and a soccer kick reaches 160; in rendered sprints the ankles' 99 % is 210. With
these values and 1 cm of noise none of 218,000 captured landmarks counts as a jump at 24, 30 or 60
frames a second, and 2 of 355,000 rendered ones do (trunk apart); with half of them 320 do.

Source: guess
"""

MOST_SHAKE_M: Final = 0.15
"""A camera that shakes displaces all landmarks of a frame alike by up to this at the player's
distance; more is another body.

Source: guess
"""

JUMP_SURPRISE_COST: Final = 8.0
"""No three frames may speak for a jump by more than this.

Source: guess
"""

LEFT_OUT_COST: Final = 3.0
"""Of a frame in which a landmark is left out; must be more than what its noise costs when it stays,
about 2.

Source: chosen, insensitive between 2 and 4 (landmarks of the spread clips against the truth)
"""

JUMP_STARTS_COST: Final = 2.0
"""Of a landmark's leaving its path, or coming back to it, from one frame to the next.

Source: chosen, insensitive between 1 and 3 (landmarks of the spread clips against the truth)
"""
