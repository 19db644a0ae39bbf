"""Numbers of the practice room that were chosen, each with where it comes from."""

from __future__ import annotations

import math
from typing import Final

TOP_WITHIN_RAD: Final = math.radians(12.0)
"""A place within this angle of the goal's axis is in the middle of the field: at 12 m that is 2.5 m
to either side, a sloppily placed top cone but not yet a top-left one.

Source: common practice
"""

BEHIND_CONE_M: Final = 0.4
"""How far behind his cone, seen from the goal, the hips of somebody are who waits with his toes at
it: a cone's radius and more than half a foot.

Source: common practice
"""

BEHIND_CONE_SD_M: Final = 0.25
"""Standard deviation of the same.

Source: common practice
"""

UNDER_10_M: Final = (1.31, 0.07)
"""Mean and standard deviation of stature in metres at 8 and 9 years, both sexes.

Source: published, Kuczmarski et al., CDC growth charts, Vital Health Stat 11(246), 2002 (memory)
"""

UNDER_12_M: Final = (1.41, 0.075)
"""The same at 10 and 11 years.

Source: published, Kuczmarski et al., CDC growth charts, Vital Health Stat 11(246), 2002 (memory)
"""

UNDER_14_M: Final = (1.53, 0.085)
"""The same at 12 and 13 years.

Source: published, Kuczmarski et al., CDC growth charts, Vital Health Stat 11(246), 2002 (memory)
"""

HIGH_SCHOOL_M: Final = (1.67, 0.09)
"""The same from 14 to 18 years.

Source: published, Kuczmarski et al., CDC growth charts, Vital Health Stat 11(246), 2002 (memory)
"""

ADULTS_M: Final = (1.70, 0.095)
"""The same of grown men and women.

Source: published, Kuczmarski et al., CDC growth charts, Vital Health Stat 11(246), 2002 (memory)
"""

OF_ONE_TEAM_SD_M: Final = 0.07
"""Standard deviation of stature, metres, among players of one age and sex.

Source: published, Kuczmarski et al., CDC growth charts, Vital Health Stat 11(246), 2002 (memory)
"""

TEAM_HEIGHT_RANGE_M: Final = (1.0, 2.1)
"""Metres that players may be stated to be about as tall as.

Source: common practice
"""

LENS_RANGE: Final = (0.3, 20.0)
"""Zoom that may be stated, as the phone's screen shows it: ultra-wide lenses to the longest.

Source: guess
"""

FOCAL_35MM_RANGE: Final = (8.0, 600.0)
"""Focal length on film 36 mm wide that may be stated, millimetres.

Source: guess
"""

SAME_STRETCH_SHARE: Final = 0.5
"""Two stretches of a film are the same thing when more than this share of the shorter one lies in
the other: scans differ by tenths of a second, reps lie seconds apart.

Source: guess
"""

SLOW_MOTION_RANGE: Final = (1.0, 100.0)
"""Times slower than life that a film may be stated to play.

Source: guess
"""
