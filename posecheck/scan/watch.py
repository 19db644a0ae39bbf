"""Watch a long film cheaply: when something moves in it, and where it goes on elsewhere.

Nobody is looked for and nobody is followed here: that costs ten times as much, and is worth it only
where something moves.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from posecheck.camera.motion_estimator import CameraMotionEstimator
from posecheck.maths.arrays import BoolArray, FloatArray, Image
from posecheck.players.detector import moving_boxes
from posecheck.scan.tuning import (
    JUMP_GREY,
    JUMP_OF_OTHERS,
    JUMP_OTHERS_S,
    JUMP_SHARE,
    LOOKS_BACK,
    LOST_PLACE_S,
)
from posecheck.video.film import Glance
from posecheck.video.frame_times import lost_within_s


@dataclass(frozen=True)
class Watched:
    """What was seen of a film without looking for anybody.

    Attributes:
        t_s: ``(n,)`` moments looked at, seconds of the film.
        moves: ``(n,)`` height of the tallest thing that moves, over the shorter side of the
            picture; 0 when nothing does.
        to_place: ``(n, 3, 3)`` homographies from each picture to the first one from that place, in
            pixels of the small picture.
        jumps_s: where the film goes on at another time or from another place, in order.
        places_s: those of them where it is another place.
        size_px: width and height of the small picture.
        end_s: time of the last frame.
        lost_within_s: how much before that is lost to damage.
        breaks_off: True when it ends in the midst of something.
    """

    t_s: FloatArray
    moves: FloatArray
    to_place: FloatArray
    jumps_s: tuple[float, ...]
    places_s: tuple[float, ...]
    size_px: tuple[int, int]
    end_s: float
    lost_within_s: float = 0.0
    breaks_off: bool = False


def watch(glances: Iterable[Glance]) -> Watched | None:
    """Watch a film to its end; None when there is nothing to see in it.

    Memory grows by some hundred bytes a look.
    """
    watcher = _Watcher()
    for glance in glances:
        watcher.see(glance)
    return watcher.watched()


class _Watcher:
    def __init__(self) -> None:
        self._camera: CameraMotionEstimator | None = None
        self._looks: list[tuple[Image, FloatArray]] = []
        self._t_s: list[float] = []
        self._moves: list[float] = []
        self._to_place: list[FloatArray] = []
        self._lost_s: float | None = None
        self._places_s: list[float] = []
        self._all_s: list[float] = []
        self._after_loss: list[int] = []
        self._change: list[float] = []
        self._before: Image | None = None
        self._size = (0, 0)

    def see(self, glance: Glance) -> None:
        """Go on to the next frame."""
        if glance.after_loss:
            self._after_loss.append(len(self._all_s))
        self._all_s.append(glance.t_s)
        self._change.append(_change(self._before, glance.tiny))
        self._before = glance.tiny
        if glance.small is not None:
            self._look(glance.t_s, glance.small)

    def _look(self, t_s: float, grey: Image) -> None:
        height, width = grey.shape
        if self._camera is None or self._size != (width, height):
            self._camera, self._size = CameraMotionEstimator(width, height), (width, height)
            self._looks = []
        to_place = self._camera.add(grey)
        if not self._camera.is_lost:
            self._lost_s = None
        elif self._lost_s is None:
            self._lost_s = t_s
        elif t_s - self._lost_s >= LOST_PLACE_S:
            # Nothing of the place known so far has come back into view: it is another one.
            self._places_s.append(self._lost_s)
            self._lost_s = None
            self._camera = CameraMotionEstimator(width, height)
            to_place = self._camera.add(grey)
            self._looks = []
        moves = 0.0
        if self._looks and self._lost_s is None:
            then, from_then = self._looks[0]
            between = np.linalg.inv(to_place) @ from_then
            boxes = moving_boxes(then, grey, between, [])
            tallest = max((float(box[3] - box[1]) for box in boxes), default=0.0)
            moves = tallest / min(width, height)
        self._looks = [*self._looks, (grey, to_place)][-LOOKS_BACK:]
        self._t_s.append(t_s)
        self._moves.append(moves)
        self._to_place.append(to_place)

    def watched(self) -> Watched | None:
        """What was seen so far."""
        if not self._t_s:
            return None
        all_s = np.array(self._all_s)
        jumps_s = all_s[_jumps(all_s, np.array(self._change))]
        # A place is known to be lost at the next look only: the jump itself says when.
        places_s = [_at_jump(lost_s, jumps_s) for lost_s in self._places_s]
        return Watched(
            np.array(self._t_s),
            np.array(self._moves),
            np.array(self._to_place),
            tuple(sorted({*jumps_s.tolist(), *places_s})),
            tuple(places_s),
            self._size,
            float(all_s[-1]),
            lost_within_s(all_s, float(np.median(np.diff(all_s))), self._after_loss, frozenset())
            if self._after_loss
            else 0.0,
        )


def _change(before: Image | None, now: Image) -> float:
    """Share of the pixels that are clearly others than in the frame before."""
    import cv2

    if before is None or before.shape != now.shape:
        return 0.0
    return float(np.mean(cv2.absdiff(before, now) > JUMP_GREY))


def _jumps(t_s: FloatArray, change: FloatArray) -> BoolArray:
    """``(n,)`` True for frames that do not go on from the one before.

    From each frame to the next about as much changes as a moment before and after; at a jump it is
    far more, even if the camera stands still and only the people are others. A flash does so twice
    in a row, and is none; a new key frame of the codec changes everything, but a little.
    """
    jump = change >= JUMP_SHARE
    for at in np.flatnonzero(jump):
        low, high = np.searchsorted(t_s, [t_s[at] - JUMP_OTHERS_S, t_s[at] + JUMP_OTHERS_S])
        others = np.delete(change[low : high + 1], at - low)
        jump[at] = not len(others) or change[at] >= JUMP_OF_OTHERS * others.max()
    # So is a gap in time.
    jump[1:] |= np.diff(t_s) > JUMP_OTHERS_S
    return np.asarray(jump)


def _at_jump(lost_s: float, jumps_s: FloatArray) -> float:
    """The jump at which a place was lost, or the moment it was found lost."""
    near = jumps_s[np.abs(jumps_s - lost_s) <= JUMP_OTHERS_S]
    return float(near[np.argmin(np.abs(near - lost_s))]) if len(near) else lost_s
