"""Coloured blobs on the ground: what may be a cone, and what may be a goal post."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.ground.find.tuning import (
    CUT_FOOT_SD_PX,
    GROUND_PART,
    HEIGHT_OVER_WIDTH,
    MAX_FROM_GROUND,
    MAX_WIDTH,
    MIN_CHROMA,
    MIN_FILL,
    MIN_FROM_GROUND,
    MIN_GROUND_AROUND,
    MIN_POST_PX,
    MIN_POST_SLIMNESS,
    MIN_WIDTH_PX,
    WHOLE_FOOT_SD_PX,
)
from posecheck.maths.arrays import BoolArray, FloatArray, Image
from posecheck.practice.layout import Point


@dataclass(frozen=True)
class Blobs:
    """Coloured blobs on the ground, in pixels of the picture they were found in.

    Attributes:
        foot_px: ``(n, 2)`` middle of the lower edge, which touches the ground nearest the camera.
        width_px: ``(n,)``.
        whole: ``(n,)`` False when the picture's edge cuts the blob.
        post_px: ``(m, 2)`` feet of upright posts.
        post_height_px: ``(m,)`` their heights in the picture.
    """

    foot_px: FloatArray
    width_px: FloatArray
    whole: BoolArray
    post_px: FloatArray
    post_height_px: FloatArray

    @property
    def base_sd_px(self) -> FloatArray:
        """``(n,)`` standard deviation of the foot."""
        return np.where(self.whole, WHOLE_FOOT_SD_PX, CUT_FOOT_SD_PX)


def find_blobs(rgb: Image, seen: BoolArray) -> Blobs:
    """Find what may be cones and goal posts by their colour.

    Args:
        rgb: ``(height, width, 3)`` uint8.
        seen: ``(height, width)`` True where the picture shows anything.
    """
    import cv2

    # Eight bits hold a and b with 128 added (OpenCV's documentation of the conversion).
    colour = cv2.cvtColor(rgb, cv2.COLOR_RGB2Lab)[..., 1:].astype(np.float32) - 128
    lower = seen.copy()
    lower[: int((1 - GROUND_PART) * len(lower))] = False
    if not lower.any():
        lower = seen
    ground = np.median(colour[lower], axis=0)
    from_ground = np.hypot(colour[..., 0] - ground[0], colour[..., 1] - ground[1])
    chroma = np.hypot(colour[..., 0], colour[..., 1])
    vivid = (chroma >= MIN_CHROMA) & (from_ground >= MIN_FROM_GROUND) & seen
    is_ground = (from_ground < MAX_FROM_GROUND) & seen

    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        vivid.astype(np.uint8), connectivity=8
    )
    feet, widths, whole = [], [], []
    for label in range(1, count):
        left, top, width, height, area = (int(value) for value in stats[label])
        if not (
            MIN_WIDTH_PX <= width <= MAX_WIDTH * rgb.shape[1]
            and HEIGHT_OVER_WIDTH[0] <= height / width <= HEIGHT_OVER_WIDTH[1]
            and area >= MIN_FILL * width * height
            and _foot_shown(seen, left, top, width, height)
            and _stands_on(is_ground, left, top, width, height)
        ):
            continue
        feet.append(_foot(rgb, labels == label, left, top, width, height))
        widths.append(width)
        whole.append(_is_whole(seen, left, top, width, height))
    posts, post_heights = _posts(vivid, is_ground)
    return Blobs(
        np.array(feet, dtype=np.float64).reshape(-1, 2),
        np.array(widths, dtype=np.float64),
        np.array(whole, dtype=bool),
        posts,
        post_heights,
    )


def _stands_on(is_ground: BoolArray, left: int, top: int, width: int, height: int) -> bool:
    """Whether there is ground below and beside the lower half."""
    around = max(3, width // 4)
    rows = slice(max(top + height // 2, 0), top + height + around)
    columns = slice(max(left - around, 0), left + width + around)
    ring = np.ones(is_ground[rows, columns].shape, dtype=bool)
    inner_left = left - columns.start
    ring[: top + height - rows.start, inner_left : inner_left + width] = False
    return bool(is_ground[rows, columns][ring].mean() >= MIN_GROUND_AROUND) if ring.any() else False


def _foot(rgb: Image, inside: BoolArray, left: int, top: int, width: int, height: int) -> Point:
    """Middle of the lower third, at the height of the lower edge.

    Film halves the resolution of colour. The edge matters most, since a pixel up or down is a long
    distance on the ground: it is read to a part of a pixel from how all three channels change from
    the cone's colour to that of the ground below.
    """
    low = slice(top + height - max(height // 3, 2), top + height)
    columns = np.flatnonzero(inside[low, left : left + width].any(axis=0))
    middle = left + (columns[0] + columns[-1]) / 2

    below = max(4, width // 4)
    rows = slice(top, top + height + below)
    part = rgb[rows, left : left + width].astype(np.float64)
    cone = np.median(part[inside[rows, left : left + width]], axis=0)
    if len(part) <= height + 2:
        return middle, top + height - 0.5
    ground = np.median(part[height + 2 :].reshape(-1, 3), axis=0)
    change = (cone - ground) / np.sum((cone - ground) ** 2)
    share = ((part - ground) @ change)[:, width // 3 : width - width // 3].mean(axis=1)
    gone = np.flatnonzero(share[height // 2 :] < 0.5)
    if not len(gone) or gone[0] == 0:
        return middle, top + height - 0.5
    last = height // 2 + int(gone[0]) - 1
    return middle, top + last + float((share[last] - 0.5) / (share[last] - share[last + 1]))


def _foot_shown(seen: BoolArray, left: int, top: int, width: int, height: int) -> bool:
    """Whether the lower edge is the blob's own, not the picture's."""
    below = top + height + 1
    return bool(below < len(seen) and seen[below, left : left + width].all())


def _is_whole(seen: BoolArray, left: int, top: int, width: int, height: int) -> bool:
    """Whether no edge of the picture cuts the blob's sides."""
    if left < 2 or left + width > seen.shape[1] - 2:
        return False
    return bool(seen[top : top + height, left - 2 : left + width + 2].all())


def _posts(vivid: BoolArray, is_ground: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Upright posts: what is left when everything less tall than a post is removed."""
    import cv2

    upright = cv2.morphologyEx(
        vivid.astype(np.uint8), cv2.MORPH_OPEN, np.ones((MIN_POST_PX, 1), np.uint8)
    )
    count, labels, stats, _ = cv2.connectedComponentsWithStats(upright, connectivity=8)
    feet, heights = [], []
    for label in range(1, count):
        left, top, width, height, _ = (int(value) for value in stats[label])
        if height < MIN_POST_SLIMNESS * width:
            continue
        columns = np.flatnonzero(labels[top + height - 2, left : left + width] == label)
        if not len(columns):
            continue
        feet.append((left + (columns[0] + columns[-1]) / 2, top + height - 1.0))
        heights.append(height)
    return np.array(feet, dtype=np.float64).reshape(-1, 2), np.array(heights, dtype=np.float64)
