"""The pixels of a decoded frame, turned into upright RGB where they are asked for.

To turn a whole 1080p frame into RGB costs half of what decoding it does, and a player fills a
tenth of it.
"""

from __future__ import annotations

from functools import cached_property, lru_cache
from threading import get_ident
from typing import Any

import numpy as np

from posecheck.maths.arrays import Image
from posecheck.video.tuning import (
    CONVERTERS_KEPT,
    CUT_STEP_PX,
    PIXEL_SHAPES,
    SQUARE_ENOUGH,
)

_PLANAR = ("yuv420p", "yuvj420p")
"""Formats that a part is cut out of before it is turned into RGB: a plane of brightness, and two of
colour with every other pixel and row, none of which looks at its neighbours. Film of more than 8
bits is turned into RGB whole."""


class FilmPixels:
    """A decoded frame that gives its parts as ``(height, width, 3)`` uint8, upright.

    It takes slices as an array does: ``pixels[top:bottom, left:right]``.

    Args:
        picture: PyAV's frame.
        rotation_deg: clockwise turn that makes it upright, 0, 90, 180 or 270.
        size_px: width and height at which its pixels are square, before the turn; None for its own.
    """

    def __init__(
        self, picture: Any, rotation_deg: int, size_px: tuple[int, int] | None = None
    ) -> None:
        self._picture = picture
        self._rotation_deg = rotation_deg
        self._size_px = size_px or (picture.width, picture.height)

    @property
    def shape(self) -> tuple[int, ...]:
        """Height, width, 3."""
        width, height = self._size_px
        return (width, height, 3) if self._rotation_deg % 180 else (height, width, 3)

    def __getitem__(self, part: tuple[slice, slice]) -> Image:
        height, width = self.shape[:2]
        (top, bottom, _), (left, right, _) = part[0].indices(height), part[1].indices(width)
        whole = (bottom - top, right - left) == (height, width) or "_whole" in vars(self)
        if whole or not self._can_be_cut:
            return self._whole[top:bottom, left:right]
        if bottom <= top or right <= left:
            return np.empty((max(bottom - top, 0), max(right - left, 0), 3), np.uint8)
        tall, wide = self._picture.height, self._picture.width
        stored = (
            (top, left, bottom, right),
            (tall - right, top, tall - left, bottom),
            (tall - bottom, wide - right, tall - top, wide - left),
            (left, wide - bottom, right, wide - top),
        )[self._rotation_deg // 90]
        return turned(_cut(self._picture, *stored), self._rotation_deg)

    @property
    def _can_be_cut(self) -> bool:
        if not self._is_square:
            return False
        even = self._picture.width % 2 == self._picture.height % 2 == 0
        return even and self._picture.format.name in _PLANAR

    @cached_property
    def _whole(self) -> Image:
        if self._is_square:
            return turned(self._picture.to_ndarray(format="rgb24"), self._rotation_deg)
        wide, tall = self._size_px
        pixels = self._picture.to_ndarray(
            format="rgb24", width=wide, height=tall, interpolation="BICUBIC"
        )
        return turned(pixels, self._rotation_deg)

    @property
    def _is_square(self) -> bool:
        return self._size_px == (self._picture.width, self._picture.height)


def _cut(picture: Any, top: int, left: int, bottom: int, right: int) -> Image:
    """A part of the stored picture, the same pixels as of the whole picture turned into RGB."""
    import av

    # Two pixels and two rows share one of colour.
    x0, y0 = left // 2, top // 2
    x1, y1 = x0 + _half(right - 2 * x0, picture.width), y0 + _half(bottom - 2 * y0, picture.height)
    luma, *colour = (_samples(plane) for plane in picture.planes)
    samples = [luma[2 * y0 : 2 * y1, 2 * x0 : 2 * x1], *(each[y0:y1, x0:x1] for each in colour)]
    part = np.concatenate([each.ravel() for each in samples]).reshape(-1, samples[0].shape[1])
    small = av.VideoFrame.from_ndarray(part, format=picture.format.name)
    small.colorspace, small.color_range = picture.colorspace, picture.color_range
    form = (part.shape, picture.format.name, small.colorspace, small.color_range)
    rgb = _converter(form, get_ident()).reformat(small, format="rgb24").to_ndarray()
    y, x = top - 2 * y0, left - 2 * x0
    return np.asarray(rgb[y : y + bottom - top, x : x + right - left])


def _half(length: int, whole: int) -> int:
    """Half of a length, made longer to whole steps as far as the picture goes: a player's box has
    another size in every frame, and to begin with a new size costs more than to convert it."""
    return min(-(-length // CUT_STEP_PX) * CUT_STEP_PX, whole) // 2


@lru_cache(maxsize=CONVERTERS_KEPT)
def _converter(form: tuple[Any, ...], thread: int) -> Any:
    """What turns pictures of one size and form into RGB, for one thread."""
    from av.video.reformatter import VideoReformatter

    return VideoReformatter()


def _samples(plane: Any) -> Image:
    return np.frombuffer(plane, np.uint8).reshape(plane.height, -1)[:, : plane.width]


def turned(pixels: Image, rotation_deg: int) -> Image:
    """A stored picture upright, after a clockwise turn by a multiple of 90 degrees."""
    if not rotation_deg:
        return pixels
    return np.ascontiguousarray(np.rot90(pixels, k=-rotation_deg // 90))


def square_size(width: int, height: int, shape: float | None) -> tuple[int, int]:
    """The size at which pixels are square: the picture is made larger, so that nothing is lost.

    Args:
        width, height: as stored.
        shape: width of a pixel over its height, None when not stated.
    """
    if shape is None or not PIXEL_SHAPES[0] <= shape <= PIXEL_SHAPES[1]:
        return width, height
    if abs(shape - 1) <= SQUARE_ENOUGH:
        return width, height
    return (round(width * shape), height) if shape > 1 else (width, round(height / shape))
