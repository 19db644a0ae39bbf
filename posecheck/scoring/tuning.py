"""Numbers of the scoring room that were chosen, each with where it comes from."""

from __future__ import annotations

from typing import Final

FOLLOWED_WITHIN: Final = 0.15
"""The hips count as followed within this share of the player's height in the picture.

Source: guess
"""

FOLLOWED_SHARE: Final = 0.5
"""The right player counts as chosen when he is followed in more than this share of the frames.

Source: definition
"""

SAME_MOMENT_S: Final = 0.02
"""A measured frame and a true one nearer in time than this show the same moment: less than a frame
at 30 a second.

Source: guess
"""

ARRIVAL_WITHIN_FRAMES: Final = 2
"""An arrival counts as right within this many frames.

Source: definition
"""

BENCHMARK_QUALITY: Final = 23
"""Constant rate factor with which films for the benchmark are encoded: about that of phones.

Source: common practice
"""
