"""The turned square in which the landmark model sees one person upright.

It follows from two points that the models give besides the landmarks: the middle of the hips, and
a point on the smallest circle around the whole person, above the head.

Source: the pose library's graphs ``pose_detection_to_roi`` and ``pose_landmarks_to_roi``
(Apache-2.0), and BlazePose (Bazarevsky et al. 2020, arXiv:2006.10204).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np

from posecheck.maths.arrays import FloatArray, Image
from posecheck.pose.tuning import BOX_HIPS, BOX_REGION, REGION_SCALE


@dataclass(frozen=True)
class Region:
    """A turned square of a square picture.

    Attributes:
        centre: ``(2,)`` in shares of the picture, 0 to 1 between its edges.
        side: length of its side, in the same unit.
        angle: radians by which it is turned clockwise, 0 upright.
    """

    centre: FloatArray
    side: float
    angle: float

    @classmethod
    def of_person(cls, hips: FloatArray, above: FloatArray) -> Self:
        """The region of a person, from the middle of the hips to the circle's point, ``(2,)``."""
        x, y = above - hips
        # Upright the point lies straight above the hips; y goes down.
        angle = np.pi / 2 - np.arctan2(-y, x)
        turned = (angle + np.pi) % (2 * np.pi) - np.pi
        return cls(hips, float(2 * np.hypot(x, y) * REGION_SCALE), float(turned))

    @classmethod
    def of_box(cls, box_xyxy: FloatArray) -> Self:
        """About the region of an upright person who fills a box ``(4,)``."""
        left, top, right, bottom = box_xyxy
        hips = np.array([(left + right) / 2, top + BOX_HIPS * (bottom - top)])
        return cls(hips, float(BOX_REGION * max(right - left, bottom - top)), 0.0)

    @property
    def box(self) -> FloatArray:
        """``(4,)`` left, top, right, bottom of the square as if it were not turned."""
        half = self.side / 2
        return np.concatenate([self.centre - half, self.centre + half])

    def to_picture(self, xy: FloatArray) -> FloatArray:
        """From shares of the region to shares of the picture, ``(..., 2)``."""
        return self.centre + self.side * self.turned(xy - 0.5)

    def turned(self, xy: FloatArray) -> FloatArray:
        """Vectors ``(..., 2)`` of the region on the picture's axes, their lengths kept."""
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        return np.asarray(xy @ np.array([[cos, sin], [-sin, cos]]))

    def pixels(self, picture_rgb: Image, side_px: int, *, black_beyond: bool) -> Image:
        """The region's pixels, ``(side_px, side_px, 3)`` uint8, read between the picture's own.

        As in the library a pixel is taken at its corner, not at its centre, on both sides, and
        places are rounded to 1/32 of a pixel (OpenCV's fixed-point maps). The networks feel even
        that: read at exact places, one landmark in twenty came out more than 2 pixels elsewhere.

        Args:
            picture_rgb: a square picture.
            side_px: side of what is returned.
            black_beyond: black beyond the picture's edges, otherwise their pixels go on.
        """
        import cv2

        corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
        corner, right, down = self.to_picture(corners) * picture_rgb.shape[0]
        step = np.arange(side_px)[:, None] / side_px
        along, across = step * (right - corner) + corner, step * (down - corner)
        maps = np.empty((2, side_px, side_px), np.float32)
        for axis in (0, 1):
            # Rounded while it is added: maps in double precision would cost more than all the rest.
            np.add.outer(across[:, axis], along[:, axis], out=maps[axis], casting="same_kind")
        whole, rest = cv2.convertMaps(maps[0], maps[1], cv2.CV_16SC2)
        beyond = cv2.BORDER_CONSTANT if black_beyond else cv2.BORDER_REPLICATE
        pixels = cv2.remap(picture_rgb, whole, rest, cv2.INTER_LINEAR, borderMode=beyond)
        return np.asarray(pixels, dtype=np.uint8)


WHOLE = Region(np.array([0.5, 0.5]), 1.0, 0.0)
"""The whole picture."""
