"""Numbers of the sentences that were chosen. What a rep is judged by stands in thresholds.toml."""

from __future__ import annotations

from typing import Final

STRAIGHT_LEG_DEG: Final = 25.0
"""A leg whose whole error bar is under this is called straight, over it nearly straight.

Source: guess
"""

MOST_FAULTS: Final = 4
"""So many faults are said of a rep in one sentence; five are no longer heard.

Source: guess
"""
