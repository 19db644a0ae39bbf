"""Numbers of the served pages that were chosen, each with where it comes from."""

from __future__ import annotations

from typing import Final

FRAME_WIDTH_PX: Final = 1920
"""Width of a picture sent to the page at most.

Source: common practice
"""

KEPT_FRAMES: Final = 24
"""So many pictures are kept, so that a browser that goes back and forth gets them at once.

Source: guess
"""

GRID_STEP_M: Final = 2.0
"""Side of the squares of the grid drawn over the picture.

Source: guess
"""

GRID_MARGIN_M: Final = 2.0
"""How far the grid goes beyond the layout.

Source: guess
"""

LINE_POINTS: Final = 60
"""Points along a line of the grid, which a lens bends and the picture's edge cuts.

Source: guess
"""

RING_POINTS: Final = 121
"""Points along the crease.

Source: guess
"""

MAX_BODY_BYTES: Final = 1_000_000
"""A longer request is refused: all points of a practice are a few kilobytes.

Source: guess
"""

SHUTDOWN_S: Final = 2
"""So long a picture or a clip on its way may take once the server is stopped.

Source: guess
"""
