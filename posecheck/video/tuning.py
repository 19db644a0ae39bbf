"""Constants of reading clips, with their sources."""

from __future__ import annotations

from typing import Final

MIN_FRAMES: Final = 5
"""Fewest frames of a clip: fewer hold no movement to measure.

Source: guess
"""

MIN_SIDE_PX: Final = 64
"""Pixels of the shorter side of a picture, at least: a smaller one shows no player.

Source: guess
"""

MAX_UNTIMED_SHARE: Final = 0.05
"""Share of the frames that may be left out because they have no later time of their own: phones
repeat a time now and then; a larger share is a film that was put together wrongly.

Source: guess
"""

TAGGED_35MM_RANGE: Final = (8.0, 600.0)
"""Focal lengths on film 36 mm wide that a tag may give, millimetres; others are errors.

Source: guess
"""

SOUND_RATE_HZ: Final = 16_000
"""Samples a second at which sound is read: a clap is broad enough.

Source: common practice
"""
