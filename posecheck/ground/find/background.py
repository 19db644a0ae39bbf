"""The field without its runners: one picture of a whole clip, in which to find points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.camera.motion import CameraMotion
from posecheck.camera.motion_estimator import CameraMotionEstimator
from posecheck.ground.find.tuning import (
    LEAST_SCALE,
    LONGER_SIDE_PX,
    MAX_BEYOND,
    MEDIAN_FRAMES,
    STRIP_PX,
    WHOLE_PX,
)
from posecheck.maths.arrays import BoolArray, FloatArray, Image
from posecheck.maths.homography import mapped
from posecheck.players.tuning import SMALL_PX
from posecheck.video.clip import Clip


@dataclass(frozen=True)
class FieldPicture:
    """What the camera saw over a clip, mapped to where the clip's first frame would show it.

    Attributes:
        rgb: ``(height, width, 3)`` uint8; wider than the film when the camera turned.
        seen: ``(height, width)`` True where some frame shows the field.
        origin_px: ``(2,)`` where this picture's (0, 0) is in the shrunk first frame.
        shrink: size of the film over this picture's.
        frame_size_px: width and height of the shrunk first frame.
    """

    rgb: Image
    seen: BoolArray
    origin_px: FloatArray
    shrink: float
    frame_size_px: tuple[int, int]

    def to_frame(self, xy_px: FloatArray) -> FloatArray:
        """Take ``(..., 2)`` pixels of this picture to the first frame in the film's own size."""
        # Pixel centres are whole numbers, so a picture's edge is at -0.5.
        return np.asarray((xy_px + self.origin_px + 0.5) * self.shrink - 0.5)


def motion_of(clip: Clip) -> CameraMotion:
    """How the camera moved in a clip whose players have not been searched for."""
    estimator = CameraMotionEstimator(clip.width_px, clip.height_px)
    for glimpse in clip.glimpses(SMALL_PX):
        estimator.add(glimpse.grey)
    return estimator.motion()


def field_picture(clip: Clip, motion: CameraMotion) -> FieldPicture:
    """The median of a clip's frames mapped to the first, which keeps what does not move.

    Args:
        clip: the film.
        motion: of its camera.
    """
    import cv2

    shrink = max(1.0, max(clip.width_px, clip.height_px) / LONGER_SIDE_PX)
    size = (round(clip.width_px / shrink), round(clip.height_px / shrink))
    usable = np.flatnonzero(motion.tracked)
    chosen = usable[np.unique(np.linspace(0, len(usable) - 1, MEDIAN_FRAMES).round().astype(int))]
    which = np.zeros(clip.n_frames, dtype=bool)
    which[chosen] = True

    to_small = np.array(
        [[1 / shrink, 0, 0.5 / shrink - 0.5], [0, 1 / shrink, 0.5 / shrink - 0.5], [0, 0, 1]]
    )
    to_first = to_small @ motion.to_reference[chosen] @ np.linalg.inv(to_small)
    left, top, right, bottom = _extent(to_first, size)
    frames = [
        np.asarray(cv2.resize(frame.rgb, size, interpolation=cv2.INTER_AREA), np.uint8)
        for frame in clip.frames(which=which)
    ]
    rgb = np.zeros((bottom - top, right - left, 3), np.uint8)
    seen = np.zeros(rgb.shape[:2], dtype=bool)
    for first in range(0, len(rgb), STRIP_PX):
        rows = slice(first, min(first + STRIP_PX, len(rgb)))
        shift = np.array([[1.0, 0, -left], [0, 1, -top - first], [0, 0, 1]])
        strip = (right - left, rows.stop - first)
        layers = [
            _warped(frame, shift @ mapping, strip)
            for frame, mapping in zip(frames, to_first, strict=True)
        ]
        rgb[rows], seen[rows] = _median(layers)
    return FieldPicture(rgb, seen, np.array([left, top], dtype=np.float64), shrink, size)


def _warped(frame: Image, homography: FloatArray, size: tuple[int, int]) -> tuple[Image, BoolArray]:
    """A frame mapped into a strip, and where it covers the strip."""
    import cv2

    whole = np.full(frame.shape[:2], 255, np.uint8)
    cover = cv2.warpPerspective(whole, homography, size, flags=cv2.INTER_NEAREST)
    still = np.array_equal(homography[:, :2], np.eye(3)[:, :2])
    if still and not (homography[:2, 2] % 1).any():
        # The camera stood still: interpolation would only smooth.
        warped = cv2.warpPerspective(frame, homography, size, flags=cv2.INTER_NEAREST)
    else:
        warped = cv2.warpPerspective(frame, homography, size)
    return np.asarray(warped, np.uint8), np.asarray(cover) > 0


def _extent(to_first: FloatArray, size: tuple[int, int]) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of what the frames cover, in pixels of the first."""
    width, height = size
    corners = np.array([[0, 0], [width, 0], [0, height], [width, height]], dtype=np.float64)
    everywhere = np.broadcast_to(corners, (len(to_first), 4, 2))
    xy = mapped(to_first, everywhere, least_scale=LEAST_SCALE)
    low = np.clip(np.floor(xy.min(axis=(0, 1))), -MAX_BEYOND * size, 0)
    high = np.clip(np.ceil(xy.max(axis=(0, 1))), size, (1 + MAX_BEYOND) * size)
    if np.abs(low).max() < WHOLE_PX and np.abs(high - size).max() < WHOLE_PX:
        return 0, 0, width, height
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def _median(layers: list[tuple[Image, BoolArray]]) -> tuple[Image, BoolArray]:
    """The lower middle value of the layers that cover a pixel, 0 where none does; and where."""
    stack = np.array([frame for frame, _ in layers])
    covered = np.array([cover for _, cover in layers])
    stack[~covered] = 255  # sorts behind what is covered
    stack.sort(axis=0)
    middle = np.maximum(covered.sum(axis=0) - 1, 0) // 2
    picked = np.take_along_axis(stack, middle[None, ..., None], axis=0)[0]
    seen = np.asarray(np.any(covered, axis=0))
    return np.where(seen[..., None], picked, np.uint8(0)), seen
