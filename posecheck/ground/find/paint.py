"""Painted lines where a camera expects them: what tells one naming of the cones from another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.camera.pinhole import Camera
from posecheck.ground.find.background import Rgb
from posecheck.maths.arrays import FloatArray
from posecheck.practice.field import END_LINE_M, RESTRAINING_LINE_M, SIDELINE_M
from posecheck.practice.layout import Layout

Mask = npt.NDArray[np.bool_]

LINE_WIDTH_M = 0.05
"""Two inches, as creases are painted (NCAA Men's Lacrosse Rules, Rule 1, from memory)."""

STEP_PX = 12.0
"""Between two looks at a line; nearer ones would see the same grass."""

REACH_PX = 5.0
"""A line may lie so far from where a fitted camera expects it, in a picture 1920 wide."""

MIN_CONTRAST = 7.0
"""Of paint over the grass on both its sides, in CIE Lab's L; single blades reach 4."""

MIN_LINE_PX = 0.6
"""A line seen narrower than this is too faint to count, there or not."""

HIT, MISS = 1.0, -0.7
"""What one look adds to and takes from the evidence. Paint shows a bright ridge in four looks of
five, grass in one of twelve; the logarithms of the ratios are 2.3 and -1.5, halved since
neighbouring looks are alike."""

MOST_FOR, MOST_AGAINST = 14.0, -7.0
"""Of a crease. Less counts against than for, because practice is also held without paint."""

MOST_FOR_FIELD = 10.0
"""Of the field's other lines, which count only when they are there: fields differ."""

MIN_LOOKS = 5


@dataclass(frozen=True)
class PaintPicture:
    """A picture made ready for looking at lines in it.

    Attributes:
        light: ``(height, width)`` CIE Lab's L, 0 to 100.
        seen: ``(height, width)`` where the picture shows anything.
    """

    light: npt.NDArray[np.float32]
    seen: Mask


def paint_picture(rgb: Rgb, seen: Mask) -> PaintPicture:
    """Take the brightness of a picture.

    Args:
        rgb: ``(height, width, 3)`` uint8.
        seen: ``(height, width)`` where it shows anything.
    """
    import cv2

    lab = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2Lab))
    # Eight bits hold L in 255ths (OpenCV's documentation of the conversion).
    return PaintPicture(lab[..., 0] * np.float32(100 / 255), seen)


def paint_evidence(picture: PaintPicture, camera: Camera, layout: Layout) -> float:
    """How much the painted lines speak for a camera, as a logarithm of likelihood.

    Args:
        picture: what is seen.
        camera: in the picture's pixels.
        layout: no lines are expected without a goal.
    """
    if not layout.goal:
        return 0.0
    crease = _looks(picture, camera, _crease(layout))
    evidence = float(np.clip(_sum(crease), MOST_AGAINST, MOST_FOR))
    straight = [_sum(_looks(picture, camera, line)) for line in _field_lines()]
    return evidence + float(np.clip(sum(max(each, 0.0) for each in straight), 0, MOST_FOR_FIELD))


def _crease(layout: Layout) -> FloatArray:
    radius = layout.points["crease-top"][1]
    angle = np.linspace(0, 2 * np.pi, 721)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def _field_lines() -> list[FloatArray]:
    across = np.linspace(-SIDELINE_M, SIDELINE_M, 550)
    along = np.linspace(END_LINE_M, 40.0, 550)
    return [
        np.column_stack([across, np.full_like(across, RESTRAINING_LINE_M)]),
        np.column_stack([across, np.full_like(across, END_LINE_M)]),
        np.column_stack([np.full_like(along, -SIDELINE_M), along]),
        np.column_stack([np.full_like(along, SIDELINE_M), along]),
    ]


def _sum(looks: Mask) -> float:
    return float(np.where(looks, HIT, MISS).sum()) if len(looks) >= MIN_LOOKS else 0.0


def _looks(picture: PaintPicture, camera: Camera, line_m: FloatArray) -> Mask:
    """``(n,)`` for places along a line that is in the picture: whether paint shows there."""
    height, width = picture.light.shape
    reach = max(2.0, REACH_PX * min(width, 1920) / 1920)
    flat = np.zeros(len(line_m))
    xy = camera.to_image(np.column_stack([line_m, flat]))
    ahead = np.gradient(xy, axis=0)
    length = np.linalg.norm(ahead, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        normal = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / length[:, None]
    side_m = np.gradient(line_m, axis=0)
    side_m = np.column_stack([-side_m[:, 1], side_m[:, 0]])
    side_m *= LINE_WIDTH_M / np.linalg.norm(side_m, axis=1, keepdims=True)
    aside = camera.to_image(np.column_stack([line_m + side_m, flat])) - xy
    thick = np.abs(np.sum(aside * normal, axis=1))
    outer = 2 * thick + 2 * reach + 2
    with np.errstate(invalid="ignore"):
        use = (
            (thick >= MIN_LINE_PX)
            & np.all(xy > outer[:, None], axis=1)
            & np.all(xy < np.array([width, height]) - 1 - outer[:, None], axis=1)
        )
    # One look every so many pixels along the line.
    steps = np.floor(np.cumsum(np.where(np.isfinite(length), length, 0.0)) / STEP_PX)
    use &= np.diff(steps, prepend=-1) > 0
    looks = [_ridge(picture, xy[i], normal[i], float(thick[i]), reach) for i in np.flatnonzero(use)]
    return np.array([look for look in looks if look is not None], dtype=bool)


def _ridge(
    picture: PaintPicture, at: FloatArray, normal: FloatArray, thick: float, reach: float
) -> bool | None:
    """Whether a bright ridge crosses here, None where the picture shows nothing."""
    half = thick + 2 * reach + 2
    offset = np.arange(-half, half + 0.5, 0.5)
    points = at + offset[:, None] * normal
    columns, rows = points.round().astype(int).T
    if not picture.seen[rows, columns].all():
        return None
    light = picture.light[rows, columns]
    ridge = np.abs(offset) <= reach
    best = int(np.argmax(np.where(ridge, light, -np.inf)))
    gap = max(thick, 1.0) + 1.0
    before, after = offset < offset[best] - gap, offset > offset[best] + gap
    if not (before.any() and after.any()):
        return None
    sides = max(np.median(light[before]), np.median(light[after]))
    return bool(light[best] - sides >= MIN_CONTRAST)
