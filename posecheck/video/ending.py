"""Whether a film's file is there to its end, without decoding it."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from posecheck.errors import UnreadableClip
from posecheck.video.decoding import opened
from posecheck.video.film import read_header
from posecheck.video.transport_stream import breaks_off

# Not in tuning.py, because no figure depends on these.

LAST_PART_S: Final = 2.0
"""To see whether a film is there to its end this much of it is gone through, seconds.

Source: guess
"""

LOST_AT_END_S: Final = 0.5
"""Seconds by which pictures may end before the film does: sound often goes on a little.

Source: guess
"""


def has_its_end(path: Path) -> bool:
    """Whether the file opens and its last pictures are in it; False while it is being copied.

    Of a file that does not say how long it plays only the first can be known, and whether it breaks
    off in the midst of something.
    """
    import av
    import av.error

    try:
        if breaks_off(path):
            return False
        played_s = read_header(path).played_s
        if played_s is None:
            return True
        with opened(path) as container:
            stream = container.streams.video[0]
            assert stream.time_base is not None
            start_s = float((stream.start_time or 0) * stream.time_base)
            from_s = start_s + max(0.0, played_s - LAST_PART_S)
            container.seek(int(from_s * av.time_base))
            ends_s = [
                float((packet.pts + (packet.duration or 0)) * stream.time_base)
                for packet in container.demux(stream)
                if packet.pts is not None and packet.size
            ]
    except (UnreadableClip, av.error.FFmpegError, OSError):
        return False
    return bool(ends_s) and max(ends_s) - start_s >= played_s - LOST_AT_END_S
