"""A long film, glanced through once without learning the time of every frame beforehand.

Unlike :mod:`posecheck.video.clip` nothing here grows with the film's length.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from posecheck.maths.arrays import Image
from posecheck.maths.stopwatch import Stage, each_in_stage
from posecheck.video.capture_tag import tagged_slow_motion
from posecheck.video.clip import luma
from posecheck.video.decoding import opened, pictures, time_s


@dataclass(frozen=True)
class Glance:
    """One frame of a long film.

    Attributes:
        t_s: presentation time in seconds, 0 at the film's first frame.
        tiny: its brightness, a pixel for each few of the film's, as stored.
        small: a small grey picture, upright; None for frames between two looks.
        after_loss: True when frames just before it are lost to damage.
    """

    t_s: float
    tiny: Image
    small: Image | None
    after_loss: bool = False


@dataclass(frozen=True)
class Header:
    """What the head of a film's file says of it, without a picture decoded.

    Attributes:
        played_s: how long it plays, None when it does not say.
        slow_motion: how many times slower than life, by the tag of the phone; 1 without one.
        begins_s: time of its first frame, of which some files count how long they play.
    """

    played_s: float | None
    slow_motion: float
    begins_s: float = 0.0


def read_header(path: Path) -> Header:
    """Read the head of a film's file.

    Raises:
        UnreadableClip: this is no film.
    """
    import av

    with opened(path) as container:
        stream = container.streams.video[0]
        stated = [] if container.duration is None else [container.duration / av.time_base]
        if stream.duration is not None and stream.time_base is not None:
            stated.append(float(stream.duration * stream.time_base))
        tags = {**container.metadata, **stream.metadata}
        rate_hz = stream.average_rate
        slow = None if not rate_hz else tagged_slow_motion(tags, float(rate_hz))
        begins_s = float((stream.start_time or 0) * (stream.time_base or 0))
    return Header(min(stated, default=None), slow or 1.0, begins_s)


def glances(path: Path, longer_side_px: int, tiny_side_px: int, step_s: float) -> Iterator[Glance]:
    """Every frame of a film in order of time, some of them small and grey.

    Args:
        path: the film.
        longer_side_px: the longer side of the small picture, at most.
        tiny_side_px: the longer side of the tiny one, roughly.
        step_s: between two small pictures, at least.

    Raises:
        UnreadableClip: this is no film.
    """
    import cv2

    with opened(path) as container:
        first_s, last_s, look_s = 0.0, -np.inf, -np.inf
        lost = False
        for picture, after_loss in each_in_stage(pictures(container), Stage.DECODING):
            lost |= after_loss
            now_s = time_s(picture)
            if now_s is None:
                continue
            if np.isinf(last_s):
                first_s = now_s
                turn = round(picture.rotation / 90) % 4  # counter-clockwise quarters
            if now_s - first_s <= last_s:
                continue
            last_s = now_s - first_s
            grey = luma(picture)
            skip = max(max(grey.shape) // tiny_side_px, 1)
            small = None
            if last_s - look_s >= step_s - 1e-6:
                look_s = last_s
                shrink = min(1.0, longer_side_px / max(grey.shape))
                size = (round(grey.shape[1] * shrink), round(grey.shape[0] * shrink))
                resized = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
                small = _upright(np.asarray(resized, dtype=np.uint8), turn)
            yield Glance(last_s, np.ascontiguousarray(grey[::skip, ::skip]), small, lost)
            lost = False


def _upright(pixels: Image, turn: int) -> Image:
    return np.ascontiguousarray(np.rot90(pixels, k=turn)) if turn else pixels
