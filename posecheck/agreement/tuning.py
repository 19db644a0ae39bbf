"""Numbers of tuning that were chosen, each with where it comes from."""

from __future__ import annotations

from typing import Final

MIN_RULINGS: Final = 20
"""Under so many rulings of right or wrong nothing is proposed.

Source: guess
"""

MIN_EACH: Final = 5
"""A limit wants so many rulings that turn on it with the fault seen, and as many without.

Source: guess
"""

FOLDS: Final = 5
"""Parts of cross-validation.

Source: common practice
"""

MAX_ROUNDS: Final = 5
"""Limits of one rule depend on each other, so they are fitted in turns: so often at most.

Source: guess
"""

SWING: Final = 0.5
"""A ruling turns on a limit when moving the limit moves the chance of the fault by so much.

Source: definition
"""

UNMOVED: Final = 0.05
"""A measure that is missing leaves a ruling in when it could move the chance of the fault by no
more than this.

Source: guess
"""

GRID: Final = 241
"""Values of a limit that are tried. The step is 0.6 % of the ruled values' range, far below any
error bar.

Source: guess
"""

PADDING: Final = 0.2
"""How far beyond the ruled values a limit is looked for, as a share of their range.

Source: guess
"""

WIDE: Final = 0.25
"""An error bar longer than this share of the ruled values' range says nothing.

Source: guess
"""

BLURS: Final = (0.01, 0.02, 0.04, 0.08, 0.16, 0.32)
"""How blurred a coach's own limit may be, as standard deviations in shares of the ruled values'
range; the likeliest is taken.

Source: guess
"""

SLIPS: Final = (0.0, 0.025, 0.05, 0.1, 0.15, 0.2, 0.25)
"""How often a coach may rule the opposite of what he sees; the likeliest is taken.

Source: guess
"""
