"""The part of the picture that an annotated clip shows: it follows the two players, smoothly.

Where the window is and how wide depends on where the players are over a second or so, never on one
frame alone: it does not tremble with a landmark, and does not breathe with a stride.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.pages.tuning import (
    CLIP_MAX_WIDTH_PX,
    CUT_ASPECTS,
    FOLLOW_ABOVE,
    FOLLOW_ASTRAY_S,
    FOLLOW_BELOW,
    FOLLOW_BESIDE,
    FOLLOW_OVER_S,
    FOLLOW_SMOOTH_S,
    MAX_ENLARGEMENT,
)

Picture = npt.NDArray[np.uint8]


@dataclass(frozen=True)
class Window:
    """A window of a picture, anywhere between its pixels, and the size it is shown at.

    Attributes:
        left, top, wide: pixels of the picture; (0, 0) is the corner of the first pixel here.
        size_px: width and height of the result, even numbers as video wants them.
    """

    left: float
    top: float
    wide: float
    size_px: tuple[int, int]

    @property
    def scale(self) -> float:
        """Pixels of the result for each of the picture."""
        return self.size_px[0] / self.wide

    def picture(self, rgb: Picture) -> Picture:
        """Cut and resize ``(height, width, 3)``."""
        scale = self.scale
        # The first pixel's centre, half a pixel from its corner, is (0, 0) to OpenCV.
        shift = (np.array([self.left, self.top]) - 0.5) * -scale - 0.5
        turn = np.array([[scale, 0.0, shift[0]], [0.0, scale, shift[1]]])
        shown = cv2.warpAffine(
            rgb, turn, self.size_px, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(shown, dtype=np.uint8)

    def points(self, xy_px: FloatArray) -> FloatArray:
        """Take ``(..., 2)`` pixels of the picture to pixels of the result."""
        return np.asarray((xy_px - (self.left, self.top) + 0.5) * self.scale - 0.5)


def whole_picture(
    n_frames: int, size_px: tuple[int, int], shown_px: tuple[int, int] | None = None
) -> list[Window]:
    """The window of every frame when the whole picture of ``size_px`` is to be seen."""
    shown_px = shown_px or _shown_px(float(size_px[0]), size_px[0] / size_px[1])
    return [Window(0.0, 0.0, float(size_px[0]), shown_px)] * n_frames


def follow(
    t_s: FloatArray,
    players: Sequence[FloatArray],
    size_px: tuple[int, int],
    shown_px: tuple[int, int] | None = None,
    *,
    steady: bool = False,
) -> list[Window]:
    """The window of every frame of a clip; all are shown at one size.

    Args:
        t_s: ``(n,)`` seconds of the frames, increasing.
        players: landmarks ``(n, k, 2)`` of each; NaN where not seen, and what lies outside the
            picture does not count. With nobody seen the whole picture is shown.
        size_px: width and height of the picture.
        shown_px: width and height of the result, None for what suits the players.
        steady: one width throughout.
    """
    boxes = [box for box in (_boxes(t_s, each, size_px) for each in players) if box is not None]
    if not boxes:
        return whole_picture(len(t_s), size_px, shown_px)
    low = np.min([low for low, _ in boxes], axis=0)
    high = np.max([high for _, high in boxes], axis=0)
    # Margins by the taller player, whose head, stick and caption want room.
    tall = np.max([high[:, 1] - low[:, 1] for low, high in boxes], axis=0)[:, None]
    low = low - tall * (FOLLOW_BESIDE, FOLLOW_ABOVE)
    high = high + tall * (FOLLOW_BESIDE, FOLLOW_BELOW)
    shape = _shape(high - low, size_px) if shown_px is None else shown_px[0] / shown_px[1]
    middle = _smooth(t_s, (low + high) / 2)
    half = np.maximum(high - middle, middle - low)
    wide = 2 * np.maximum(half[:, 0], shape * half[:, 1])
    wide = np.full_like(wide, wide.max()) if steady else _smooth(t_s, _most_around(t_s, wide))
    wide = np.minimum(wide, min(size_px[0], shape * size_px[1]))
    shown_px = shown_px or _shown_px(float(wide.min()), shape)
    spans = np.stack([wide, wide * shown_px[1] / shown_px[0]], axis=1)
    most = np.maximum(size_px - spans, 0.0)
    # Smoothed again within the picture: at its edge the window comes to rest without a jolt.
    corners = np.clip(_smooth(t_s, np.clip(middle - spans / 2, 0.0, most)), 0.0, most)
    return [
        Window(float(left), float(top), float(across), shown_px)
        for (left, top), across in zip(corners, wide, strict=True)
    ]


def _shape(spans: FloatArray, size_px: tuple[int, int]) -> float:
    """Width over height of a window that holds ``(n, 2)`` spans in turn.

    Within usual limits, but narrower in a film held upright whose players fill its width.
    """
    across, down = spans.max(axis=0)
    usual = float(np.clip(across / down, *CUT_ASPECTS))
    return min(usual, max(size_px[0] / float(down), size_px[0] / size_px[1]))


def _boxes(
    t_s: FloatArray, xy_px: FloatArray, size_px: tuple[int, int]
) -> tuple[FloatArray, FloatArray] | None:
    """Corners ``(n, 2)`` of a player's box in every frame, from the frames around where he is not
    seen; None when he never is."""
    within = (xy_px >= 0) & (xy_px < size_px)  # False where NaN
    inside: BoolArray = np.logical_and.reduce(within, axis=2)
    seen: BoolArray = np.logical_or.reduce(inside, axis=1)
    if not seen.any():
        return None
    kept = xy_px[seen]
    out = ~inside[seen][..., None]
    low = np.where(out, np.inf, kept).min(axis=1)
    high = np.where(out, -np.inf, kept).max(axis=1)

    # A landmark astray for a few frames must not move the window.
    near = [np.abs(t_s[seen] - moment_s) <= FOLLOW_ASTRAY_S for moment_s in t_s[seen]]

    def everywhere(corner: FloatArray) -> FloatArray:
        usual = np.array([np.median(corner[frames], axis=0) for frames in near])
        return np.stack([np.interp(t_s, t_s[seen], usual[:, axis]) for axis in range(2)], axis=1)

    return everywhere(low), everywhere(high)


def _most_around(t_s: FloatArray, values: FloatArray) -> FloatArray:
    """The greatest of the values near each moment."""
    near = np.abs(t_s[:, None] - t_s) <= FOLLOW_OVER_S
    return np.asarray(np.where(near, values, -np.inf).max(axis=1))


def _smooth(t_s: FloatArray, values: FloatArray) -> FloatArray:
    """Mean of ``(n, ...)`` values around each moment, weighted by a bell curve over time.

    Beyond the ends the values go on as they are there, so that the mean does not lag behind.
    """
    step_s = float(np.median(np.diff(t_s))) if len(t_s) > 1 else 1.0
    beyond = np.arange(1, int(3 * FOLLOW_SMOOTH_S / step_s) + 1) * step_s
    times = np.concatenate([t_s[0] - beyond[::-1], t_s, t_s[-1] + beyond])
    ends = [np.repeat(values[[end]], len(beyond), axis=0) for end in (0, -1)]
    padded = np.concatenate([ends[0], values, ends[1]])
    weight = np.exp(-0.5 * ((t_s[:, None] - times) / FOLLOW_SMOOTH_S) ** 2) * np.gradient(times)
    weight /= weight.sum(axis=1, keepdims=True)
    return np.asarray(np.tensordot(weight, padded, axes=1))


def _shown_px(least_wide: float, shape: float) -> tuple[int, int]:
    """Even size of the result, the narrowest window enlarged no more than is useful."""
    width = min(CLIP_MAX_WIDTH_PX, MAX_ENLARGEMENT * least_wide)
    return max(2, round(width / 2) * 2), max(2, round(width / shape / 2) * 2)
