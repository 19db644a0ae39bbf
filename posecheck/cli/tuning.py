"""Numbers of the commands that were chosen, each with where it comes from."""

from __future__ import annotations

from typing import Final

LEAST_REACH_M: Final = 0.3
"""A reach below this is a slip of the hand: two bodies do not come closer.

Source: guess
"""

GREATEST_REACH_M: Final = 5.0
"""A reach beyond this is one too: a run of a few steps would count as arrived at its start.

Source: guess
"""

BAR_COLUMNS: Final = 50
"""Characters of the longest bar of a benchmark.

Source: guess
"""

PAGE_EVERY_S: Final = 20.0
"""While a check runs its page is written again after so many seconds at the earliest.

Source: guess
"""

PAGE_SHARE: Final = 0.05
"""Share of the time that goes into these pages at most, however long one takes.

Source: guess
"""

PAGE_AT_LEAST_EVERY_S: Final = 600.0
"""After so many seconds it is written again though nothing is new, to say when it was.

Source: guess
"""

UNKNOWN_FILM_S: Final = 5.0
"""How long a film of unknown length is reckoned to play, seconds.

Source: guess
"""

MOST_OF_A_CLIP: Final = 0.95
"""Share of a clip at most that counts as done while it is not.

Source: guess
"""

FIRST_SAID_S: Final = 60.0
"""Without a terminal, seconds until it is first said how far a check is.

Source: guess
"""

SAID_EVERY_S: Final = 300.0
"""The same from then on.

Source: guess
"""

LOOK_EVERY_S: Final = 2.0
"""Seconds between two looks for clips that are copied in.

Source: guess
"""

LOOK_SHARE: Final = 0.1
"""Share of the time that looking takes at most.

Source: guess
"""

QUIET_S: Final = 5.0
"""Seconds without a change after which a file may be whole.

Source: guess
"""

TAKEN_ANYWAY_S: Final = 120.0
"""Seconds without a change after which one whose end is missing is no longer being copied.

Source: guess
"""
