"""Single small pictures of a film, wherever in it, without decoding what comes before."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from posecheck.errors import UnreadableClip
from posecheck.maths.arrays import Image
from posecheck.maths.stopwatch import Stage, stage
from posecheck.video.decoding import opened

if TYPE_CHECKING:
    import av.container


def pictures_at(
    path: Path, times_s: Iterable[float], within_px: tuple[int, int], *, key_frames: bool = False
) -> Iterator[Image]:
    """The picture on show at each of some moments.

    Args:
        path: of the film.
        times_s: seconds of the film as it plays, 0 at its first picture; beyond its ends its first
            and last picture are on show.
        within_px: the picture is shrunk until it is no wider and no higher than this.
        key_frames: give the last picture before that is stored by itself: some ten times cheaper,
            and on a phone's film within a second.

    Yields:
        ``(height, width, 3)`` uint8, upright, as many as there are moments.

    Raises:
        UnreadableClip: the film cannot be read there.
    """
    import av.error

    with opened(path) as container:
        stream = container.streams.video[0]
        stream.thread_type = "AUTO"
        if key_frames:
            stream.codec_context.skip_frame = "NONKEY"
        try:
            for time_s in times_s:
                with stage(Stage.DECODING):
                    picture = _picture_at(container, stream, max(time_s, 0.0), key_frames)
                if picture is None:
                    raise UnreadableClip(
                        path,
                        f"there is no picture at {time_s:.1f} s",
                        "copy it from the phone again",
                    )
                yield _small(picture, stream.sample_aspect_ratio, within_px)
        except av.error.FFmpegError:
            raise UnreadableClip(
                path, "it is damaged within", "copy it from the phone again"
            ) from None


def _picture_at(
    container: av.container.InputContainer, stream: Any, time_s: float, key_frames: bool
) -> Any | None:
    at = (stream.start_time or 0) + round(time_s / float(stream.time_base))
    container.seek(at, stream=stream, backward=True)
    on_show = None
    for picture in container.decode(stream):
        if picture.pts is None:
            continue
        if on_show is not None and picture.pts > at:
            break
        on_show = picture
        if key_frames:
            break
    return on_show


def _small(picture: Any, pixel_shape: Any, within_px: tuple[int, int]) -> Image:
    """Shrunk, with square pixels, upright."""
    # PyAV gives the counter-clockwise turn of the display matrix.
    turns = round(picture.rotation / 90) % 4
    wide, high = picture.width * float(pixel_shape or 1), picture.height
    most_wide, most_high = within_px[::-1] if turns % 2 else within_px
    shrink = min(1.0, most_wide / wide, most_high / high)
    size = max(1, round(wide * shrink)), max(1, round(high * shrink))
    rgb = picture.reformat(*size, format="rgb24", interpolation="AREA").to_ndarray()
    return np.ascontiguousarray(np.rot90(rgb, k=turns), dtype=np.uint8)
