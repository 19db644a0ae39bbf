"""The part of a picture that holds the players, resized for the page."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray
from posecheck.pages.tuning import (
    CUT_ASPECTS,
    CUT_LEAST_PX,
    CUT_MARGIN_BOTTOM,
    CUT_MARGIN_SIDE,
    CUT_MARGIN_TOP,
    MAX_ENLARGEMENT,
)

Picture = npt.NDArray[np.uint8]


@dataclass(frozen=True)
class Cut:
    """A window of a picture and the size it is shown at.

    Attributes:
        left, top, right, bottom: pixels of the picture, right and bottom not included.
        width_px, height_px: of the result, even numbers as video wants them.
    """

    left: int
    top: int
    right: int
    bottom: int
    width_px: int
    height_px: int

    def picture(self, rgb: Picture) -> Picture:
        """Cut and resize ``(height, width, 3)``."""
        part = rgb[self.top : self.bottom, self.left : self.right]
        shrinks = self.width_px < self.right - self.left
        how = cv2.INTER_AREA if shrinks else cv2.INTER_CUBIC
        resized = cv2.resize(part, (self.width_px, self.height_px), interpolation=how)
        return np.asarray(resized, dtype=np.uint8)

    def points(self, xy_px: FloatArray) -> FloatArray:
        """Take ``(..., 2)`` pixels of the picture to pixels of the result."""
        scale = np.array(
            [
                self.width_px / (self.right - self.left),
                self.height_px / (self.bottom - self.top),
            ]
        )
        # (0, 0) is a pixel's centre, so its corner, half a pixel off, is what scales.
        return np.asarray((xy_px - (self.left, self.top) + 0.5) * scale - 0.5)


def cut_around(points: FloatArray, width: int, height: int, max_width_px: int) -> Cut:
    """The cut that holds all points with margins for head, labels and caption.

    Args:
        points: ``(n, 2)`` pixels; what is NaN or outside the picture does not count. With none
            left the cut is the whole picture.
        width, height: of the picture.
        max_width_px: of the result.
    """
    box = _padded(points, width, height)
    if box is None:
        return _sized(0, 0, width, height, max_width_px)
    low, high = box
    wide, tall = high - low
    wide = max(wide, CUT_ASPECTS[0] * tall)
    tall = max(tall, wide / CUT_ASPECTS[1])
    middle = (low + high) / 2
    left, right = _within(middle[0], wide, 0, width)
    top, bottom = _within(middle[1], tall, 0, height)
    return _sized(left, top, right, bottom, max_width_px)


def cut_of_shape(
    middle: FloatArray, wide: float, size_px: tuple[int, int], out_px: tuple[int, int]
) -> Cut:
    """A window of a given shape about a point, shown at a given size.

    Args:
        middle: ``(2,)`` pixels of the picture; near its edge the window is shifted into it.
        wide: width of the window, shortened when the picture is too small for it.
        size_px: width and height of the picture.
        out_px: width and height of the result, and so the shape.
    """
    shape = out_px[0] / out_px[1]
    wide = min(wide, size_px[0], shape * size_px[1])
    left, right = _within(middle[0], round(wide), 0, size_px[0])
    top, bottom = _within(middle[1], round(wide / shape), 0, size_px[1])
    return Cut(left, top, right, bottom, *out_px)


def _padded(points: FloatArray, width: int, height: int) -> tuple[FloatArray, FloatArray] | None:
    """Corners of a box about the points that lie in the picture, None when none do."""
    seen = points[np.isfinite(points).all(axis=1)]
    seen = seen[(seen >= 0).all(axis=1) & (seen < (width, height)).all(axis=1)]
    if len(seen) == 0:
        return None
    low, high = seen.min(axis=0), seen.max(axis=0)
    tall = max(high[1] - low[1], CUT_LEAST_PX)
    above = np.array([CUT_MARGIN_SIDE, CUT_MARGIN_TOP]) * tall
    below = np.array([CUT_MARGIN_SIDE, CUT_MARGIN_BOTTOM]) * tall
    return low - above, high + below


def _within(middle: float, length: float, first: int, last: int) -> tuple[int, int]:
    """An interval about ``middle``, shifted into ``[first, last]``, shortened if need be."""
    low, high = middle - length / 2, middle + length / 2
    shift = max(0.0, first - low) - max(0.0, high - last)
    start, end = max(first, round(low + shift)), min(last, round(high + shift))
    return min(start, last - 1), max(end, start + 1)


def _sized(left: int, top: int, right: int, bottom: int, max_width_px: int) -> Cut:
    scale = min(max_width_px / (right - left), MAX_ENLARGEMENT)
    width, height = (max(2, round(side * scale) // 2 * 2) for side in (right - left, bottom - top))
    return Cut(left, top, right, bottom, width, height)
