"""The part of a picture that holds the players, resized for the page."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Picture = npt.NDArray[np.uint8]

MAX_ENLARGEMENT = 2.0
"""A player far away is brought nearer up to this, beyond it the picture only gets soft."""

ASPECTS = (1.25, 16 / 9)
"""Width over height of a cut, as far as the picture allows."""


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
    """The cut that holds all points with room for head, labels and caption.

    Args:
        points: ``(n, 2)`` pixels; what is NaN or outside the picture does not count. With none
            left the cut is the whole picture.
        width, height: of the picture.
        max_width_px: of the result.
    """
    seen = points[np.isfinite(points).all(axis=1)]
    seen = seen[(seen >= 0).all(axis=1) & (seen < (width, height)).all(axis=1)]
    if len(seen) == 0:
        return _sized(0, 0, width, height, max_width_px)
    low, high = seen.min(axis=0), seen.max(axis=0)
    tall = max(high[1] - low[1], 16.0)
    low = low - np.array([0.45, 0.25]) * tall
    high = high + np.array([0.45, 0.3]) * tall
    wide, tall = high - low
    wide = max(wide, ASPECTS[0] * tall)
    tall = max(tall, wide / ASPECTS[1])
    middle = (low + high) / 2
    left, right = _within(middle[0] - wide / 2, middle[0] + wide / 2, width)
    top, bottom = _within(middle[1] - tall / 2, middle[1] + tall / 2, height)
    return _sized(left, top, right, bottom, max_width_px)


def _within(low: float, high: float, limit: int) -> tuple[int, int]:
    """Shift an interval into ``[0, limit]``, shortened if need be."""
    shift = max(0.0, -low) - max(0.0, high - limit)
    first, last = max(0, round(low + shift)), min(limit, round(high + shift))
    return min(first, limit - 1), max(last, first + 1)


def _sized(left: int, top: int, right: int, bottom: int, max_width_px: int) -> Cut:
    scale = min(max_width_px / (right - left), MAX_ENLARGEMENT)
    width, height = (max(2, round(side * scale) // 2 * 2) for side in (right - left, bottom - top))
    return Cut(left, top, right, bottom, width, height)
