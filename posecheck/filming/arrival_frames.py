"""The pictures around an arrival, in one pass over the film: one is kept, several are measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.filming.look import Looks, look_at
from posecheck.filming.tuning import (
    JPEG_QUALITY,
    LOOK_AROUND_S,
    LOOK_STEP_S,
    PICTURE_WIDTH_PX,
    PICTURE_WITHIN_S,
)
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import in_window, nearest_frame
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack
from posecheck.reps.rep import Rep
from posecheck.video.clip import Clip, Frame
from posecheck.video.kept_frames import KeptFrames


@dataclass(frozen=True)
class Picture:
    """A frame as a picture of its own.

    Attributes:
        jpeg: the file's bytes.
        scale: takes the clip's pixels to its own.
        t_s: the frame's time in seconds of clip time.
    """

    jpeg: bytes
    scale: float
    t_s: float


def see_arrival(
    clip: Clip,
    rep: Rep,
    defender: PoseTrack,
    drawn_xy_px: FloatArray,
    kept: KeptFrames | None = None,
) -> tuple[Picture | None, Looks]:
    """A frame at arrival, and how the defender looks around it.

    The frame is the nearest one in which all of his trunk and legs can be drawn, or of those within
    a tenth of a second the one in which most of them can.

    Args:
        clip: the film.
        rep: its moments. Without an arrival there is no picture, and the look is that of its last
            second.
        defender: his landmarks, smoothed.
        drawn_xy_px: ``(n_frames, 33, 2)`` those of them that are drawn, NaN where not believed.
        kept: frames that need not be decoded again.

    Raises:
        UnreadableClip: the file has changed since it was opened.
    """
    about_s = rep.end_s - LOOK_AROUND_S[1] if rep.arrival_s is None else rep.arrival_s
    wanted_s = about_s + np.arange(LOOK_AROUND_S[0], LOOK_AROUND_S[1] + 1e-6, LOOK_STEP_S)
    to_look = np.unique([nearest_frame(clip.t_s, t_s) for t_s in wanted_s if t_s <= rep.end_s])
    to_keep = None if rep.arrival_s is None else shown_frame(clip.t_s, rep.arrival_s, drawn_xy_px)
    which = np.zeros(clip.n_frames, dtype=bool)
    which[to_look] = True
    if to_keep is not None:
        which[to_keep] = True
    picture, looks = None, []
    for frame in clip.frames(which=which, kept=kept):
        if frame.index == to_keep:
            picture = _picture(frame)
        if frame.index in to_look:
            looks.append((frame.t_s, look_at(frame.pixels, defender.xy_px[frame.index])))
    return picture, Looks(np.array([t_s for t_s, _ in looks]), tuple(look for _, look in looks))


def shown_frame(t_s: FloatArray, arrival_s: float, xy_px: FloatArray) -> int:
    """Number of the frame that shows an arrival.

    Args:
        t_s: ``(n_frames,)`` seconds.
        arrival_s: the moment.
        xy_px: ``(n_frames, 33, 2)`` landmarks that are drawn, NaN where not believed.
    """
    off_s = np.abs(t_s - arrival_s)
    near = np.flatnonzero(
        in_window(t_s, arrival_s - PICTURE_WITHIN_S, arrival_s + PICTURE_WITHIN_S)
    )
    if not len(near):
        return nearest_frame(t_s, arrival_s)
    missing = np.isnan(xy_px[near][:, _DRAWN]).any(axis=2).sum(axis=1)
    return int(near[np.lexsort((off_s[near], missing))[0]])


_DRAWN = SKELETON.indices(
    *(
        f"{side}_{part}"
        for side in ("left", "right")
        for part in ("shoulder", "hip", "knee", "ankle", "foot_index")
    )
)
"""Trunk and legs: a hand behind a stick is no reason to show another moment."""


def _picture(frame: Frame) -> Picture:
    import cv2

    height, width = frame.rgb.shape[:2]
    scale = min(1.0, PICTURE_WIDTH_PX / width)
    size = (round(width * scale), round(height * scale))
    small = cv2.resize(frame.rgb, size, interpolation=cv2.INTER_AREA)
    _, jpeg = cv2.imencode(
        ".jpg", cv2.cvtColor(small, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
    )
    return Picture(jpeg.tobytes(), scale, frame.t_s)
