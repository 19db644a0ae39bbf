"""Open a clip and iterate its frames, each with its own time.

Phones film at a variable rate, so the time of a frame is its presentation timestamp times the
stream's time base, never its number over the rate. Rotation written by the phone is applied
here: everything downstream sees upright pictures only.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from posecheck.errors import UnreadableClip
from posecheck.files.digest import file_digest
from posecheck.maths.arrays import BoolArray, FloatArray, Image, Pixels
from posecheck.video.ahead import ahead
from posecheck.video.lens_tag import tagged_focal_35mm
from posecheck.video.pixels import FilmPixels, turned
from posecheck.video.tuning import FRAMES_AHEAD, MAX_UNTIMED_SHARE, MIN_FRAMES, MIN_SIDE_PX

if TYPE_CHECKING:
    import av.container


@dataclass(frozen=True)
class Frame:
    """One picture of a clip.

    Attributes:
        index: place in the clip, counting decoded frames from 0.
        t_s: presentation time in seconds, 0 at the clip's first frame.
        pixels: upright; parts of them cost less than the whole.
    """

    index: int
    t_s: float
    pixels: Pixels

    @property
    def rgb(self) -> Image:
        """``(height, width, 3)`` uint8, upright: the whole picture."""
        return self.pixels[:, :]


@dataclass(frozen=True)
class Glimpse(Frame):
    """A frame with a small grey picture of it.

    Attributes:
        grey: ``(small_height, small_width)`` uint8, upright.
    """

    grey: Image


@dataclass(frozen=True)
class Clip:
    """A readable clip: what it is, and its frames on demand.

    Attributes:
        path: the file.
        digest: SHA-256 of the content, hexadecimal; names the clip whatever the file is called.
        width_px, height_px: size of the upright picture.
        t_s: ``(n_frames,)`` seconds, strictly increasing from 0.
        rotation_deg: clockwise turn that makes the stored picture upright, 0, 90, 180 or 270.
        slow_motion: how many times slower than life the film plays (8 for 240 frames a second that
            play at 30).
        focal_35mm: focal length on film 36 mm wide that the phone wrote into the file, millimetres,
            None when it wrote none.
        stated_s: how long the film plays as the file says, None when it does not say.
    """

    path: Path
    digest: str
    width_px: int
    height_px: int
    t_s: FloatArray
    rotation_deg: int = 0
    slow_motion: float = 1.0
    focal_35mm: float | None = None
    stated_s: float | None = None

    @property
    def n_frames(self) -> int:
        """Number of frames that decode."""
        return len(self.t_s)

    @cached_property
    def rate_hz(self) -> float:
        """Median frame rate, frames per second of real time; for information, never for timing."""
        return float(1.0 / np.median(np.diff(self.t_s)))

    def frames(
        self,
        start_s: float = -np.inf,
        end_s: float = np.inf,
        which: BoolArray | None = None,
    ) -> Iterator[Frame]:
        """Yield the frames whose time lies within ``[start_s, end_s]``, in order.

        Args:
            start_s, end_s: first and last moment.
            which: ``(n_frames,)`` True for the frames wanted; None for all.

        Raises:
            UnreadableClip: the file has changed or vanished since it was opened.
        """
        if which is not None:
            if not which.any():
                return
            end_s = min(end_s, float(self.t_s[np.flatnonzero(which)[-1]]))
        yield from ahead(self._frames(start_s, end_s, which), FRAMES_AHEAD)

    def _frames(self, start_s: float, end_s: float, which: BoolArray | None) -> Generator[Frame]:
        for index, picture in self._timed_pictures(start_s, end_s):
            if which is None or which[index]:
                yield Frame(index, float(self.t_s[index]), self._pixels(picture))

    def glimpses(self, longer_side_px: int) -> Iterator[Glimpse]:
        """Yield every frame small and grey, in order.

        Args:
            longer_side_px: the longer side of the small picture; never more than the clip's own.

        Raises:
            UnreadableClip: the file has changed or vanished since it was opened.
        """
        yield from ahead(self._glimpses(longer_side_px), FRAMES_AHEAD)

    def _glimpses(self, longer_side_px: int) -> Generator[Glimpse]:
        import cv2

        shrink = min(1.0, longer_side_px / max(self.width_px, self.height_px))
        size = (round(self.width_px * shrink), round(self.height_px * shrink))
        stored_size = size[::-1] if self.rotation_deg % 180 else size
        for index, picture in self._timed_pictures(-np.inf, np.inf):
            small = cv2.resize(_luma(picture), stored_size, interpolation=cv2.INTER_AREA)
            yield Glimpse(
                index,
                float(self.t_s[index]),
                self._pixels(picture),
                turned(np.asarray(small, dtype=np.uint8), self.rotation_deg),
            )

    def _timed_pictures(self, start_s: float, end_s: float) -> Iterator[tuple[int, Any]]:
        with opened(self.path) as container:
            for index, picture in enumerate(_pictures(container)):
                if index >= self.n_frames or self.t_s[index] > end_s:
                    return
                if self.t_s[index] >= start_s:
                    yield index, picture

    def _pixels(self, picture: Any) -> Pixels:
        return FilmPixels(picture, self.rotation_deg)


def open_clip(path: Path, slow_motion: float = 1.0) -> Clip:
    """Read a clip's shape and the time of each of its frames.

    The whole film is decoded once (without keeping pictures), so that the number of frames and
    their times are those that :meth:`Clip.frames` delivers. A film whose end is damaged is read
    up to the damage.

    Args:
        path: the file.
        slow_motion: how many times slower than life the film plays.

    Raises:
        UnreadableClip: not there, no permission, not a video, no picture, too few frames.
    """
    digest = file_digest(path)
    with opened(path) as container:
        focal_35mm = tagged_focal_35mm(
            {**container.metadata, **container.streams.video[0].metadata}
        )
        stated_s = _stated_s(container)
        times: list[float] = []
        n_decoded = width = height = rotation = 0
        for picture in _decoded(container):
            if not n_decoded:
                # PyAV gives the counter-clockwise turn of the display matrix.
                rotation = round(-picture.rotation / 90) * 90 % 360
                width, height = picture.width, picture.height
            n_decoded += 1
            if (time_s := _time_s(picture)) is not None and (not times or time_s > times[-1]):
                times.append(time_s)
    if len(times) < (1 - MAX_UNTIMED_SHARE) * n_decoded:
        raise UnreadableClip(
            path, "its frame times run backwards", "export it again as an ordinary MP4"
        )
    if len(times) < MIN_FRAMES:
        raise UnreadableClip(
            path,
            f"only {len(times)} frame{'' if len(times) == 1 else 's'} could be read from it",
            "copy it from the phone again, or film the whole rep",
        )
    if min(width, height) < MIN_SIDE_PX:
        raise UnreadableClip(
            path, f"the picture is only {width} x {height} pixels", "film at 720p or better"
        )
    t_s = (np.asarray(times) - times[0]) / slow_motion
    if rotation % 180:
        width, height = height, width
    return Clip(path, digest, width, height, t_s, rotation, slow_motion, focal_35mm, stated_s)


def _stated_s(container: av.container.InputContainer) -> float | None:
    import av

    stream = container.streams.video[0]
    if stream.duration is not None and stream.time_base is not None:
        return float(stream.duration * stream.time_base)
    return None if container.duration is None else container.duration / av.time_base


@contextmanager
def opened(path: Path) -> Iterator[av.container.InputContainer]:
    """A film, to be read for the block.

    Raises:
        UnreadableClip: not a video, or no picture in it.
    """
    import av
    import av.error

    try:
        # "file:" because a name may hold a colon; nothing but files because a playlist with a
        # clip's name must not reach a network.
        container = av.open(f"file:{path}", options={"protocol_whitelist": "file"})
    except (av.error.FFmpegError, OSError):
        raise UnreadableClip(
            path, "this is not a video, or it is damaged", "copy it from the phone again"
        ) from None
    with container:
        if not container.streams.video:
            raise UnreadableClip(path, "there is sound but no picture in it", "film it again")
        yield container


def _pictures(container: av.container.InputContainer) -> Iterator[Any]:
    """The pictures that have a time of their own, later than all earlier ones."""
    last = -np.inf
    for picture in _decoded(container):
        if (time_s := _time_s(picture)) is not None and time_s > last:
            last = time_s
            yield picture


def _decoded(container: av.container.InputContainer) -> Iterator[Any]:
    """Decode until the end or until the first damage."""
    import av.error

    stream = container.streams.video[0]
    # Frames are decoded ahead on a thread; more of FFmpeg's own would hold a frame each, and take
    # the cores that other workers measure on.
    stream.codec_context.thread_count = 1
    try:
        yield from container.decode(stream)
    except av.error.FFmpegError:
        return


def _time_s(picture: Any) -> float | None:
    return None if picture.pts is None else float(picture.pts * picture.time_base)


def _luma(picture: Any) -> Image:
    """The brightness of a decoded picture, without a copy where it has a plane of its own."""
    form = picture.format
    if form.is_rgb or len(picture.planes) == 1 or form.components[0].bits != 8:
        return np.asarray(picture.to_ndarray(format="gray"), dtype=np.uint8)
    plane = picture.planes[0]
    rows = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
    return rows[:, : plane.width]
