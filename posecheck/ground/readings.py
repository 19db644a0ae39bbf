"""What one frame tells of where the hips are: bearing, range from the feet, range from size.

Every reading says how far the middle of the hips is along one level direction, and how well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.ground.camera import Camera, FloatArray
from posecheck.keypoints.skeleton import SKELETON

MIN_SCORE = 0.4
"""Landmarks less certain than this are not used."""

LANDMARK_SD = 0.010
"""Error of one landmark as a share of the player's height in the picture."""

SOLE_M = 0.045
"""Height of heel and toe landmarks above the ground while the foot stands, a shoe's sole."""

STEP_WINDOW_S = 0.05
"""Half the time over which a foot's speed is read; contact in a sprint lasts about 0.12 s."""

STILL_MPS = 1.5
"""A foot slower than this is taken to stand; while running the other one swings at twice the
runner's speed."""

RUNNING_MPS = 2.5
"""Faster than this there is no moment with both feet on the ground."""

ONE_FOOT_SD_M = 0.12
"""How far along the view the hips are from the one foot that stands, besides the step's sweep."""

BOTH_FEET_SD_M = 0.07
"""How far along the view the hips are from the middle of two standing feet."""

SWEEP_S = 0.035
"""Times speed: how far the hips sweep over the standing foot, standard deviation; contact lasts
0.12 s in a sprint, and a length evenly swept has a standard deviation of 0.29 of itself."""

LEAD_S2, LEAD_SD_S2 = 0.07, 0.04
"""Times acceleration: how far the standing foot trails while speeding up and leads while braking.
The ground's push passes through the body's middle, so that this would be its height over gravity,
0.9 / 9.8 s^2 = 0.09 s^2; of the hips it is less, as the trunk leans. Rendered closeouts have only
0.03, which no weight on real ground could have, so they do not decide it."""

HIPS_AHEAD_M = 0.035
"""How far before the joints, the way the player faces, the pose model puts the hips: 0.03 to
0.04 on rendered bodies, standing, running and braking alike."""

CONTACT_LASTS_S = 0.15
"""Readings of one contact err together; so long a stretch counts as one reading."""

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

    ``direction . (xy - lead * acceleration) + lever * looks = value``, where ``looks`` is how much
    larger the body looks than it should, as a share.

    Attributes:
        frame: ``(m,)`` frame numbers.
        direction: ``(m, 2)``.
        lead_s2: how far behind the hips, per acceleration, the thing read is.
        lever_m: ``(m,)`` 0 for readings that do not depend on looks.
        value_m, sd_m: ``(m,)``.
    """

    frame: npt.NDArray[np.intp]
    direction: FloatArray
    lead_s2: float
    lever_m: FloatArray
    value_m: FloatArray
    sd_m: FloatArray


@dataclass(frozen=True)
class Moves:
    """How fast and how hard the player moves as far as known by now, ``(n,)`` each."""

    speed_mps: FloatArray
    acceleration_mps2: FloatArray


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
        soles_m: ``(n, 2 feet, 2)`` where the soles are if they are on the ground.
        spacing_s: usual time between two sightings.
        landmark_sd: ``(n,)`` radians.
    """

    t_s: FloatArray
    camera: Camera
    steady_px: FloatArray
    out: FloatArray
    level: FloatArray
    facing: FloatArray
    soles_m: FloatArray
    spacing_s: float
    landmark_sd: FloatArray

    @staticmethod
    def of(
        t_s: FloatArray,
        camera: Camera,
        steady_px: FloatArray,
        score: FloatArray,
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
        feet = [
            SKELETON.indices(f"{side}_heel", f"{side}_foot_index") for side in ("left", "right")
        ]
        soles = camera.to_ground(steady_px[:, feet].mean(axis=2), SOLE_M)

        at = t_s[np.isfinite(level)]
        spacing = float(np.median(np.diff(at))) if len(at) > 1 else np.inf
        one_sd = LANDMARK_SD * _height_px(steady_px) / camera.focal_px
        together = max(1.0, LANDMARK_LASTS_S / spacing)
        out = ray[:, :2] / level[:, None]
        if facing is None:
            facing = np.zeros_like(out)
        right, away = np.nan_to_num(facing).T[..., None]
        return Sight(
            t_s, camera, steady_px, out, level, away * out - right * _left_of(out), soles, spacing,
            one_sd * np.sqrt(together),
        )  # fmt: skip

    @property
    def across(self) -> FloatArray:
        """``(n, 2)`` unit, level, a quarter turn from ``out``."""
        return _left_of(self.out)

    def reach(self, xy_m: FloatArray) -> FloatArray:
        """Level distance of ``(n, 2)`` places from the camera along the bearing, ``(n,)``."""
        return np.asarray(np.einsum("ni,ni->n", xy_m - self.camera.centre_m[:2], self.out))

    @property
    def soles_reach(self) -> FloatArray:
        """``(n, 2 feet)`` level distance of the soles along the bearing."""
        return np.stack([self.reach(self.soles_m[:, foot]) for foot in (0, 1)], axis=1)

    def range_sd(self, reach_m: FloatArray) -> FloatArray:
        """What a landmark's error means in range for a point of the ground, ``(n,)`` metres.

        A ray that dips by a little less meets the ground further away:
        d range / d angle = (range^2 + height^2) / height.
        """
        height = self.camera.centre_m[2]
        return np.asarray(self.landmark_sd * (reach_m**2 + height**2) / height)

    def first_reach(self) -> FloatArray:
        """``(n,)`` rough range: of the nearer foot, since a lifted foot seems further away."""
        away = np.where(self.soles_reach > 0, self.soles_reach, np.inf).min(axis=1)
        return np.where(np.isfinite(away), away, np.nan)


def bearings(sight: Sight, reach_m: FloatArray) -> Readings:
    """Across the view, from the hips themselves."""
    frame = np.flatnonzero(np.isfinite(sight.level) & np.isfinite(reach_m))
    across = sight.across[frame]
    # Both hip landmarks err together, so their mean is no better than one.
    sd = reach_m[frame] * sight.landmark_sd[frame]
    ahead = HIPS_AHEAD_M * np.einsum("ni,ni->n", across, sight.facing[frame])
    return Readings(frame, across, 0.0, 0 * sd, across @ sight.camera.centre_m[:2] - ahead, sd)


def ranges(sight: Sight, reach_m: FloatArray, moves: Moves) -> Readings:
    """Along the view, from the feet that stand."""
    stands = _standing(sight, reach_m)
    away = sight.soles_reach
    # Runners have one foot down at a time, and a lifted one seems further away.
    farther = away > np.min(np.where(stands, away, np.inf), axis=1)[:, None]
    stands &= ~(farther & (moves.speed_mps > RUNNING_MPS)[:, None])
    count = stands.sum(axis=1)
    frame = np.flatnonzero((count > 0) & np.isfinite(sight.level) & np.isfinite(reach_m))

    value = np.where(stands, away, 0).sum(axis=1) / np.maximum(count, 1)
    offset_sd = np.where(count == 2, BOTH_FEET_SD_M, ONE_FOOT_SD_M)
    together = max(1.0, CONTACT_LASTS_S / sight.spacing_s)
    variance = (
        sight.range_sd(reach_m) ** 2
        + together * (offset_sd**2 + (LEAD_SD_S2 * moves.acceleration_mps2) ** 2)
        + (SWEEP_S * moves.speed_mps) ** 2
    )
    out = sight.out[frame]
    base = out @ sight.camera.centre_m[:2]
    sd = np.sqrt(variance[frame])
    return Readings(frame, out, LEAD_S2, 0 * sd, base + value[frame], sd)


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
    return Readings(frame, out, 0.0, -value, out @ sight.camera.centre_m[:2] + value, value * noise)


def _left_of(way: FloatArray) -> FloatArray:
    """``(n, 2)`` a quarter turn from ``(n, 2)`` directions."""
    return np.column_stack([-way[:, 1], way[:, 0]])


def _standing(sight: Sight, reach_m: FloatArray) -> npt.NDArray[np.bool_]:
    """``(n, 2 feet)`` True where a foot keeps its place on the ground.

    Its motion across the view is known well, along the view badly, so each counts by its own
    uncertainty.
    """
    sides = ((sight.out, sight.range_sd(reach_m)), (sight.across, reach_m * sight.landmark_sd))
    stands = np.zeros(sight.soles_m.shape[:2], dtype=np.bool_)
    window = max(STEP_WINDOW_S, 1.1 * sight.spacing_s)
    for i, t in enumerate(sight.t_s):
        near = np.abs(sight.t_s - t) <= window
        for foot in (0, 1):
            there = near & np.isfinite(sight.soles_m[:, foot, 0])
            if there.sum() < 3 or not there[i]:
                continue
            at = sight.t_s[there] - sight.t_s[there].mean()
            moves = at @ sight.soles_m[there, foot] / (at @ at)
            excess = 0.0
            for direction, sd in sides:
                unsure = sd[i] / np.sqrt(2 * (at @ at))  # heel and toe: two landmarks
                excess += (moves @ direction[i]) ** 2 / (STILL_MPS**2 + (2 * unsure) ** 2)
            stands[i, foot] = excess < 1
    return stands


def _height_px(steady_px: FloatArray) -> FloatArray:
    """``(n,)`` how tall the player looks, at least half the clip's median."""
    seen = np.isfinite(steady_px[..., 1]).any(axis=1)
    tall = np.full(len(steady_px), np.nan)
    tall[seen] = np.nanmax(steady_px[seen, :, 1], axis=1) - np.nanmin(steady_px[seen, :, 1], axis=1)
    middle = float(np.median(tall[seen])) if seen.any() else np.nan
    return np.where(seen, np.maximum(tall, 0.5 * middle), middle)
