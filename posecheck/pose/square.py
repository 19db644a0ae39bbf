"""The square of a frame that one look of the pose model takes in, and a player's crop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray, Image, Pixels
from posecheck.pose.tuning import ALONE_MARGIN, CROP_MARGIN, CROP_SIDE_PX, HALVED_SIDE_PX


@dataclass(frozen=True)
class Square:
    """A square of whole pixels of a frame; it may reach beyond the frame.

    The model needs squares: on other shapes its own mapping of landmarks displaces them.
    """

    left: int
    top: int
    side: int

    @classmethod
    def around(cls, box_xyxy: npt.ArrayLike, margin: float) -> Self:
        """The square in the middle of a box ``(4,)``, with a margin over the box's longer side."""
        box = np.asarray(box_xyxy, dtype=np.float64)
        # From pixel centres to pixel edges: the box's own pixels belong to it.
        low, high = box[:2] - 0.5, box[2:] + 0.5
        side = int(np.ceil((high - low).max() * (1 + 2 * margin)))
        if side > HALVED_SIDE_PX:
            side += -side % 4  # to be halved twice
        left, top = np.round((low + high - side) / 2 + 0.5).astype(int)
        return cls(int(left), int(top), max(side, 1))

    def picture(self, frame_rgb: Pixels, max_side: int, only: FloatArray | None = None) -> Image:
        """The square's pixels, shrunk to at most ``max_side``.

        Black beyond the frame, and outside the box ``only`` with a margin around it. A part of the
        frame itself, not a copy, where nothing has to be added or shrunk.
        """
        import cv2

        square, side = self._pixels(frame_rgb, only), self.side
        while side > max_side:
            # By halves, which is several times quicker, as far as they go.
            side = side // 2 if side % 2 == 0 and side // 2 >= max_side else max_side
            square = np.asarray(
                cv2.resize(square, (side, side), interpolation=cv2.INTER_AREA), dtype=np.uint8
            )
        return square

    def _pixels(self, frame_rgb: Pixels, only: FloatArray | None) -> Image:
        height, width = frame_rgb.shape[:2]
        low, high = np.array([self.left, self.top]), np.array([self.left, self.top]) + self.side
        if only is not None:
            margin = ALONE_MARGIN * (only[2:] - only[:2])
            low = np.maximum(low, np.floor(only[:2] - margin).astype(int))
            high = np.minimum(high, np.ceil(only[2:] + margin).astype(int) + 1)
        (x0, y0), (x1, y1) = (np.clip(edge, 0, (width, height)).tolist() for edge in (low, high))
        rows, columns = slice(y0, y1), slice(x0, x1)
        if (y1 - y0, x1 - x0) == (self.side, self.side):
            return frame_rgb[rows, columns]
        square = np.zeros((self.side, self.side, 3), dtype=np.uint8)
        if x0 < x1 and y0 < y1:
            square[y0 - self.top : y1 - self.top, x0 - self.left : x1 - self.left] = frame_rgb[
                rows, columns
            ]
        return square

    def to_unit(self, xy_px: FloatArray) -> FloatArray:
        """From the frame's pixels to shares of the square, 0 to 1 between its edges."""
        return np.asarray((xy_px - (self.left - 0.5, self.top - 0.5)) / self.side)

    def to_frame(self, unit_xy: FloatArray) -> FloatArray:
        """From shares of the square, 0 to 1 between its edges, to the frame's pixels."""
        return unit_xy * self.side + (self.left - 0.5, self.top - 0.5)


@dataclass(frozen=True, eq=False)
class Crop:
    """What is read of a player: his square of a frame and its pixels."""

    square: Square
    picture: Image

    @classmethod
    def of_player(
        cls, frame_rgb: Pixels, box_xyxy: npt.ArrayLike, only: FloatArray | None = None
    ) -> Self:
        """The crop about a player's box ``(4,)``; ``only`` as :meth:`Square.picture` takes it."""
        square = Square.around(box_xyxy, CROP_MARGIN)
        return cls(square, square.picture(frame_rgb, CROP_SIDE_PX, only))
