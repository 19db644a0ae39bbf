"""Landmarks in space made to agree with limbs that keep their length.

Two lines of sight leave a point vague along the line between the phones. A limb whose length is
known from the whole rep takes up much of that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.maths.arrays import BoolArray, FloatArray, finite_median
from posecheck.multiview.triangulate import Points
from posecheck.multiview.tuning import LENGTH_SD, SOFT_SDS, UNSEEN_SD_M
from posecheck.pose.skeleton import SKELETON

JOINTS = SKELETON.indices(
    *(
        f"{side}_{part}"
        for part in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
        for side in ("left", "right")
    )
)
"""The landmarks that limbs join.

Source: definition
"""

_LIMBS = tuple(
    tuple(JOINTS.index(end) for end in SKELETON.indices(f"{side}_{a}", f"{side}_{b}"))
    for a, b in (
        ("hip", "knee"),
        ("knee", "ankle"),
        ("shoulder", "elbow"),
        ("elbow", "wrist"),
    )
    for side in ("left", "right")
)
"""Pairs of them, left and right side by side."""

_PASSES = 6
"""Steps of Gauss and Newton: the lengths are nearly linear in the places.

Source: common practice
"""


@dataclass(frozen=True)
class Steadied:
    """Landmarks in space with limbs of steady length.

    Attributes:
        xyz_m: ``(n, 33, 3)``, NaN where a point was not seen.
        covariance_m2: ``(n, 36, 36)`` of the ``JOINTS``, three coordinates each.
    """

    xyz_m: FloatArray
    covariance_m2: FloatArray


def steadied(points: Points, scatter: FloatArray) -> Steadied:
    """Weigh where lines of sight meet against how long limbs are.

    Args:
        points: ``(n, 33)`` triangulated.
        scatter: ``(33,)`` standard deviation of each landmark in the pictures, in the units that
            their covariance is given in.
    """
    n, k = len(points.xyz_m), len(JOINTS)
    first = points.xyz_m[:, JOINTS]
    seen: BoolArray = np.logical_and.reduce(np.isfinite(first), axis=2)
    usual = [_usual_length(first, a, b) for a, b in _LIMBS]
    # Left and right are alike.
    length = np.repeat(np.reshape(usual, (-1, 2)).mean(axis=1), 2)
    covariance = points.covariance_m2[:, JOINTS] * (scatter[JOINTS] ** 2)[:, None, None]
    covariance = np.where(seen[..., None, None], covariance, UNSEEN_SD_M**2 * np.eye(3))
    known = np.zeros((n, k, 3, k, 3))
    for joint in range(k):
        known[:, joint, :, joint] = np.linalg.inv(covariance[:, joint])
    information = known.reshape(n, 3 * k, 3 * k)
    start = np.where(seen[..., None], first, np.nan_to_num(first))
    place = start.copy()
    normal = information
    for _ in range(_PASSES):
        normal = information.copy()
        pull = -np.einsum("nij,nj->ni", information, (place - start).reshape(n, -1))
        for (a, b), usually in zip(_LIMBS, length, strict=True):
            if not np.isfinite(usually):
                continue
            limb = place[:, b] - place[:, a]
            long = np.maximum(np.linalg.norm(limb, axis=1), 1e-6)
            way = limb / long[:, None]
            off = (usually - long) / (LENGTH_SD * usually)
            weight = (seen[:, a] & seen[:, b]) / np.sqrt(1 + (off / SOFT_SDS) ** 2)
            slope = np.zeros((n, k, 3))
            slope[:, a], slope[:, b] = -way, way
            row = slope.reshape(n, -1) / (LENGTH_SD * usually)
            normal += weight[:, None, None] * row[:, :, None] * row[:, None, :]
            pull += (weight * off)[:, None] * row
        place = place + np.linalg.solve(normal, pull[..., None])[..., 0].reshape(n, k, 3)
    xyz_m = points.xyz_m.copy()
    xyz_m[:, JOINTS] = np.where(seen[..., None], place, np.nan)
    return Steadied(xyz_m, np.asarray(np.linalg.inv(normal), dtype=np.float64))


def _usual_length(joints_m: FloatArray, a: int, b: int) -> float:
    return finite_median(np.linalg.norm(joints_m[:, a] - joints_m[:, b], axis=1))
