"""Pictures with times of their own, written as a film that plays in any browser."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

from posecheck.maths.tuning import ROUNDING_S
from posecheck.pages.overlay import Picture
from posecheck.pages.tuning import FILM_CRF, KEY_FRAME_EVERY_S
from posecheck.video.own_film import METADATA

TIME_BASE = Fraction(1, 90_000)
"""Of the times in a film, seconds.

Source: definition (the clock of MPEG)
"""


def write_mp4(
    path: Path, size_px: tuple[int, int], pictures: Iterable[tuple[float, Picture]]
) -> int:
    """Write H.264 in an MP4 whose index stands in front, with a key frame every half second
    and a comment by which it is known again.

    Args:
        path: of the file, whatever its ending.
        size_px: width and height of every picture, even numbers.
        pictures: with their times in seconds, increasing from 0.

    Returns:
        How many pictures were written.

    Raises:
        OSError: the folder cannot be written to, or the disk is full.
    """
    import av

    written, key_frame_s = 0, 0.0
    options = {"movflags": "faststart"}
    with av.open(f"file:{path}", "w", format="mp4", options=options) as container:
        container.metadata.update(METADATA)
        stream = container.add_stream("libx264", rate=30)
        stream.width, stream.height = size_px
        stream.pix_fmt = "yuv420p"
        # Key frames where they are asked for and nowhere else. No frame refers to a later one:
        # with uneven times the last ones would lie beyond the stated end, and not be played.
        stream.options = {
            "preset": "veryfast",
            "crf": str(FILM_CRF),
            "x264-params": "keyint=infinite:scenecut=0:forced-idr=1:bframes=0",
        }
        stream.codec_context.time_base = TIME_BASE
        stream.codec_context.thread_count = 2
        for t_s, picture in pictures:
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts = round(t_s / TIME_BASE)
            frame.time_base = TIME_BASE
            if t_s >= key_frame_s - ROUNDING_S:
                frame.pict_type = av.video.frame.PictureType.I
                key_frame_s = t_s + KEY_FRAME_EVERY_S
            container.mux(stream.encode(frame))
            written += 1
        container.mux(stream.encode(None))
    return written


def duration_s(path: Path) -> float:
    """How long a film plays, as its index says."""
    import av

    with av.open(f"file:{path}") as container:
        return (container.duration or 0) / av.time_base
