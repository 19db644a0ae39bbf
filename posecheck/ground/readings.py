"""What one frame tells of where the hips are: bearing, range from the feet, range from size.

Every reading says how far the middle of the hips is along one level direction, and how well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.body.foot_sight import FEET, FootSight
from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON

MIN_SCORE = 0.4
"""Landmarks less certain than this are not used."""

LANDMARK_SD = 0.010
"""Error of one landmark as a share of the player's height in the picture."""

HIPS_AHEAD_M = 0.035
"""How far before the joints, the way the player faces, the pose model puts the hips: 0.03 to
0.04 on rendered bodies, standing, running and braking alike."""

FEET_LAST_S = 0.15
"""Readings off the feet err together within a step; so long a stretch counts as one reading."""

LIFT_S = 0.004
"""Times speed: how much higher feet of runners are than single pictures tell, which do not show
that somebody runs as surely as his speed does. 0.012 m at more than 3 m/s on clips."""

LOWEST_DIP = 0.02
"""Lines of sight that dip less tell no range."""

LANDMARK_LASTS_S = 0.07
"""Landmarks of neighbouring frames err together; so long a stretch counts as one reading."""

LOOKS_NOISE = 1.5
"""Of the size reading from frame to frame, in landmark errors over a thigh's length."""

THIGH_M = 0.42
"""Typical length of the segments that tell the size; only sets their error."""

_SEGMENTS = tuple(
    (SKELETON.index(f"{side}_{upper}"), SKELETON.index(f"{side}_{lower}"))
    for side in ("left", "right")
    for upper, lower in (("shoulder", "hip"), ("hip", "knee"), ("knee", "ankle"))
)
_LARGEST = 3
"""Of the six segments, how many of the least foreshortened tell the size."""


@dataclass(frozen=True)
class Readings:
    """Readings of a place along unit directions, one row each.

    ``direction . xy + lever * looks = value``, where ``looks`` is how much larger the body looks
    than it should, as a share.

    Attributes:
        frame: ``(m,)`` frame numbers.
        direction: ``(m, 2)``.
        lever_m: ``(m,)`` 0 for readings that do not depend on looks.
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
        steady_px: ``(n, 33, 2)`` pixels of the reference frame, NaN where unsure.
        out: ``(n, 2)`` unit, level, from the camera towards the hips.
        level: ``(n,)`` cosine of how far above or below level the hips are seen.
        facing: ``(n, 2)`` unit, level: which way he faces, 0 where not known.
        dip: ``(n, 2 feet)`` tangent of how far below level the feet are seen, along ``out``.
        feet: how high those lines of sight pass below the hips.
        spacing_s: usual time between two sightings.
        landmark_sd: ``(n,)`` radians.
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
        """Look at landmarks ``(n, 33, 2)`` that score ``(n, 33)`` well enough.

        ``facing`` is ``(n, 2)``, to the right across the view and away from the camera.
        """
        sure = np.nan_to_num(score) >= MIN_SCORE
        steady_px = np.where(sure[..., None], steady_px, np.nan)
        hips = steady_px[:, SKELETON.indices("left_hip", "right_hip")].mean(axis=1)
        ray = camera.rays(hips)
        level = np.hypot(ray[:, 0], ray[:, 1])
        out = ray[:, :2] / level[:, None]
        soles = camera.rays(steady_px[:, FEET].mean(axis=2))
        dip = -soles[..., 2] / np.einsum("nfi,ni->nf", soles[..., :2], out)

        at = t_s[np.isfinite(level)]
        spacing = float(np.median(np.diff(at))) if len(at) > 1 else np.inf
        one_sd = LANDMARK_SD * _height_px(steady_px) / camera.focal_px
        together = max(1.0, LANDMARK_LASTS_S / spacing)
        if facing is None:
            facing = np.zeros_like(out)
        right, away = np.nan_to_num(facing).T[..., None]
        return Sight(
            t_s, camera, steady_px, out, level, away * out - right * _left_of(out), dip, feet,
            spacing, one_sd * np.sqrt(together),
        )  # fmt: skip

    @property
    def across(self) -> FloatArray:
        """``(n, 2)`` unit, level, a quarter turn from ``out``."""
        return _left_of(self.out)

    def reach(self, xy_m: FloatArray) -> FloatArray:
        """Level distance of ``(n, 2)`` places from the camera along the bearing, ``(n,)``."""
        return np.asarray(np.einsum("ni,ni->n", xy_m - self.camera.centre_m[:2], self.out))

    def by_feet(self, speed_mps: FloatArray | None = None) -> tuple[FloatArray, FloatArray]:
        """``(n,)`` range as the feet tell it and its standard deviation, NaN where they do not.

        With the speed ``(n,)``, if it is known, feet of runners are taken to be lifted more. A
        line of sight that passes lower where the hips are meets the ground earlier:
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
            # Both feet err together, so two are no surer than one.
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
    longest[known] = np.nanquantile(length[:, known], 0.9, axis=0)

    share = np.sort(np.nan_to_num(span / longest, nan=0.0), axis=1)[:, -_LARGEST:]
    frame = np.flatnonzero(np.isfinite(distance) & (share > 0).all(axis=1))
    looks = np.log(share[frame]).mean(axis=1)
    middle = np.median(looks + np.log(distance[frame])) if len(frame) else 0.0
    value = np.exp(middle - looks) * sight.level[frame]
    noise = LOOKS_NOISE * sight.landmark_sd[frame] * distance[frame] / THIGH_M
    out = sight.out[frame]
    return Readings(frame, out, -value, out @ sight.camera.centre_m[:2] + value, value * noise)


def _left_of(way: FloatArray) -> FloatArray:
    """``(n, 2)`` a quarter turn from ``(n, 2)`` directions."""
    return np.column_stack([-way[:, 1], way[:, 0]])


def _height_px(steady_px: FloatArray) -> FloatArray:
    """``(n,)`` how tall the player looks, at least half the clip's median."""
    seen = np.isfinite(steady_px[..., 1]).any(axis=1)
    tall = np.full(len(steady_px), np.nan)
    tall[seen] = np.nanmax(steady_px[seen, :, 1], axis=1) - np.nanmin(steady_px[seen, :, 1], axis=1)
    middle = float(np.median(tall[seen])) if seen.any() else np.nan
    return np.where(seen, np.maximum(tall, 0.5 * middle), middle)
