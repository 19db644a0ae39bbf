"""The pictures around an arrival: one is kept, several are looked at, in one pass over the film."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.filming.look import Looks, look_at
from posecheck.maths.arrays import FloatArray
from posecheck.reps.rep import Rep
from posecheck.video.clip import Clip, Frame

PICTURE_WIDTH_PX = 1920
"""Of the arrival picture at most: the players fill only a part of it."""

LOOK_EVERY_S = 0.1
LOOK_AROUND_S = (-0.1, 1.0)
"""The time about arrival in which a stance is read."""


@dataclass(frozen=True)
class Picture:
    """A frame as JPEG bytes; ``scale`` takes the clip's pixels to its own."""

    jpeg: bytes
    scale: float
    t_s: float


def see_arrival(clip: Clip, rep: Rep, xy_px: FloatArray) -> tuple[Picture | None, Looks]:
    """The frame nearest to arrival, and how the defender looks around it.

    Args:
        clip: the film.
        rep: its moments. With no arrival there is no picture, and its last second is looked at.
        xy_px: ``(n_frames, 33, 2)`` the defender's landmarks.

    Raises:
        UnreadableClip: the file has changed since it was opened.
    """
    about_s = rep.end_s - LOOK_AROUND_S[1] if rep.arrival_s is None else rep.arrival_s
    wanted_s = about_s + np.arange(LOOK_AROUND_S[0], LOOK_AROUND_S[1] + 1e-6, LOOK_EVERY_S)
    to_look = np.unique([_nearest(clip, t_s) for t_s in wanted_s if t_s <= rep.end_s])
    to_keep = None if rep.arrival_s is None else _nearest(clip, rep.arrival_s)
    which = np.zeros(clip.n_frames, dtype=bool)
    which[to_look] = True
    if to_keep is not None:
        which[to_keep] = True
    picture, looks = None, []
    for frame in clip.frames(end_s=float(clip.t_s[which].max()), which=which):
        if frame.index == to_keep:
            picture = _picture(frame)
        if frame.index in to_look:
            looks.append((frame.t_s, look_at(frame.rgb, xy_px[frame.index])))
    return picture, Looks(np.array([t_s for t_s, _ in looks]), tuple(look for _, look in looks))


def _nearest(clip: Clip, t_s: float) -> int:
    return int(np.argmin(np.abs(clip.t_s - t_s)))


def _picture(frame: Frame) -> Picture:
    import cv2

    height, width = frame.rgb.shape[:2]
    scale = min(1.0, PICTURE_WIDTH_PX / width)
    size = (round(width * scale), round(height * scale))
    small = cv2.resize(frame.rgb, size, interpolation=cv2.INTER_AREA)
    _, jpeg = cv2.imencode(
        ".jpg", cv2.cvtColor(small, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, 88]
    )
    return Picture(jpeg.tobytes(), scale, frame.t_s)
