"""The small pictures of a rep: the defender around his arrival, cell by cell, and a thumbnail.

Every cell is a moment of its own in a file of its own: no picture holds two moments. All cells of
a rep are cut at one scale about the middle of the defender, so that they can be compared.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import in_window, nearest_frame
from posecheck.measures.result import RepResult
from posecheck.pages import overlay
from posecheck.pages.bodies import bodies_at
from posecheck.pages.cut import Cut, cut_of_shape
from posecheck.pages.overlay import Picture
from posecheck.pages.tuning import (
    ABOVE_FACE,
    CELL_FILLED,
    CELL_PX,
    CELL_WITHIN_S,
    CELLS_S,
    STILL_QUALITY,
    THUMB_FILLED,
    THUMB_PX,
)
from posecheck.video.clip import Clip, Frame


@dataclass(frozen=True)
class Wanted:
    """A small picture that is to be drawn.

    Attributes:
        which: "1" to "5" for a cell, "thumb" for the thumbnail; ends the file's name.
        frame: number of the film's frame.
        offset_s: the moment it shows, as :class:`posecheck.pages.stills.Still` says it.
        cut: the window of the film's picture.
        bodies: ``(33, 2)`` each, with its colour: those that are drawn, in the film's pixels.
    """

    which: str
    frame: int
    offset_s: float
    cut: Cut
    bodies: tuple[tuple[FloatArray, overlay.Rgb], ...]


@dataclass(frozen=True)
class StillPictures:
    """Draws the small pictures of a rep while the frames of its film go by.

    Attributes:
        wanted: all of them, in order of time, the thumbnail last.
        jpegs: those drawn so far, by their ``which``.
    """

    wanted: tuple[Wanted, ...]
    jpegs: dict[str, bytes] = field(default_factory=dict)

    def see(self, frame: Frame) -> None:
        """Draw what is wanted of a frame."""
        for each in self.wanted:
            if each.frame == frame.index:
                self.jpegs[each.which] = _jpeg(_painted(frame.rgb, each))


def still_pictures(clip: Clip, rep: RepResult) -> StillPictures:
    """Choose frames and windows of a rep's small pictures; nothing is decoded yet."""
    size_px = clip.width_px, clip.height_px
    cells = _cells(clip.t_s, rep, size_px)
    return StillPictures((*cells, _thumb(clip.t_s, rep, size_px)))


def _cells(t_s: FloatArray, rep: RepResult, size_px: tuple[int, int]) -> list[Wanted]:
    arrival_s = rep.rep.arrival_s
    if arrival_s is None:
        return []
    frames = [_clearest(t_s, rep, arrival_s, offset_s) for offset_s in CELLS_S]
    bodies = [
        np.full((33, 2), np.nan) if i is None else bodies_at(rep.series, t_s[i])[0] for i in frames
    ]
    boxes = {
        number: (frame, body, box)
        for number, (frame, body) in enumerate(zip(frames, bodies, strict=True), 1)
        if frame is not None and (box := _box(body)) is not None
    }
    if not boxes:
        return []
    spans = np.array([high - low for _, _, (low, high) in boxes.values()])
    wide = max(spans[:, 0].max(), CELL_PX[0] / CELL_PX[1] * spans[:, 1].max()) / CELL_FILLED
    return [
        Wanted(
            which=str(number),
            frame=frame,
            offset_s=round(float(t_s[frame]) - arrival_s, 3),
            cut=cut_of_shape((low + high) / 2, wide, size_px, CELL_PX),
            bodies=((body, overlay.DEFENDER),),
        )
        for number, (frame, body, (low, high)) in boxes.items()
    ]


def _clearest(t_s: FloatArray, rep: RepResult, arrival_s: float, offset_s: float) -> int | None:
    """The frame about a moment in which most of the body is believed; None outside the film."""
    # What a coach is shown as the proof is the same picture everywhere.
    if offset_s == 0 and rep.picture_t_s is not None:
        return nearest_frame(t_s, rep.picture_t_s)
    moment_s = arrival_s + offset_s
    near = np.flatnonzero(in_window(t_s, moment_s - CELL_WITHIN_S, moment_s + CELL_WITHIN_S))
    if not len(near):
        return None
    missing = np.array([overlay.limbs_missing(bodies_at(rep.series, t_s[i])[0]) for i in near])
    off_s = np.abs(t_s[near] - moment_s)
    return int(near[np.lexsort((off_s, missing))[0]])


def _thumb(t_s: FloatArray, rep: RepResult, size_px: tuple[int, int]) -> Wanted:
    arrival_s = rep.rep.arrival_s
    if arrival_s is None:
        since_s, moment_s = rep.rep.start_s, (rep.rep.start_s + rep.rep.end_s) / 2
    else:
        since_s, moment_s = arrival_s, rep.picture_t_s or arrival_s
    frame = nearest_frame(t_s, moment_s)
    defender, attacker = bodies_at(rep.series, t_s[frame])
    box = _box(np.concatenate([defender, attacker]))
    if box is None:
        middle, wide = np.array(size_px) / 2, float(size_px[0])
    else:
        low, high = box
        middle, (across, tall) = (low + high) / 2, high - low
        wide = max(across, THUMB_PX[0] / THUMB_PX[1] * tall) / THUMB_FILLED
    return Wanted(
        which="thumb",
        frame=frame,
        offset_s=round(float(t_s[frame]) - since_s, 3),
        cut=cut_of_shape(middle, wide, size_px, THUMB_PX),
        bodies=((attacker, overlay.ATTACKER), (defender, overlay.DEFENDER)),
    )


def _box(xy_px: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Corners of the box around what is seen, ``(2,)`` each; None when nothing is."""
    seen = xy_px[np.isfinite(xy_px).all(axis=1)]
    if not len(seen):
        return None
    low, high = seen.min(axis=0), seen.max(axis=0)
    # The top of a head is above its landmarks.
    return low - (0.0, ABOVE_FACE * (high[1] - low[1])), high


def _painted(rgb: Picture, wanted: Wanted) -> Picture:
    picture = wanted.cut.picture(rgb)
    for body, colour in wanted.bodies:
        picture = overlay.draw_body(picture, wanted.cut.points(body), colour)
    return picture


def _jpeg(picture: Picture) -> bytes:
    bgr = cv2.cvtColor(picture, cv2.COLOR_RGB2BGR)
    _, data = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, STILL_QUALITY])
    return bytes(data.tobytes())
