"""How a player looks in a picture: the sharpness of his edges, and his light.

What the film grade needs of the pixels, measured on the player alone: a sharp hedge behind him
does not make his knees sharp.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.filming.tuning import (
    CLIPPED_LEVEL,
    LEVEL_SLOPE_SHARE,
    LIMB_WIDTH,
    LOOKED_AT_PX,
    MIN_CUTOUT_PX,
    MIN_EDGES,
    MIN_STEEPNESS,
    SMOOTHING_SD_PX,
    STEEPEST_QUANTILE,
)
from posecheck.maths.arrays import BoolArray, FloatArray, Pixels, check_shapes, finite_median
from posecheck.pose.skeleton import SKELETON

_LIMBS = tuple(
    SKELETON.indices(f"{side}_{one}", f"{side}_{other}")
    for side in ("left", "right")
    for one, other in (
        ("shoulder", "hip"),
        ("hip", "knee"),
        ("knee", "ankle"),
        ("ankle", "foot_index"),
    )
)


@dataclass(frozen=True)
class Look:
    """How a player looks in one picture, or the median over several; NaN where not known.

    Attributes:
        blur: width of his edges, the larger of horizontal and vertical, in heights of the player.
        light: median brightness of his pixels, 0 black to 1 white.
        burnt: share of his pixels, with those around him, that are burnt out.
    """

    blur: float
    light: float
    burnt: float


NOT_LOOKED = Look(np.nan, np.nan, np.nan)


@dataclass(frozen=True)
class Looks:
    """How a player looks in some of a clip's pictures.

    Attributes:
        t_s: ``(n,)`` seconds of clip time.
        each: the look in each of them.
    """

    t_s: FloatArray
    each: tuple[Look, ...]

    def __post_init__(self) -> None:
        check_shapes(self, t_s=(len(self.each),))

    def between(self, start_s: float, end_s: float) -> Look:
        """The median of what is known within a window of time."""
        chosen = [
            look for t_s, look in zip(self.t_s, self.each, strict=True) if start_s <= t_s <= end_s
        ]
        return Look(
            *(finite_median([getattr(look, name) for look in chosen]) for name in vars(NOT_LOOKED))
        )


NO_LOOKS = Looks(np.empty(0), ())


def look_at(rgb: Pixels, xy_px: FloatArray) -> Look:
    """Measure how a player looks.

    Args:
        rgb: the picture.
        xy_px: ``(33, 2)`` his landmarks in it.

    Returns:
        All NaN when the landmarks are not seen or lie outside the picture.
    """
    import cv2

    if not np.isfinite(xy_px).all():
        return NOT_LOOKED
    tall = float(np.ptp(xy_px[:, 1]))
    margin = LIMB_WIDTH * tall
    limits = np.array(rgb.shape[1::-1])
    low = np.clip(np.floor(xy_px.min(axis=0) - margin), 0, limits).astype(int)
    high = np.clip(np.ceil(xy_px.max(axis=0) + margin) + 1, 0, limits).astype(int)
    if (high - low < MIN_CUTOUT_PX).any():
        return NOT_LOOKED
    shrink = min(1.0, LOOKED_AT_PX / tall)
    grey = cv2.cvtColor(rgb[low[1] : high[1], low[0] : high[0]], cv2.COLOR_RGB2GRAY)
    if shrink < 1:
        grey = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    player = _player(grey.shape, (xy_px - low) * shrink, tall * shrink)
    if not player.any():
        return NOT_LOOKED
    return Look(
        blur=edge_width_px(grey.astype(np.float64), player) / (tall * shrink),
        light=float(np.median(grey[player])) / 255,
        burnt=float(np.mean(grey[player] >= CLIPPED_LEVEL)),
    )


def edge_width_px(grey: FloatArray, where: BoolArray) -> float:
    """Median width of the steep edges in pixels: the rise of each over its steepest slope.

    A Gaussian blur of standard deviation s makes an edge 2.5 s wide (the square root of 2 pi), a
    straight smear makes one as wide as the smear is long. Edges end where brightness turns (as in
    Marziliano and others, A no-reference perceptual blur metric, IEEE ICIP 2002; from memory).
    Horizontal and vertical edges are measured separately, since a smear blurs one direction only,
    and the wider median counts.

    Args:
        grey: ``(height, width)``.
        where: ``(height, width)`` True for the pixels to measure.

    Returns:
        NaN when there is no edge.
    """
    import cv2

    smooth = np.asarray(cv2.GaussianBlur(grey, (0, 0), SMOOTHING_SD_PX), dtype=np.float64)
    both = (_edges(smooth, where), _edges(smooth.T, where.T))
    widths = [float(np.median(edges)) for edges in both if len(edges) >= MIN_EDGES]
    if not widths:
        return float("nan")
    smoothed = np.sqrt(2 * np.pi) * SMOOTHING_SD_PX
    return float(np.sqrt(max(max(widths) ** 2 - smoothed**2, 0.0)))


def _edges(grey: FloatArray, where: BoolArray) -> FloatArray:
    """``(n_edges,)`` widths of the steep edges along the rows of a picture, pixels."""
    step = np.diff(grey, axis=1)
    slope = np.abs(step)
    # A stretch of rising or falling brightness ends with its row at the latest.
    turns = np.ones(step.shape, dtype=bool)
    turns[:, 1:] = np.sign(step[:, 1:]) != np.sign(step[:, :-1])
    starts = np.flatnonzero(turns)
    rise, steepest = (of.reduceat(slope.ravel(), starts) for of in (np.add, np.maximum))
    level = np.abs(np.gradient(grey, axis=0))[:, 1:] <= LEVEL_SLOPE_SHARE * slope
    wanted = where[:, 1:] & level & (slope > 0)
    if not wanted.any():
        return np.empty(0)
    least = MIN_STEEPNESS * float(np.quantile(slope[wanted], STEEPEST_QUANTILE))
    best = np.maximum.reduceat(np.where(wanted, slope, 0.0).ravel(), starts)
    steep = (best == steepest) & (steepest >= least)
    return np.asarray(rise[steep] / steepest[steep])


def _player(shape: tuple[int, ...], xy_px: FloatArray, tall_px: float) -> BoolArray:
    """``(height, width)`` True along his limbs."""
    import cv2

    drawn = np.zeros(shape, dtype=np.uint8)
    width = max(1, round(LIMB_WIDTH * tall_px))
    for limb in _LIMBS:
        one, other = (tuple(map(int, np.round(xy_px[end]))) for end in limb)
        cv2.line(drawn, one, other, 255, width)
    return np.asarray(drawn > 0)
