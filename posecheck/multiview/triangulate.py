"""Points in space from where several cameras see them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray

_PASSES = 3
"""Passes of the linear fit, each weighted by the depths of the one before.

Source: common practice
"""

_LEAST_DEPTH = 1e-3
"""Depth taken for points that come out behind a camera while a fit is on its way.

Source: common practice
"""


@dataclass(frozen=True)
class Points:
    """Triangulated points.

    Attributes:
        xyz_m: ``(..., 3)``, NaN for points that fewer than two cameras see.
        miss: ``(v, ..., 2)`` reprojection error by camera in its standard deviations; NaN where
            not seen.
        covariance_m2: ``(..., 3, 3)`` for errors of one standard deviation in every picture.
    """

    xyz_m: FloatArray
    miss: FloatArray
    covariance_m2: FloatArray


def triangulate(cameras: Sequence[Camera], xy_px: FloatArray, sd_px: FloatArray) -> Points:
    """The points that fit best where several cameras see them.

    Linear triangulation with weights by the inverse of the depth, repeated, so that what is
    minimised is the reprojection error (R. Hartley and P. Sturm, Triangulation, 1997, section
    4.2, from memory).

    Args:
        cameras: ``v`` of them.
        xy_px: ``(v, ..., 2)`` pixels, NaN where a camera does not see a point.
        sd_px: ``(v, ...)`` their standard deviations.
    """
    matrices = [
        camera.matrix
        @ np.concatenate([camera.rotation, -camera.rotation @ camera.centre_m[:, None]], axis=1)
        for camera in cameras
    ]
    projection = np.stack(matrices).reshape(len(cameras), *[1] * (xy_px.ndim - 2), 3, 4)
    seen = np.isfinite(xy_px).all(axis=-1) & np.isfinite(sd_px)
    enough = seen.sum(axis=0) >= 2
    pixels = np.where(seen[..., None], xy_px, 0.0)
    weight = np.where(seen, 1 / np.where(seen, sd_px, 1.0), 0.0)
    rows = pixels[..., None] * projection[..., 2:, :] - projection[..., :2, :]
    depth = np.ones(seen.shape)
    xyz = np.zeros((*seen.shape[1:], 3))
    for _ in range(_PASSES):
        scaled = _together(rows * (weight / depth)[..., None, None])
        left, right = scaled[..., :3], -scaled[..., 3:]
        across = left.swapaxes(-1, -2)
        normal = np.where(enough[..., None, None], across @ left, np.eye(3))
        xyz = np.linalg.solve(normal, across @ right)[..., 0]
        depth = np.einsum("...j,...j->...", projection[..., 2, :3], xyz) + projection[..., 2, 3]
        depth = np.maximum(depth, _LEAST_DEPTH)
    there = np.einsum("...ij,...j->...i", projection[..., :3], xyz) + projection[..., 3]
    projected = there[..., :2] / np.maximum(there[..., 2:], _LEAST_DEPTH)
    miss = (projected - xy_px) / sd_px[..., None]
    slope = (projection[..., :2, :3] - projected[..., None] * projection[..., 2:, :3]) * (
        weight / depth
    )[..., None, None]
    slope = _together(slope)
    information = slope.swapaxes(-1, -2) @ slope
    covariance = np.linalg.inv(np.where(enough[..., None, None], information, np.eye(3)))
    return Points(
        np.where(enough[..., None], xyz, np.nan),
        np.where((seen & enough)[..., None], miss, np.nan),
        np.where(enough[..., None, None], covariance, np.nan),
    )


def _together(rows: FloatArray) -> FloatArray:
    """Rows ``(v, ..., 2, k)`` of several cameras as rows ``(..., 2 v, k)`` of one system."""
    moved = np.moveaxis(rows, 0, -3)
    return np.asarray(moved.reshape(*moved.shape[:-3], -1, rows.shape[-1]))


def sight_angle_deg(cameras: Sequence[Camera], xyz_m: FloatArray) -> float:
    """Angle between the lines of sight of those two cameras that see a point ``(3,)`` best, i.e.
    most nearly at a right angle, degrees."""
    rays = [(xyz_m - c.centre_m) / np.linalg.norm(xyz_m - c.centre_m) for c in cameras]
    angles = [
        float(np.degrees(np.arccos(np.clip(a @ b, -1, 1))))
        for i, a in enumerate(rays)
        for b in rays[i + 1 :]
    ]
    return min(angles, key=lambda angle: abs(angle - 90))
