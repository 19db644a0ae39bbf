"""How high a player carries his hips, from where they are seen and where on the ground he is.

One picture does not tell a short player from one who crouches. A clip does: he runs upright before
he breaks down, and his hips then show how high they are when he stands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON

UPRIGHT_DROP = 0.12
"""Hips lower than this share are no measure of how high they are when he stands."""

LANDMARK_SD = 0.025
"""How far off the height is by where the pose model puts the hips, as a share of it: 0.02 in the
middle on rendered bodies whose place is known."""

PLACE_SHARE = 0.5
"""How much of the error that his place brings counts: part of it lasts all through the clip, and
so shifts his standing height alike. Found on rendered clips."""

_HIPS = SKELETON.indices("left_hip", "right_hip")


@dataclass(frozen=True)
class HipHeight:
    """Height of the middle of the hips over the ground; NaN where not known.

    Attributes:
        height_m: ``(n,)``.
        sd_m: ``(n,)`` standard deviation that the place on the ground brings with it.
    """

    height_m: FloatArray
    sd_m: FloatArray

    def drop(self, drop: FloatArray, room: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How much lower the hips are than the same player's standing.

        Args:
            drop: ``(n,)`` the same as each picture by itself tells it: his standing height is what
                agrees with it best where he is upright.
            room: ``(n,)`` how far off that may be.

        Returns:
            ``(n,)`` shares of the standing height, and their standard deviation; 0 and infinite
            where not known.
        """
        standing_m = self.height_m / (1 - drop)
        counts = np.isfinite(standing_m) & (drop < UPRIGHT_DROP) & (self.height_m > 0)
        lower, sd = np.zeros_like(drop), np.full_like(drop, np.inf)
        if counts.any():
            standing = _weighted_median(standing_m[counts], 1 / room[counts] ** 2)
            known = np.isfinite(self.height_m)
            lower[known] = 1 - self.height_m[known] / standing
            sd[known] = np.hypot(PLACE_SHARE * self.sd_m[known] / standing, LANDMARK_SD)
        return lower, sd


def hip_height(camera: Camera, xy_px: FloatArray, xy_m: FloatArray, sd_m: FloatArray) -> HipHeight:
    """Where the line of sight to the hips passes over the player's place.

    Args:
        camera: whose pixels these are.
        xy_px: ``(n, 33, 2)`` landmarks.
        xy_m: ``(n, 2)`` where he is.
        sd_m: ``(n,)`` standard deviation of the place.
    """
    ray = camera.rays(xy_px[:, _HIPS].mean(axis=1))
    rise = ray[:, 2] / np.hypot(ray[:, 0], ray[:, 1])
    reach_m = np.linalg.norm(xy_m - camera.centre_m[:2], axis=1)
    return HipHeight(camera.centre_m[2] + reach_m * rise, np.abs(rise) * sd_m)


def _weighted_median(values: FloatArray, weights: FloatArray) -> float:
    order = np.argsort(values)
    share = np.cumsum(weights[order]) / weights.sum()
    return float(values[order][np.searchsorted(share, 0.5)])
