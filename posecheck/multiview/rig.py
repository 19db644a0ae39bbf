"""Several phones at one time: their cameras, their clocks, and what they see together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.multiview.phone import Phone
from posecheck.multiview.triangulate import Points, triangulate
from posecheck.multiview.tuning import LANDMARK_SD_M, MAX_MISS_M
from posecheck.pose.skeleton import SKELETON


@dataclass(frozen=True)
class Rig:
    """The cameras of several phones and their clocks.

    Attributes:
        cameras: one for each phone, of its reference frame, over one ground.
        later_s: what each phone's clock shows, less what the first one's does.
    """

    cameras: tuple[Camera, ...]
    later_s: tuple[float, ...]

    def overlap_s(self, phones: Sequence[Phone]) -> tuple[float, float]:
        """First and last moment of the first phone's clock that all films show."""
        starts = [p.t_s[0] - late for p, late in zip(phones, self.later_s, strict=True)]
        ends = [p.t_s[-1] - late for p, late in zip(phones, self.later_s, strict=True)]
        return float(max(starts)), float(min(ends))

    def points(
        self,
        phones: Sequence[Phone],
        player: int,
        t_s: FloatArray,
        landmarks: Sequence[int] = range(len(SKELETON)),
    ) -> Points:
        """A player's landmarks in space at moments ``(n,)`` of the first phone's clock.

        Reprojection errors are in units of ``LANDMARK_SD_M`` at the player.
        """
        xy_px, sd_px = self._seen(phones, player, t_s)
        return triangulate(self.cameras, xy_px[:, :, landmarks], sd_px[:, :, landmarks])

    def checked_points(self, phones: Sequence[Phone], player: int, t_s: FloatArray) -> Points:
        """The same without the views that miss a point by more than a limb's thickness.

        With three phones and more that view is left out without which the others agree best; with
        two nothing shows which is wrong, and the point is not known.
        """
        xy_px, sd_px = self._seen(phones, player, t_s)
        points = triangulate(self.cameras, xy_px, sd_px)
        for _ in phones[2:]:
            wrong = _off_m(points).max(axis=0) > MAX_MISS_M
            if not wrong.any():
                break
            without = [
                triangulate(self.cameras, np.where(_only(i, xy_px), np.nan, xy_px), sd_px)
                for i in range(len(phones))
            ]
            left = [
                np.where(np.isfinite(each.xyz_m[..., 0]), _off_m(each).max(axis=0), np.inf)
                for each in without
            ]
            worst = np.argmin(left, axis=0)
            for i in range(len(phones)):
                xy_px[i][wrong & (worst == i)] = np.nan
            points = triangulate(self.cameras, xy_px, sd_px)
        lost = _off_m(points).max(axis=0) > MAX_MISS_M
        return Points(
            np.where(lost[..., None], np.nan, points.xyz_m),
            points.miss,
            np.where(lost[..., None, None], np.nan, points.covariance_m2),
        )

    def _seen(
        self, phones: Sequence[Phone], player: int, t_s: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """``(v, n, 33, 2)`` pixels and ``(v, n, 33)`` their standard deviations."""
        views = [p.at(player, t_s + late) for p, late in zip(phones, self.later_s, strict=True)]
        xy_px = np.stack([view.xy_px for view in views])
        scale = np.stack([view.px_per_m for view in views])
        return xy_px, np.broadcast_to(LANDMARK_SD_M * scale[..., None], xy_px.shape[:-1])


def _only(view: int, xy_px: FloatArray) -> BoolArray:
    """``(v, 1, 1, 1)`` True for one view."""
    return np.asarray((np.arange(len(xy_px)) == view).reshape(-1, 1, 1, 1))


def _off_m(points: Points) -> FloatArray:
    """``(v, n, 33)`` reprojection error at the player in metres, 0 where not seen."""
    return np.asarray(np.nan_to_num(np.linalg.norm(points.miss, axis=-1)) * LANDMARK_SD_M)
