"""How high a player carries his hips, from where they are seen and where on the ground he is.

In one picture a short player and one who crouches look alike. A clip distinguishes them: he runs
upright before he breaks down, and his hips then show how high they are when he stands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.body.tuning import HIP_LANDMARK_SD, PLACE_SHARE, UPRIGHT_DROP
from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON

_HIPS = SKELETON.indices("left_hip", "right_hip")


@dataclass(frozen=True)
class HipHeight:
    """Height of the middle of the hips over the ground; NaN where not known.

    Attributes:
        height_m: ``(n,)``.
        sd_m: ``(n,)`` standard deviation that comes from the place on the ground.
    """

    height_m: FloatArray
    sd_m: FloatArray

    def drop(self, drop: FloatArray, margin: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How much lower the hips are than the same player's standing.

        Args:
            drop: ``(n,)`` the same as read from each picture by itself: the standing height is
                the one that agrees best with it in frames in which he is upright.
            margin: ``(n,)`` width of the interval around it.

        Returns:
            ``(n,)`` shares of the standing height, and their standard deviation; 0 and infinite
            where not known.
        """
        standing_m = self.height_m / (1 - drop)
        counts = np.isfinite(standing_m) & (drop < UPRIGHT_DROP) & (self.height_m > 0)
        lower, sd = np.zeros_like(drop), np.full_like(drop, np.inf)
        if counts.any():
            standing = _weighted_median(standing_m[counts], 1 / margin[counts] ** 2)
            known = np.isfinite(self.height_m)
            lower[known] = 1 - self.height_m[known] / standing
            sd[known] = np.hypot(PLACE_SHARE * self.sd_m[known] / standing, HIP_LANDMARK_SD)
        return lower, sd


def hip_height(camera: Camera, xy_px: FloatArray, xy_m: FloatArray, sd_m: FloatArray) -> HipHeight:
    """Height at which the line of sight to the hips passes over the player's place.

    Args:
        camera: whose pixels these are.
        xy_px: ``(n, 33, 2)`` landmarks.
        xy_m: ``(n, 2)`` his place on the ground.
        sd_m: ``(n,)`` its standard deviation.
    """
    ray = camera.rays(xy_px[:, _HIPS].mean(axis=1))
    rise = ray[:, 2] / np.hypot(ray[:, 0], ray[:, 1])
    reach_m = np.linalg.norm(xy_m - camera.centre_m[:2], axis=1)
    return HipHeight(camera.centre_m[2] + reach_m * rise, np.abs(rise) * sd_m)


def _weighted_median(values: FloatArray, weights: FloatArray) -> float:
    """The value below which half of the weight lies."""
    order = np.argsort(values)
    share = np.cumsum(weights[order]) / weights.sum()
    return float(values[order][np.searchsorted(share, 0.5)])
