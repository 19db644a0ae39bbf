"""A frame in which nobody but one player can be made out: he stays sharp, all else is blurred.

What is promised of a frame that :func:`shown_alone` gives:

- Sharp is only what lies on the player's own outline, drawn from his landmarks with a hand's
  breadth around it. Everything else of the picture, people, faces, numbers on jerseys, the far
  line, is brought down to ``GRID_ROWS`` rows of cells at the most, smoothed over its neighbours,
  and drawn large again: what was finer is no longer in the file, so that it cannot be brought back.
- Where anybody else who was followed comes before or behind him, the other one wins: there the
  player himself is blurred too.
- A frame without his landmarks is blurred as a whole.

What is not promised: somebody whom the film's tracker has missed, and who stands right at the
player's outline, shows within that hand's breadth. And the sharp one is whoever was taken for the
player: a rep with the wrong defender must be put right before it is handed out.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray
from posecheck.pages.tuning import (
    FEATHER_HEIGHTS,
    GRID_ROWS,
    GRID_ROWS_OF_A_PLAYER,
    HAND_HEIGHTS,
    HEAD_HEIGHTS,
    LIMB_HEIGHTS,
    LONGEST_LIMB_HEIGHTS,
    SMOOTHED_CELLS,
    TRUNK_HEIGHTS,
)
from posecheck.pose.skeleton import SKELETON

Picture = npt.NDArray[np.uint8]

_FACE = SKELETON.indices("nose", "left_ear", "right_ear")
_SHOULDERS = SKELETON.indices("left_shoulder", "right_shoulder")
_HIPS = SKELETON.indices("left_hip", "right_hip")
_HANDS = SKELETON.indices("left_wrist", "right_wrist", "left_index", "right_index")
_LIMBS = [
    tuple(SKELETON.indices(*(f"{side}_{joint}" for joint in joints)))
    for side in ("left", "right")
    for joints in (
        ("shoulder", "elbow"),
        ("elbow", "wrist"),
        ("wrist", "index"),
        ("hip", "knee"),
        ("knee", "ankle"),
        ("ankle", "foot_index"),
        ("ankle", "heel"),
    )
]


def cell_px(picture_height_px: int, tall_px: float) -> float:
    """Side of the cells that a picture is brought down to.

    Args:
        picture_height_px: of the whole picture as filmed.
        tall_px: height of a player in it, NaN when not known.
    """
    cell = picture_height_px / GRID_ROWS
    return max(cell, tall_px / GRID_ROWS_OF_A_PLAYER) if np.isfinite(tall_px) else cell


def blurred(rgb: Picture, cell: float) -> Picture:
    """A picture ``(height, width, 3)`` without any detail finer than cells of a side in pixels."""
    height, width = rgb.shape[:2]
    grid = max(2, round(width / cell)), max(2, round(height / cell))
    coarse = cv2.resize(rgb, grid, interpolation=cv2.INTER_AREA)
    # Without this, a body that moves over the cells could be put together again from many frames.
    coarse = cv2.GaussianBlur(coarse, (0, 0), SMOOTHED_CELLS)
    smooth = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(smooth, dtype=np.uint8)


def outline(shape: tuple[int, int], xy_px: FloatArray, tall_px: float) -> npt.NDArray[np.uint8]:
    """The pixels of a body with a hand's breadth around it.

    Args:
        shape: rows and columns of the picture.
        xy_px: ``(33, 2)`` landmarks, NaN where not seen.
        tall_px: height of the player standing.

    Returns:
        ``shape``, 255 on the body and 0 elsewhere; nothing but 0 without a shoulder and a hip, for
        limbs alone may be anybody's.
    """
    mask = np.zeros(shape, dtype=np.uint8)
    shoulders, hips = (_seen(xy_px[pair]) for pair in (_SHOULDERS, _HIPS))
    if not (len(shoulders) and len(hips) and tall_px > 0):
        return mask
    trunk = np.concatenate([shoulders, hips])
    corners = np.round(cv2.convexHull(trunk.astype(np.float32))).astype(np.int32)
    cv2.fillPoly(mask, [corners], 255)
    cv2.polylines(mask, [corners], True, 255, _width(TRUNK_HEIGHTS, tall_px))
    for start, end in _LIMBS:
        _limb(mask, xy_px[start], xy_px[end], LIMB_HEIGHTS, tall_px)
    face = _seen(xy_px[_FACE])
    if len(face):
        neck, head = shoulders.mean(axis=0), face.mean(axis=0)
        _limb(mask, neck, head, LIMB_HEIGHTS, tall_px)
        _disc(mask, head, HEAD_HEIGHTS, tall_px, near=neck)
    for hand in _HANDS:
        _disc(mask, xy_px[hand], HAND_HEIGHTS, tall_px, near=trunk.mean(axis=0))
    return mask


def shown_alone(
    rgb: Picture,
    xy_px: FloatArray,
    tall_px: float,
    others_px: Sequence[FloatArray] | FloatArray,
    cell: float,
) -> Picture:
    """The player sharp and everything else blurred, as the file's head promises.

    Args:
        rgb: ``(height, width, 3)`` the frame, or a piece of it; pixels below are of the piece.
        xy_px: ``(33, 2)`` the player's landmarks, NaN where not seen.
        tall_px: height of the player standing, in pixels; NaN when not known.
        others_px: ``(4,)`` boxes of everybody else, left, top, right, bottom.
        cell: from :func:`cell_px`.
    """
    hidden = blurred(rgb, cell)
    mask = outline(rgb.shape[:2], xy_px, tall_px)
    for box in others_px:
        left, top, right, bottom = np.clip(box, 0, None)
        mask[int(top) : int(np.ceil(bottom)), int(left) : int(np.ceil(right))] = 0
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    if len(rows) == 0:
        return hidden
    part = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    # Fades to nothing inside the outline: outside it not a trace of the sharp picture is left.
    deep = cv2.distanceTransform(np.pad(mask[part], 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    share = np.clip(deep / max(1.0, FEATHER_HEIGHTS * tall_px), 0.0, 1.0)[..., None]
    mixed = hidden[part] + share * (rgb[part].astype(np.float32) - hidden[part])
    hidden[part] = np.where(mask[part][..., None] > 0, np.round(mixed), hidden[part])
    return hidden


def _seen(points: FloatArray) -> FloatArray:
    return points[np.isfinite(points).all(axis=1)]


def _width(heights: float, tall_px: float) -> int:
    return max(1, round(2 * heights * tall_px))


def _limb(
    mask: npt.NDArray[np.uint8],
    start: FloatArray,
    end: FloatArray,
    heights: float,
    tall_px: float,
) -> None:
    """A stroke from joint to joint, unless it is longer than any limb: then a joint has jumped."""
    length = float(np.hypot(*(end - start)))
    if not length <= LONGEST_LIMB_HEIGHTS * tall_px:  # also when NaN
        return
    (a, b), (c, d) = np.round([start, end]).astype(int).tolist()
    cv2.line(mask, (a, b), (c, d), 255, _width(heights, tall_px))


def _disc(
    mask: npt.NDArray[np.uint8],
    centre: FloatArray,
    heights: float,
    tall_px: float,
    near: FloatArray,
) -> None:
    """A disc, unless it lies further from the body than any limb is long."""
    if not float(np.hypot(*(centre - near))) <= 2 * LONGEST_LIMB_HEIGHTS * tall_px:
        return
    x, y = np.round(centre).astype(int).tolist()
    cv2.circle(mask, (x, y), max(1, round(heights * tall_px)), 255, -1)
