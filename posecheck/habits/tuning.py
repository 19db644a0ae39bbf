"""Numbers of the habits that were chosen, each with where it comes from."""

from __future__ import annotations

from typing import Final

SHARED_ERROR: Final = 0.3
"""Share of the variance of a reading's error that all reps of a practice have in common: the same
player seen by the same camera is misread in the same direction, and no number of reps averages
that out. In rendered film two clips of one body seen from like sides share 0 (knee bend, trunk
lean) to 0.29 (hands out) of it, in 30 pairs.

Source: guess (from those pairs, at the cautious end)
"""

MIN_REPS: Final = 2
"""Reps of a practice, at the least, for it to be set against the earlier ones.

Source: guess
"""

MIN_SPREAD_DF: Final = 3
"""Degrees of freedom, at the least, with which a player's spread between reps must be known
before any difference is looked at.

Source: guess
"""

MIN_SIDE_REPS: Final = 3
"""Reps of either kind, at the least, over all practices, before late reps are compared with early
ones, or left with right.

Source: guess
"""

MIN_DATES: Final = 5
"""Practices, at the least, for a trend: with four, Kendall's exact test cannot come below 8 %,
however orderly they are.

Source: definition
"""

MOST_DATES_ORDERED: Final = 8
"""Practices, at the most, of which every order is gone through for the trend of shares: of eight
there are 40,320, of nine nine times as many.

Source: guess
"""

FALSE_CALLS: Final = 0.1
"""Greatest expected share of calls that are false, over all players and measures of one question.

Source: common practice
"""

DAYS_A_MONTH: Final = 30.0
"""Days over which a trend is written.

Source: definition
"""
