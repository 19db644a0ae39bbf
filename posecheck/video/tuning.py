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

SQUARE_ENOUGH: Final = 0.005
"""Share by which a pixel may be wider or taller than square and be left as it is: less than the
error of any measure.

Source: guess
"""

PIXEL_SHAPES: Final = (0.25, 4.0)
"""Widths of a pixel over its height that a film may state; others are errors, and passed over. The
widest in use are those of 2:1 wide-screen film.

Source: common practice
"""

MAX_OUT_OF_PLACE: Final = 16
"""Places by which the time of a picture may be out of order: the most pictures that a decoder keeps
until their turn comes.

Source: published, ITU-T H.264, A.3.1 (MaxDpbFrames, from memory)
"""

CAPTURE_HZ_RANGE: Final = (60.0, 2000.0)
"""Pictures a second that a phone may say it took to make slow motion; others are errors.

Source: guess
"""

LEAST_TAGGED_SLOW: Final = 1.5
"""Times slower than life from which on a tag is believed to speak of slow motion.

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

SEEK_BACK_S: Final = (0.0, 2.0, 10.0, 60.0, 1e6)
"""Seconds before the start of a stretch at which its key frame is looked for, one after another,
the last one before any film begins: a file may say of no packet, or of a wrong one, where to go on.

Source: guess
"""

OUT_OF_ORDER_PACKETS: Final = 64
"""Packets that may be stored before one that is shown earlier, at most, or before the sound that is
heard with them: codecs keep no more than 16 pictures, files a second or two of each stream.

Source: guess
"""

FRAMES_AHEAD: Final = 2
"""Decoded frames that wait to be used, at least: one is decoded while another is worked on.

Source: guess
"""

AHEAD_BYTES: Final = 30_000_000
"""Memory in bytes up to which more of them wait. While people are searched for, ten frames of 1080p
film can be decoded, and are used up in no time afterwards.

Source: guess
"""

MOST_KEPT_BYTES: Final = 640_000_000
"""Room in bytes on disk that decoded frames kept for a later stage may take: of 1080p film seven
seconds at 30 frames a second. Where they would take more they are decoded again.

Source: guess
"""

CUT_STEP_PX: Final = 64
"""Pixels in steps of which a part of a picture is turned into RGB. It changes no pixel.

Source: guess (on 430 pixels 0.4 ms against 0.8 without steps)
"""

CONVERTERS_KEPT: Final = 16
"""Sizes of such parts for which what was set up is kept.

Source: guess
"""
