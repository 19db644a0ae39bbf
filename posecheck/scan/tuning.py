"""Constants of scanning long films, with their sources."""

from __future__ import annotations

from typing import Final

# -- watching the film -----------------------------------------------------------------------------

LOOK_STEP_S: Final = 0.1
"""Seconds between two looks at a long film: a sprinter goes a quarter of his height.

Source: guess
"""

LOOKS_BACK: Final = 2
"""Looks over which motion is seen: over 0.2 s a walker goes a sixth of his height, and one who
shifts his weight hardly anything.

Source: guess
"""

TINY_PX: Final = 160
"""Pixels of the longer side of the pictures that are compared from frame to frame.

Source: guess
"""

JUMP_GREY: Final = 20
"""Grey levels, of 255, by which a pixel is clearly another than in the frame before.

Source: guess
"""

JUMP_SHARE: Final = 0.001
"""Share of the pixels that are clearly others where the film jumps, at least: one player 60 px tall
in 1080p who is suddenly elsewhere.

Source: guess
"""

JUMP_OF_OTHERS: Final = 4.0
"""How many times more pixels that is than from any frame to the next just before and after.

Source: guess
"""

JUMP_OTHERS_S: Final = 0.3
"""Seconds before and after in which other changes are compared with that of a jump.

Source: guess
"""

LOST_PLACE_S: Final = 0.5
"""Seconds for which nothing of the place filmed so far is to be seen before it is another place:
somebody who passes close by hides it for less.

Source: guess
"""

# -- who runs at whom -----------------------------------------------------------------------------

APART_S: Final = 0.4
"""Seconds for which two must be apart before they can come together once more, or for which a run
may be slower, lost or hidden.

Source: guess
"""

LONGEST_RUN_S: Final = 8.0
"""Seconds that a run at somebody takes at most, with the wait before it.

Source: guess
"""

SPEED_STEP_S: Final = 0.4
"""Seconds over which a speed across the picture is read: a stride or two.

Source: guess
"""

BACK_WITHIN_S: Final = 25.0
"""Seconds after a rep within which a run from where it ended leads back.

Source: guess
"""

BACK_HEIGHTS: Final = 3.0
"""Heights from the end of a rep within which such a run begins.

Source: guess
"""

BACK_RATIO: Final = (0.6, 1.7)
"""Ratio of the height of who leaves to that of who arrived, within which they may be one, or be as
far away: boxes of one player, upright and crouching, lie within it.

Source: guess
"""

DEPTH_STEP_S: Final = 1.4
"""Seconds over which it is read whether somebody runs along the line of sight: his size alone shows
it, and changes as much when he crouches as over a metre or two.

Source: guess
"""

MIN_DEPTH_RUN_HEIGHTS: Final = 1.8
"""Heights that a runner must cover whose gap to the one he runs at does not show it.

Source: guess
"""

DEPTH_RUN_SPEED: Final = 0.8
"""Heights/s over that time, at least: what a crouch may do to his size has been taken off, which is
more than a walk.

Source: guess
"""

# -- stretches -------------------------------------------------------------------------------------

MOVING_HEIGHT: Final = 0.08
"""Height of something that moves, over the shorter side of the picture, from which on people are
looked for: the legs of the smallest player who can be followed, running.

Source: guess
"""

QUIET_S: Final = 1.0
"""Seconds of a part that is followed in which nothing may move: within it, and at its end.

Source: guess
"""

BEFORE_MOVING_S: Final = 2.0
"""Seconds that a part begins before anything moves in it: a player about to run crouches, and is
found less easily than one who stands.

Source: guess
"""

LEAST_MOVING_S: Final = 0.6
"""Seconds for which something must move: a run of 3 m takes longer.

Source: guess
"""

LONGEST_PART_S: Final = 16.0
"""Seconds of the longest part that is followed, without what it shares with the next: memory grows
with it, and the fewer parts the less is followed twice.

Source: guess
"""

PARTS_SHARE_S: Final = 6.0
"""Seconds that two parts share: a run and the contact after it are in one of them whole.

Source: guess
"""

SAME_RUN_S: Final = 1.0
"""Seconds between the arrivals of one run found twice, at most.

Source: guess
"""

BEFORE_START_S: Final = 1.5
"""Seconds of film before a run: his standing height is read there, and who stands is found.

Source: guess
"""

UNSEEN_START_S: Final = 2.0
"""Seconds more before a run in which he comes into view running: ten metres take a sprinter so
long, and most of them are to be seen.

Source: guess
"""

AFTER_ARRIVAL_S: Final = 2.0
"""Seconds of film after a runner is near: the second after arrival is measured, and arrival may be
up to a second later.

Source: guess
"""
