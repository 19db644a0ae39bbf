"""How a player looks in a picture: how sharp his edges are, how his light is.

What the film grade needs of the pixels, measured on the player alone: a sharp hedge behind him
says nothing of his knees.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON

Rgb = npt.NDArray[np.uint8]

PLAYER_PX = 200
"""A taller player is shrunk to this: the pose model does not see him larger either."""

LIMB_WIDTH = 0.14
"""Of the band around each limb that counts as the player, in heights of the player: wide enough to
hold the outline of legs and trunk."""

SMOOTHED_PX = 1.2
"""Grain is smoothed away by so much before edges are looked for."""

STEEP = 0.3
"""An edge is at least so steep, as a share of the player's steepest."""

MIN_EDGES = 8
"""Fewer edge pixels one way say nothing of that way."""

CLIPPED = 250
"""From here up a pixel's light is not known any more, of 255."""

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
    """How a player looks in one picture, or in the middle over several; NaN where not known.

    Attributes:
        blur: how wide his edges are, the worse of across and upright, in heights of the player.
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
        t_s: ``(n,)`` when.
        each: one for each of them.
    """

    t_s: FloatArray
    each: tuple[Look, ...]

    def __post_init__(self) -> None:
        if self.t_s.shape != (len(self.each),):
            raise ValueError(f"t_s: want ({len(self.each)},), got {self.t_s.shape}")

    def between(self, start_s: float, end_s: float) -> Look:
        """The middle of what is known within a stretch of time."""
        chosen = [
            look for t_s, look in zip(self.t_s, self.each, strict=True) if start_s <= t_s <= end_s
        ]
        return Look(
            *(_median([getattr(look, name) for look in chosen]) for name in vars(NOT_LOOKED))
        )


NO_LOOKS = Looks(np.empty(0), ())


def look_at(rgb: Rgb, xy_px: FloatArray) -> Look:
    """Look at a player.

    Args:
        rgb: ``(height, width, 3)`` the picture.
        xy_px: ``(33, 2)`` his landmarks in it.

    Returns:
        Everything NaN when the landmarks are not seen or lie outside the picture.
    """
    import cv2

    if not np.isfinite(xy_px).all():
        return NOT_LOOKED
    tall = float(np.ptp(xy_px[:, 1]))
    room = LIMB_WIDTH * tall
    limits = np.array(rgb.shape[1::-1])
    low = np.clip(np.floor(xy_px.min(axis=0) - room), 0, limits).astype(int)
    high = np.clip(np.ceil(xy_px.max(axis=0) + room) + 1, 0, limits).astype(int)
    if (high - low < 8).any():
        return NOT_LOOKED
    shrink = min(1.0, PLAYER_PX / tall)
    grey = cv2.cvtColor(rgb[low[1] : high[1], low[0] : high[0]], cv2.COLOR_RGB2GRAY)
    if shrink < 1:
        grey = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    player = _player(grey.shape, (xy_px - low) * shrink, tall * shrink)
    if not player.any():
        return NOT_LOOKED
    return Look(
        blur=edge_width_px(grey.astype(np.float64), player) / (tall * shrink),
        light=float(np.median(grey[player])) / 255,
        burnt=float(np.mean(grey[player] >= CLIPPED)),
    )


def edge_width_px(grey: FloatArray, where: npt.NDArray[np.bool_]) -> float:
    """How wide the steep edges are: the whole rise of each over its steepest slope, in the middle.

    A blur of standard deviation s makes an edge 2.5 s wide (the square root of 2 pi), a straight
    smear as wide as it is long. Edges end where brightness turns (as in Marziliano and others, A
    no-reference perceptual blur metric, IEEE ICIP 2002; from memory). Edges across and edges
    upright are weighed apart, as a smear blurs one way only, and the worse counts.

    Args:
        grey: ``(height, width)``.
        where: ``(height, width)`` pixels to look at.

    Returns:
        NaN when there is no edge.
    """
    import cv2

    smooth = np.asarray(cv2.GaussianBlur(grey, (0, 0), SMOOTHED_PX), dtype=np.float64)
    ways = (_edges(smooth, where), _edges(smooth.T, where.T))
    widths = [float(np.median(way)) for way in ways if len(way) >= MIN_EDGES]
    if not widths:
        return float("nan")
    smoothed = np.sqrt(2 * np.pi) * SMOOTHED_PX
    return float(np.sqrt(max(max(widths) ** 2 - smoothed**2, 0.0)))


def _edges(grey: FloatArray, where: npt.NDArray[np.bool_]) -> FloatArray:
    """``(n_edges,)`` widths of the steep edges along the rows of a picture, pixels."""
    step = np.diff(grey, axis=1)
    slope = np.abs(step)
    # A stretch of rising or falling brightness ends with its row at the latest.
    turns = np.ones(step.shape, dtype=bool)
    turns[:, 1:] = np.sign(step[:, 1:]) != np.sign(step[:, :-1])
    starts = np.flatnonzero(turns)
    rise, steepest = (of.reduceat(slope.ravel(), starts) for of in (np.add, np.maximum))
    level = np.abs(np.gradient(grey, axis=0))[:, 1:] <= 0.5 * slope
    wanted = where[:, 1:] & level & (slope > 0)
    if not wanted.any():
        return np.empty(0)
    least = STEEP * float(np.quantile(slope[wanted], 0.99))
    best = np.maximum.reduceat(np.where(wanted, slope, 0.0).ravel(), starts)
    steep = (best == steepest) & (steepest >= least)
    return np.asarray(rise[steep] / steepest[steep])


def _player(shape: tuple[int, ...], xy_px: FloatArray, tall_px: float) -> npt.NDArray[np.bool_]:
    """``shape`` True along his limbs."""
    import cv2

    drawn = np.zeros(shape, dtype=np.uint8)
    width = max(1, round(LIMB_WIDTH * tall_px))
    for limb in _LIMBS:
        one, other = (tuple(map(int, np.round(xy_px[end]))) for end in limb)
        cv2.line(drawn, one, other, 255, width)
    return np.asarray(drawn > 0)


def _median(values: list[float]) -> float:
    known = [value for value in values if np.isfinite(value)]
    return float(np.median(known)) if known else float("nan")
