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

LINGER_S: Final = 1.0
"""So long what is left of a refused request is awaited: on this machine it is there at once.

Source: guess
"""

SHUTDOWN_S: Final = 2
"""So long a picture or a clip on its way may take once the server is stopped.

Source: guess
"""

THUMB_WIDTH_PX: Final = 480
"""Width of a picture on the contact sheet: twice what is shown, for sharp screens.

Source: common practice
"""

THUMB_HEIGHTS: Final = 2.2
"""Height of a picture on the contact sheet, in heights of the defender: he and the attacker.

Source: guess
"""

THUMB_LEAST_SHARE: Final = 0.2
"""Least share of the film's picture that a picture on the contact sheet shows, or it is a blur.

Source: guess
"""

# -- sharing on a network --------------------------------------------------------------------------

LINK_DAYS: Final = 14
"""So long a player's link opens his file.

Source: guess
"""

LEAST_PASSPHRASE: Final = 12
"""Characters of the coach's passphrase at least.

Source: guess
"""

SCRYPT_COST: Final = 2**17
"""Cost of hashing the passphrase (n): 128 MB and half a second for each try.

Source: published, OWASP Password Storage Cheat Sheet (from memory; as the next two)
"""

SCRYPT_BLOCK: Final = 8
"""Block size (r).

Source: published, OWASP Password Storage Cheat Sheet (from memory)
"""

SCRYPT_LANES: Final = 1
"""Parallel lanes (p).

Source: published, OWASP Password Storage Cheat Sheet (from memory)
"""

SHARING_PORT: Final = 8465
"""Always the same unless another is named, so that a link holds when the server is started again.

Source: guess
"""

TRIES: Final = 5
"""So many wrong passphrases one address of the network may try.

Source: common practice
"""

TRIES_IN_ALL: Final = 30
"""The same for all addresses together, for one machine can have many.

Source: guess
"""

LINK_TRIES: Final = 20
"""So many links that open nothing one address may try: an old one is opened in good faith too.

Source: guess
"""

TRIES_WITHIN_S: Final = 600
"""Over so long tries are counted.

Source: guess
"""

SESSION_S: Final = 4 * 3600
"""So long the coach need not give the passphrase again: a practice and the way home.

Source: guess
"""

MAX_FORM_BYTES: Final = 4096
"""A longer form is refused: a passphrase or a number is all there is to send.

Source: guess
"""

# -- long films ------------------------------------------------------------------------------------

FILM_PICTURE_PX: Final = (640, 640)
"""Width and height at most of a picture at which start and end are set.

Source: guess
"""

LEAST_STRETCH_S: Final = 1.0
"""A stretch of a long film is as long as this at least.

Source: guess
"""

LONGEST_REP_S: Final = 60.0
"""A rep that is set is as long as this at most.

Source: guess
"""
