"""Numbers of the measures that were chosen, each with where it comes from.

Error bars stand in ``intervals.toml``; ranges of the quantities in ``quantities.py``.
"""

from __future__ import annotations

from typing import Final

LATER_S: Final = (0.5, 1.0)
"""Seconds after arrival between which a stance that came late is looked for.

Source: common practice
"""

BRAKING_OVER_S: Final = 0.2
"""Braking is the loss of speed over this long: about one ground contact of a run, so that what
one stride does to the hips does not pass for braking.

Source: common practice
"""

HARD_BRAKING_SHORT: Final = 1.0
"""Braking that is read harder than a usual acceleration may be harder still by this share of the
difference: places are smoothed as of players who seldom brake so hard, and a stop within a step
comes out longer.

Source: guess (runs that stop dead at 10 to 18 m/s² on rendered film read 0.6 times as hard)
"""

HEADING_OVER_M: Final = 1.5
"""The heading of a run is the direction of its last two or three short steps: a single stride
sways, and feet that chop on the spot have no direction at all.

Source: common practice
"""

START_SD_S: Final = 0.05
"""Standard deviation of the moment of leaving: a smoothed speed rises early by a frame or two.

Source: guess
"""

ARRIVAL_SD_MOST_S: Final = 0.3
"""Standard deviation of the moment of arrival at most: beyond it the place is better known from
the speed than the moment from the place.

Source: guess
"""

ARRIVAL_WITHIN_SDS: Final = 2.0
"""How many times too large the standard deviation of the moment of arrival is, as a law of how far
it may be off, since places err by less than theirs say: of 102 rendered reps with points 68 % lie
within 0.49 and 90 % within 0.97, of 103 from players alone 68 % within 0.77.

Source: chosen, insensitive between 1.6 and 3 (the same reps)
"""

ARRIVAL_BAR_SDS: Final = {"marks": 1.1, "players": 1.8}
"""Half the 90 % interval of the moment of arrival, in its standard deviations, by where metres come
from. Of 84 rendered reps with points 93 % lie within that, of 86 from players alone 94 %: wider
than asked, since 1.3, which held for 90 % of those 86, held for 80 % of 319 others.

Source: chosen, insensitive between 0.9 and 2 (the same reps)
"""

ARRIVAL_VAGUE_S: Final = 0.15
"""Half that interval from which on the page says that the moment is vague: a stance changes within
it.

Source: guess
"""

ARRIVAL_STEPS_SDS: Final = (-2.0, -1.5, -1.0, -0.5, 0.5, 1.0, 1.5, 2.0)
"""Moments around arrival at which a stance is read again for its error bar, in standard deviations.

Source: definition
"""

SURER_WITH_POINTS: Final = {"knee_bend_deg": 0.85, "trunk_lean_deg": 0.7}
"""By what the margins of a stance at arrival are shortened where points are marked, by measure.
With points, closeouts err less than the margins say, those of the lean having been found on
movement of every kind; from players alone, whose camera errs too, they err as much.

Source: guess (of 111 readings of closeouts in no fit, 91 and 92 % lie inside, 95 and 99 % without)
"""

BY_SIDE: Final = {
    "knee_bend_deg": {"front": 1.2, "behind": 0.9},
    "trunk_lean_deg": {"side": 1.1, "behind": 0.85},
    "hip_drop": {"behind": 1.2},
}
"""By what the margins of a stance at arrival are lengthened, by measure and side seen. A knee that
bends toward the camera shows least of it; a trunk seen from behind is hidden by nothing. Of 399
readings of 246 closeouts, in no fit, 84 % of knees seen from the front lie inside the margins
alone, and 93 % of those seen from behind.

Source: guess (chosen on those)
"""

HIDDEN_OFF: Final = {
    "knee_bend_deg": (8.0, 6.5),
    "trunk_lean_deg": (3.0, 3.5),
    "hip_drop": (0.025, 0.03),
    "hand_reach": (0.003, 0.003),
    "hand_height": (0.045, 0.045),
    "base_width": (1.3, 1.6),
}
"""By measure of the stance, how much lower and how much higher its truth may be than what stands in
for a hidden step says, beyond what a stance that is seen may be off: on either side as much as 19
in 20 are, in the measure's unit. Found on true stances of 100 rendered closeouts; of 78 others the
knee bend asks for 7 and 4.5.

Source: guess (19 in 20 on either side, of steps hidden anywhere around the arrival)
"""

LATER_OFF: Final = {"late_knee_bend_deg": (0.0, 9.0)}
"""The same of a stance that is read after arrival, where attacker and defender stand in front of
each other, beyond what one at arrival may be off: bent knees are then read too straight.

Source: guess (of 146 readings of 134 rendered closeouts, in no fit, 88 % lie inside, 73 % without)
"""

ONSET_SD_MOST_S: Final = 0.3
"""Standard deviation of the moment at which braking begins at most, and where the braking was not
seen.

Source: guess
"""

ONSET_BRAKING_LEAST_MPS2: Final = 3.0
"""A weaker braking makes the moment at which it begins no vaguer: who ran on without braking does
not have an onset that could lie anywhere in his run.

Source: guess (at 3.0 one factor covers runs that brake, brake late and never brake)
"""

SPEED_SD_LEAST_MPS: Final = 0.05
"""Standard deviation of a speed against another speed of the same run at least, once the error of
the scale, which they share, is taken out.

Source: guess
"""

AT_ONCE_S: Final = 0.3
"""A player first seen running and brakes this soon may have been faster before.

Source: guess
"""

VAGUE_TIMES: Final = 2.0
"""A place with a standard deviation this many times the run's median is left out of the path's
shape.

Source: guess
"""

UNSEEN_FRAMES: Final = 2.0
"""A film that ends within this many frames of the last moment looked at has shown it all.

Source: guess
"""

STATED_SD_FRAMES: Final = 12**-0.5
"""Standard deviation, in frames, of an arrival that the coach has stepped to: it lies anywhere
within half a frame of the one he chose.

Source: definition
"""
