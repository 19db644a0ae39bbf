"""Readings of where the hips are in one frame: bearing, range from the feet, range from size.

Every reading gives the position of the middle of the hips along one horizontal direction, and its
standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.body.foot_sight import FEET, FootSight
from posecheck.camera.pinhole import Camera
from posecheck.ground.tuning import (
    BUILD_QUANTILE,
    FEET_LAST_S,
    HIPS_AHEAD_M,
    LANDMARK_LASTS_S,
    LANDMARK_SD_SHARE,
    LARGEST_SEGMENTS,
    LEAST_HEIGHT_SHARE,
    LIFT_S,
    LOWEST_DIP,
    MIN_LANDMARK_SCORE,
    SIZE_NOISE,
    THIGH_M,
)
from posecheck.maths.arrays import FloatArray
from posecheck.maths.vectors import left_of
from posecheck.pose.skeleton import SKELETON

_SEGMENTS = tuple(
    (SKELETON.index(f"{side}_{upper}"), SKELETON.index(f"{side}_{lower}"))
    for side in ("left", "right")
    for upper, lower in (("shoulder", "hip"), ("hip", "knee"), ("knee", "ankle"))
)


@dataclass(frozen=True)
class Readings:
    """Readings of a place along unit directions, one row each.

    ``direction . xy + lever * larger = value``, where ``larger`` is how much larger the body looks
    than it should, as a share.

    Attributes:
        frame: ``(m,)`` frame numbers.
        direction: ``(m, 2)``.
        lever_m: ``(m,)`` 0 for readings that do not depend on how large the body looks.
        value_m, sd_m: ``(m,)``.
    """

    frame: npt.NDArray[np.intp]
    direction: FloatArray
    lever_m: FloatArray
    value_m: FloatArray
    sd_m: FloatArray


@dataclass(frozen=True)
class Sight:
    """A player as seen from the camera, frame by frame.

    Attributes:
        t_s: ``(n,)`` seconds.
        camera: of the reference frame.
        steady_px: ``(n, 33, 2)`` pixels of the reference frame, NaN where the score is too low.
        out: ``(n, 2)`` horizontal unit vectors from the camera towards the hips.
        level: ``(n,)`` cosine of the angle between the line of sight to the hips and the
            horizontal.
        facing: ``(n, 2)`` horizontal unit vectors in the direction he faces, 0 where not known.
        dip: ``(n, 2)`` for each foot the tangent of the angle of its line of sight below the
            horizontal, along ``out``.
        feet: how high over the ground those lines of sight pass below the hips.
        spacing_s: median time between two sightings.
        landmark_sd: ``(n,)`` standard deviation of a landmark, radians.
    """

    t_s: FloatArray
    camera: Camera
    steady_px: FloatArray
    out: FloatArray
    level: FloatArray
    facing: FloatArray
    dip: FloatArray
    feet: FootSight
    spacing_s: float
    landmark_sd: FloatArray

    @staticmethod
    def of(
        t_s: FloatArray,
        camera: Camera,
        steady_px: FloatArray,
        score: FloatArray,
        feet: FootSight,
        facing: FloatArray | None = None,
    ) -> Sight:
        """From landmarks ``(n, 33, 2)`` with scores ``(n, 33)``.

        ``facing`` is ``(n, 2)``, to the right across the view and away from the camera.
        """
        sure = np.nan_to_num(score) >= MIN_LANDMARK_SCORE
        steady_px = np.where(sure[..., None], steady_px, np.nan)
        hips = steady_px[:, SKELETON.indices("left_hip", "right_hip")].mean(axis=1)
        ray = camera.rays(hips)
        level = np.hypot(ray[:, 0], ray[:, 1])
        out = ray[:, :2] / level[:, None]
        soles = camera.rays(steady_px[:, FEET].mean(axis=2))
        dip = -soles[..., 2] / np.einsum("nfi,ni->nf", soles[..., :2], out)

        at = t_s[np.isfinite(level)]
        spacing = float(np.median(np.diff(at))) if len(at) > 1 else np.inf
        one_sd = LANDMARK_SD_SHARE * _height_px(steady_px) / camera.focal_px
        together = max(1.0, LANDMARK_LASTS_S / spacing)
        if facing is None:
            facing = np.zeros_like(out)
        right, away = np.nan_to_num(facing).T[..., None]
        return Sight(
            t_s, camera, steady_px, out, level, away * out - right * left_of(out), dip, feet,
            spacing, one_sd * np.sqrt(together),
        )  # fmt: skip

    @property
    def across(self) -> FloatArray:
        """``(n, 2)`` horizontal unit vectors to the left of ``out``."""
        return left_of(self.out)

    def reach(self, xy_m: FloatArray) -> FloatArray:
        """Horizontal distance of ``(n, 2)`` places from the camera along the bearing, ``(n,)``."""
        return np.asarray(np.einsum("ni,ni->n", xy_m - self.camera.centre_m[:2], self.out))

    def by_feet(self, speed_mps: FloatArray | None = None) -> tuple[FloatArray, FloatArray]:
        """``(n,)`` range from the feet and its standard deviation, NaN where they give none.

        With the speed ``(n,)``, if it is known, feet of runners are assumed to be lifted more. A
        line of sight that passes lower below the hips meets the ground earlier:
        d range / d height = range / (camera's height - height).
        """
        lifted = 0.0 if speed_mps is None else LIFT_S * speed_mps[:, None]
        above = self.camera.centre_m[2] - self.feet.height_m - lifted
        away = np.where((self.dip > LOWEST_DIP) & (above > 0), above / self.dip, np.nan)
        sd = self.feet.sd_m * away / above
        known = np.isfinite(away)
        weight = np.where(known, 1 / np.square(sd), 0.0)
        total = weight.sum(axis=1)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.where(known, weight * away, 0.0).sum(axis=1) / total
            # Both feet err together, so two are no better than one.
            return mean, np.where(known, weight * sd, 0.0).sum(axis=1) / total


def bearings(sight: Sight, reach_m: FloatArray) -> Readings:
    """Across the view, from the hips themselves."""
    frame = np.flatnonzero(np.isfinite(sight.level) & np.isfinite(reach_m))
    across = sight.across[frame]
    # Both hip landmarks err together, so their mean is no better than one.
    sd = reach_m[frame] * sight.landmark_sd[frame]
    ahead = HIPS_AHEAD_M * np.einsum("ni,ni->n", across, sight.facing[frame])
    return Readings(frame, across, 0 * sd, across @ sight.camera.centre_m[:2] - ahead, sd)


def ranges(sight: Sight, speed_mps: FloatArray | None) -> Readings:
    """Along the view, from the feet."""
    away, sd = sight.by_feet(speed_mps)
    frame = np.flatnonzero(np.isfinite(away) & np.isfinite(sight.level))
    out = sight.out[frame]
    base = out @ sight.camera.centre_m[:2]
    sd = sd[frame] * np.sqrt(max(1.0, FEET_LAST_S / sight.spacing_s))
    return Readings(frame, out, 0 * sd, base + away[frame], sd)


def sizes(sight: Sight, reach_m: FloatArray) -> Readings:
    """Along the view, from how large the body looks; its build is learned from the whole clip."""
    ray = sight.camera.rays(sight.steady_px)
    ends = np.array(_SEGMENTS)
    span = np.linalg.norm(ray[:, ends[:, 0]] - ray[:, ends[:, 1]], axis=2)  # radians, nearly
    distance = reach_m / sight.level
    length = span * distance[:, None]  # apparent metres, at most the true length
    known = np.isfinite(length).any(axis=0)
    longest = np.full(len(ends), np.nan)
    longest[known] = np.nanquantile(length[:, known], BUILD_QUANTILE, axis=0)

    share = np.sort(np.nan_to_num(span / longest, nan=0.0), axis=1)[:, -LARGEST_SEGMENTS:]
    frame = np.flatnonzero(np.isfinite(distance) & (share > 0).all(axis=1))
    size = np.log(share[frame]).mean(axis=1)
    middle = np.median(size + np.log(distance[frame])) if len(frame) else 0.0
    value = np.exp(middle - size) * sight.level[frame]
    noise = SIZE_NOISE * sight.landmark_sd[frame] * distance[frame] / THIGH_M
    out = sight.out[frame]
    return Readings(frame, out, -value, out @ sight.camera.centre_m[:2] + value, value * noise)


def _height_px(steady_px: FloatArray) -> FloatArray:
    """``(n,)`` height of the player in the picture, at least a share of the clip's median."""
    seen = np.isfinite(steady_px[..., 1]).any(axis=1)
    tall = np.full(len(steady_px), np.nan)
    tall[seen] = np.nanmax(steady_px[seen, :, 1], axis=1) - np.nanmin(steady_px[seen, :, 1], axis=1)
    middle = float(np.median(tall[seen])) if seen.any() else np.nan
    return np.where(seen, np.maximum(tall, LEAST_HEIGHT_SHARE * middle), middle)
