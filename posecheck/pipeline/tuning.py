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

# -- why a clip shows no rep ---------------------------------------------------------------------

MISSING_S: Final = 0.5
"""Seconds by which what can be read of a film may fall short of its stated length: sound goes on a
little longer than the pictures do, and counts where the file does not say it of each.

Source: guess
"""

AT_EDGE_PX: Final = 2.0
"""A box that ends so near the edge of the picture goes on beyond it.

Source: guess
"""

CUT_OFF_SHARE: Final = 0.5
"""A player at the edge for more than this share of the frames he is seen in is cut off.

Source: guess
"""

MANY_PEOPLE: Final = 4
"""So many people in a film are more than a rep needs: defender, attacker, the next in line.

Source: guess
"""

SLOW_GOES_M: Final = 5.0
"""Who goes so far without ever running does not shift his feet: he walks, or the film is slow.

Source: guess
"""

# -- film around the arrival ---------------------------------------------------------------------

KEPT_AFTER_S: Final = (0.05, 0.9)
"""Seconds after every moment at which the heavy model is due, over which frames are kept for the
pictures of the arrival: their looks are taken to a second after it, and where he arrives is known
to some 0.4 s beforehand.

Source: guess
"""

SLOW_GOES_HEIGHTS: Final = 3.0
"""The same in heights of the player in the picture, where no ground is known.

Source: guess
"""

WALK_HEIGHTS_PS: Final = 1.4
"""Heights a second in the picture, at most, of somebody who walks: 2.5 m/s.

Source: guess
"""

PACE_S: Final = 0.5
"""Seconds over which a pace is looked at in the picture: boxes shake.

Source: guess
"""

ELSEWHERE_S: Final = 1.0
"""Seconds for which nothing of the place filmed so far is to be seen before it is another place,
and no blurred swing of the phone: a run takes longer.

Source: guess
"""

REP_ELSEWHERE_S: Final = 2.0
"""Seconds from another place that may hold a rep: who lowers the phone stops filming before.

Source: guess
"""

APART_FROM_REP_S: Final = 0.75
"""Seconds by which a run must be apart from a rep, before its start or after its end, to be another
one and no piece of it. The next in line sets off later than that.

Source: guess
"""

LEAST_RUN_STEPS_HZ: Final = 2.3
"""Steps a second of a run, at least. People run with 2.4 and more, and walk with up to 2.2.

Source: published, Cavanagh and Kram 1989 (from memory)
"""
