"""Painted lines where a camera expects them: evidence for one assignment against another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.camera.pinhole import Camera
from posecheck.ground.find.tuning import (
    HIT,
    LEAST_REACH_PX,
    LINE_REACH_PX,
    LINE_STEP_PX,
    LINE_WIDTH_M,
    MIN_CONTRAST,
    MIN_LINE_PX,
    MIN_SAMPLES,
    MISS,
    MOST_AGAINST_CREASE,
    MOST_FOR_CREASE,
    MOST_FOR_FIELD,
)
from posecheck.maths.arrays import BoolArray, FloatArray, Image
from posecheck.maths.vectors import left_of, unit
from posecheck.practice.field import END_LINE_M, RESTRAINING_LINE_M, SIDELINE_M
from posecheck.practice.layout import Layout


@dataclass(frozen=True)
class PaintPicture:
    """A picture prepared for finding lines in it.

    Attributes:
        light: ``(height, width)`` CIE Lab's L, 0 to 100.
        seen: ``(height, width)`` True where the picture shows anything.
    """

    light: npt.NDArray[np.float32]
    seen: BoolArray


def paint_picture(rgb: Image, seen: BoolArray) -> PaintPicture:
    """The lightness of a picture.

    Args:
        rgb: ``(height, width, 3)`` uint8.
        seen: ``(height, width)`` True where it shows anything.
    """
    import cv2

    lab = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2Lab))
    # Eight bits hold L in 255ths (OpenCV's documentation of the conversion).
    return PaintPicture(lab[..., 0] * np.float32(100 / 255), seen)


def paint_evidence(picture: PaintPicture, camera: Camera, layout: Layout) -> float:
    """Logarithm of the likelihood of a camera by the painted lines, up to a constant.

    Args:
        picture: in which the lines are seen.
        camera: in the picture's pixels.
        layout: no lines are expected without a goal.
    """
    if not layout.goal:
        return 0.0
    crease = _samples(picture, camera, _crease(layout))
    evidence = float(np.clip(_sum(crease), MOST_AGAINST_CREASE, MOST_FOR_CREASE))
    straight = [_sum(_samples(picture, camera, line)) for line in _field_lines()]
    return evidence + float(np.clip(sum(max(each, 0.0) for each in straight), 0, MOST_FOR_FIELD))


def _crease(layout: Layout) -> FloatArray:
    """``(n, 2)`` metres along the crease."""
    radius = layout.points["crease-top"][1]
    angle = np.linspace(0, 2 * np.pi, 721)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def _field_lines() -> list[FloatArray]:
    """``(n, 2)`` metres along restraining line, end line and sidelines."""
    across = np.linspace(-SIDELINE_M, SIDELINE_M, 550)
    along = np.linspace(END_LINE_M, 40.0, 550)
    return [
        np.column_stack([across, np.full_like(across, RESTRAINING_LINE_M)]),
        np.column_stack([across, np.full_like(across, END_LINE_M)]),
        np.column_stack([np.full_like(along, -SIDELINE_M), along]),
        np.column_stack([np.full_like(along, SIDELINE_M), along]),
    ]


def _sum(samples: BoolArray) -> float:
    return float(np.where(samples, HIT, MISS).sum()) if len(samples) >= MIN_SAMPLES else 0.0


def _samples(picture: PaintPicture, camera: Camera, line_m: FloatArray) -> BoolArray:
    """``(n,)`` for places along a line ``(m, 2)`` in metres: True where paint shows there.

    Places that the picture does not show are left out.
    """
    height, width = picture.light.shape
    reach = max(LEAST_REACH_PX, LINE_REACH_PX * min(width, 1920) / 1920)
    flat = np.zeros(len(line_m))
    xy = camera.to_image(np.column_stack([line_m, flat]))
    ahead = np.gradient(xy, axis=0)
    length = np.linalg.norm(ahead, axis=1)
    normal = unit(left_of(ahead))
    side_m = LINE_WIDTH_M * unit(left_of(np.gradient(line_m, axis=0)))
    aside = camera.to_image(np.column_stack([line_m + side_m, flat])) - xy
    thick = np.abs(np.sum(aside * normal, axis=1))
    outer = 2 * thick + 2 * reach + 2
    with np.errstate(invalid="ignore"):
        use = (
            (thick >= MIN_LINE_PX)
            & np.all(xy > outer[:, None], axis=1)
            & np.all(xy < np.array([width, height]) - 1 - outer[:, None], axis=1)
        )
    # One sample every so many pixels along the line.
    steps = np.floor(np.cumsum(np.where(np.isfinite(length), length, 0.0)) / LINE_STEP_PX)
    use &= np.diff(steps, prepend=-1) > 0
    samples = [
        _ridge(picture, xy[i], normal[i], float(thick[i]), reach) for i in np.flatnonzero(use)
    ]
    return np.array([sample for sample in samples if sample is not None], dtype=bool)


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
