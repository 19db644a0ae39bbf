"""Open a clip and iterate its frames, each with its own time.

Phones film at a variable rate, so the time of a frame is its presentation timestamp times the
stream's time base, never its number over the rate. Rotation written by the phone and the shape of
its pixels are applied here: everything downstream sees upright pictures with square pixels only.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from posecheck.errors import UnreadableClip
from posecheck.files.digest import file_digest
from posecheck.maths.arrays import BoolArray, FloatArray, Image, Pixels
from posecheck.maths.stopwatch import Stage, each_in_stage
from posecheck.video.ahead import ahead
from posecheck.video.as_stored import NotAsStored, stored_times
from posecheck.video.capture_tag import tagged_slow_motion
from posecheck.video.decoding import opened, pictures, stated_length_s, time_s
from posecheck.video.frame_times import frame_times, lost_within_s
from posecheck.video.kept_frames import KeptFrames
from posecheck.video.lens_tag import tagged_focal_35mm
from posecheck.video.pixels import FilmPixels, square_size, turned
from posecheck.video.transport_stream import breaks_off
from posecheck.video.tuning import (
    AHEAD_BYTES,
    FRAMES_AHEAD,
    MIN_FRAMES,
    MIN_SIDE_PX,
)

if TYPE_CHECKING:
    pass


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
        width_px, height_px: size of the upright picture with square pixels.
        t_s: ``(n_frames,)`` seconds, strictly increasing from 0.
        rotation_deg: clockwise turn that makes the stored picture upright, 0, 90, 180 or 270.
        slow_motion: how many times slower than life the film plays (8 for 240 frames a second that
            play at 30).
        slow_by_tag: True when that is not stated but read from the file's own tag.
        focal_35mm: focal length on film 36 mm wide that the phone wrote into the file, millimetres,
            None when it wrote none.
        stated_s: how long the film plays as the file says, None when it does not say.
        lost_within_s: how much of that cannot be read for damage before its end.
        lost_at_end_s: how much of it is missing at the end, to the length of a frame or two.
        breaks_off: True when the file does not say how long it is, but ends in the midst of
            something.
        passed_over: numbers of the decoded pictures that are none of the clip's frames.
        as_stored: True when its frames and times are not those that were decoded but those that the
            file says it has; reading frames then makes sure of them.
    """

    path: Path
    digest: str
    width_px: int
    height_px: int
    t_s: FloatArray
    rotation_deg: int = 0
    slow_motion: float = 1.0
    slow_by_tag: bool = False
    focal_35mm: float | None = None
    stated_s: float | None = None
    lost_within_s: float = 0.0
    lost_at_end_s: float = 0.0
    passed_over: frozenset[int] = frozenset()
    as_stored: bool = False
    breaks_off: bool = False

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
        kept: KeptFrames | None = None,
    ) -> Iterator[Frame]:
        """Yield the frames whose time lies within ``[start_s, end_s]``, in order.

        Args:
            start_s, end_s: first and last moment.
            which: ``(n_frames,)`` True for the frames wanted; None for all.
            kept: frames decoded before, which are taken if all that are wanted are among them, and
                those to be kept of what is decoded now.

        Raises:
            UnreadableClip: the file has changed or vanished since it was opened.
            NotAsStored: it does not decode as its packets say.
        """
        if which is not None:
            if not which.any():
                return
            end_s = min(end_s, float(self.t_s[np.flatnonzero(which)[-1]]))
        within = (self.t_s >= start_s) & (self.t_s <= end_s)
        wanted = within if which is None else within & which
        there = kept.pictures(wanted) if kept else None
        decoded = self._frames(wanted, kept) if there is None else self._read(there)
        yield from ahead(decoded, self._frames_ahead)

    def _frames(self, wanted: BoolArray, kept: KeptFrames | None) -> Generator[Frame]:
        last = max(np.flatnonzero(wanted)[-1:], default=-1)
        end = max(int(last), kept.last_wanted if kept else -1)
        for index, picture in self._timed_pictures():
            if index > end:
                return
            if kept is not None:
                kept.see(index, picture)
            if wanted[index]:
                yield self._frame(index, picture)

    def _read(self, kept: Iterator[tuple[int, Any]]) -> Generator[Frame]:
        for index, picture in kept:
            yield self._frame(index, picture)

    def _frame(self, index: int, picture: Any) -> Frame:
        return Frame(index, float(self.t_s[index]), self._pixels(picture))

    def glimpses(self, longer_side_px: int, kept: KeptFrames | None = None) -> Iterator[Glimpse]:
        """Yield every frame small and grey, in order.

        Args:
            longer_side_px: the longer side of the small picture; never more than the clip's own.
            kept: frames to be kept on the way.

        Raises:
            UnreadableClip: the file has changed or vanished since it was opened.
            NotAsStored: it does not decode as its packets say.
        """
        yield from ahead(self._glimpses(longer_side_px, kept), self._frames_ahead)

    def _glimpses(self, longer_side_px: int, kept: KeptFrames | None) -> Generator[Glimpse]:
        import cv2

        shrink = min(1.0, longer_side_px / max(self.width_px, self.height_px))
        size = (round(self.width_px * shrink), round(self.height_px * shrink))
        stored_size = size[::-1] if self.rotation_deg % 180 else size
        for index, picture in self._timed_pictures():
            if kept is not None:
                kept.see(index, picture)
            small = cv2.resize(luma(picture), stored_size, interpolation=cv2.INTER_AREA)
            yield Glimpse(
                index,
                float(self.t_s[index]),
                self._pixels(picture),
                turned(np.asarray(small, dtype=np.uint8), self.rotation_deg),
            )

    def _timed_pictures(self) -> Iterator[tuple[int, Any]]:
        with opened(self.path) as container:
            index, first_s = 0, None
            for number, (picture, lost) in enumerate(pictures(container)):
                if number in self.passed_over:
                    continue
                if self.as_stored:
                    at_s = time_s(picture)
                    first_s = at_s if first_s is None else first_s
                    if lost or not self._is_at(index, at_s, first_s):
                        raise NotAsStored(self.path)
                if index >= self.n_frames:
                    return
                yield index, picture
                index += 1
            if self.as_stored and index < self.n_frames:
                raise NotAsStored(self.path)

    def _is_at(self, index: int, at_s: float | None, first_s: float | None) -> bool:
        """Whether a picture is shown when the file says that its frame of this number is."""
        if at_s is None or first_s is None or index >= self.n_frames:
            return False
        return (at_s - first_s) / self.slow_motion == float(self.t_s[index])

    @property
    def picture_bytes(self) -> int:
        """Size of a decoded picture in memory, about: brightness in full, colour at a quarter."""
        return 3 * self.width_px * self.height_px // 2

    @property
    def _frames_ahead(self) -> int:
        return max(FRAMES_AHEAD, AHEAD_BYTES // self.picture_bytes)

    def _pixels(self, picture: Any) -> Pixels:
        size = (self.width_px, self.height_px)
        stored = size[::-1] if self.rotation_deg % 180 else size
        return FilmPixels(picture, self.rotation_deg, stored)


def open_clip(path: Path, slow_motion: float | None = None, *, as_stored: bool = False) -> Clip:
    """Read a clip's shape and the time of each of its frames.

    The whole film is decoded once (without keeping pictures), so that the number of frames and
    their times are those that :meth:`Clip.frames` delivers. A damaged film is read past the damage
    where that is possible; frames that are lost leave a gap in time.

    Args:
        path: the file.
        slow_motion: how many times slower than life the film plays; None to believe what the file
            itself says, which mostly is nothing.
        as_stored: believe what the file's packets say where they say it, without decoding: for one
            who reads all frames anyway, and opens the clip again if he meets with
            :class:`NotAsStored`.

    Raises:
        UnreadableClip: not there, no permission, not a video, no picture, too few frames.
    """
    digest = file_digest(path)
    with opened(path) as container:
        stream = container.streams.video[0]
        tags = {**container.metadata, **stream.metadata}
        stated_s = stated_length_s(container)
        times: list[float | None] = []
        after_loss: list[int] = []
        width = height = rotation = 0
        last_s = 0.0
        stored = stored_times(container) if as_stored else None
        if as_stored:
            container.seek(0)
        for picture, lost in each_in_stage(pictures(container), Stage.DECODING):
            if not times:
                # PyAV gives the counter-clockwise turn of the display matrix.
                rotation = round(-picture.rotation / 90) * 90 % 360
                width, height = picture.width, picture.height
            if lost:
                after_loss.append(len(times))
            times.append(time_s(picture))
            last_s = float((picture.duration or 0) * picture.time_base)
            if stored is not None:
                times, last_s = [*stored[0]], stored[1]
                break
        shape = stream.sample_aspect_ratio
        begin_s = float((stream.start_time or 0) * (stream.time_base or 0))
    found = frame_times(times)
    if found is None:
        raise UnreadableClip(
            path, "its frame times run backwards", "export it again as an ordinary MP4"
        )
    played_s, passed_over = found
    if len(played_s) < MIN_FRAMES:
        n = len(played_s)
        raise UnreadableClip(
            path,
            f"only {n} frame{'' if n == 1 else 's'} could be read from it",
            "copy it from the phone again, or film the whole rep",
        )
    width, height = square_size(width, height, None if shape is None else float(shape))
    if min(width, height) < MIN_SIDE_PX:
        raise UnreadableClip(
            path, f"the picture is only {width} x {height} pixels", "film at 720p or better"
        )
    if rotation % 180:
        width, height = height, width
    step_s = float(np.median(np.diff(played_s)))
    tagged = tagged_slow_motion(tags, 1 / step_s) if slow_motion is None else None
    slow_motion = slow_motion or tagged or 1.0
    before_s = max(0.0, played_s[0] - begin_s) if 0 in after_loss else 0.0
    if stated_s is not None and 0 < played_s[0] < stated_s:
        stated_s -= played_s[0]  # some files count from the beginning of their clock
    played_s = played_s - played_s[0]
    return Clip(
        path,
        digest,
        width,
        height,
        played_s / slow_motion,
        rotation,
        slow_motion,
        tagged is not None,
        tagged_focal_35mm(tags),
        stated_s,
        before_s + lost_within_s(played_s, step_s, after_loss, passed_over),
        0.0 if stated_s is None else max(0.0, stated_s - played_s[-1] - max(step_s, last_s)),
        passed_over,
        stored is not None,
        breaks_off(path),
    )


def luma(picture: Any) -> Image:
    """The brightness of a decoded picture, without a copy where it has a plane of its own."""
    form = picture.format
    if form.is_rgb or len(picture.planes) == 1 or form.components[0].bits != 8:
        return np.asarray(picture.to_ndarray(format="gray"), dtype=np.uint8)
    plane = picture.planes[0]
    rows = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
    return rows[:, : plane.width]
