"""Cameras to start the calibration from, where no point of the field is known: from the players."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from posecheck.camera.phone import PHONE
from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray
from posecheck.multiview.tuning import (
    BODY_TURN_PASSES,
    BODY_TURN_SD_DEG,
    BODY_TURN_SOFT_M,
    ESSENTIAL_MISS,
    ESSENTIAL_TRUST,
    FOCAL_STARTS_SDS,
    MOST_SAMPLES,
    UNLIKELY_COST,
)


@dataclass(frozen=True)
class RelativePose:
    """Another camera as seen from the first.

    Attributes:
        focal_px: of the two.
        rotation: ``(3, 3)`` turns the first camera's axes into the other's.
        centre: ``(3,)`` of the other, on the first's axes, at a distance of 1.
        cost: mean of the landmarks' distances from their epipolar lines, in focal lengths, the far
            ones cut off.
        agreeing: share of the landmarks that agree.
    """

    focal_px: tuple[float, float]
    rotation: FloatArray
    centre: FloatArray
    cost: float
    agreeing: float


def intrinsics(focal_px: float, size_px: tuple[int, int]) -> FloatArray:
    """``(3, 3)`` of a camera with square pixels and its principal point in the middle."""
    width, height = size_px
    return np.array([[focal_px, 0, (width - 1) / 2], [0, focal_px, (height - 1) / 2], [0, 0, 1.0]])


def relative_pose(
    first_px: FloatArray,
    other_px: FloatArray,
    sizes_px: tuple[tuple[int, int], tuple[int, int]],
    focal_px: tuple[float | None, float | None],
    turned: FloatArray,
) -> RelativePose | None:
    """The pose of one camera against another from points that both see.

    The essential matrix by random samples, for several focal lengths of each camera where they are
    not known. The one is taken whose landmarks lie nearest to their epipolar lines, a phone's focal
    length and a turn near the one expected being likelier: landmarks that are named the wrong way
    round in one film can agree on another pose.

    Args:
        first_px, other_px: ``(m, 2)`` pixels of the same points.
        sizes_px: width and height of the two pictures.
        focal_px: focal lengths where they are known.
        turned: ``(3, 3)`` about how the first camera's axes are turned into the other's.

    Returns:
        None when no pose has most landmarks in front of both cameras.
    """
    import cv2

    options = [
        [known] if known else [PHONE.focal_px(size) * np.exp(sd * PHONE.lens.likely.sd)
                               for sd in FOCAL_STARTS_SDS]
        for known, size in zip(focal_px, sizes_px, strict=True)
    ]  # fmt: skip
    best: tuple[float, RelativePose] | None = None
    for one in options[0]:
        for two in options[1]:
            a, b = (
                (xy_px - intrinsics(focal, size)[:2, 2]) / focal
                for xy_px, focal, size in zip(
                    (first_px, other_px), (one, two), sizes_px, strict=True
                )
            )
            cv2.setRNGSeed(0)
            found, _ = cv2.findEssentialMat(
                a, b, np.eye(3), cv2.RANSAC, ESSENTIAL_TRUST, ESSENTIAL_MISS, MOST_SAMPLES
            )
            if found is None or found.shape != (3, 3):
                continue
            off = _sampson(np.asarray(found, dtype=np.float64), a, b)
            near = off < ESSENTIAL_MISS
            if near.sum() < 8:
                continue
            ahead, rotation, shift, _ = cv2.recoverPose(found, a[near], b[near], np.eye(3))
            if ahead < near.sum() / 2:
                continue
            cost = float(np.minimum(off, 2 * ESSENTIAL_MISS).mean() / ESSENTIAL_MISS)
            unlikely = sum(
                float(PHONE.lens.likely.misses(np.log(focal / max(size)))) ** 2
                for focal, size in zip((one, two), sizes_px, strict=True)
            )
            pose = RelativePose(
                (one, two),
                np.asarray(rotation),
                np.asarray(-rotation.T @ shift).ravel(),
                cost,
                float(near.mean()),
            )
            off_deg = np.degrees(Rotation.from_matrix(rotation @ turned.T).magnitude())
            unlikely += float(off_deg / BODY_TURN_SD_DEG) ** 2
            score = cost + UNLIKELY_COST * unlikely
            if best is None or score < best[0]:
                best = score, pose
    return best[1] if best else None


def turn_by_bodies(first_m: FloatArray, other_m: FloatArray) -> FloatArray:
    """``(3, 3)`` rotation that takes bodies on one camera's axes to the same on another's.

    The rotation of least squares (W. Kabsch, Acta Crystallographica A32, 1976, from memory), with
    points that do not agree counting less in every further pass.

    Args:
        first_m, other_m: ``(m, 3)`` landmarks about the middle of the hips.
    """
    weight = np.ones(len(first_m))
    rotation = np.eye(3)
    for _ in range(BODY_TURN_PASSES):
        left, _, right = np.linalg.svd((first_m * weight[:, None]).T @ other_m)
        mirror = np.diag([1.0, 1.0, np.sign(np.linalg.det(right.T @ left.T))])
        rotation = right.T @ mirror @ left.T
        off_m = np.linalg.norm(first_m @ rotation.T - other_m, axis=1)
        weight = 1 / (1 + (off_m / BODY_TURN_SOFT_M) ** 2)
    return np.asarray(rotation)


def _sampson(essential: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    """``(m,)`` distance of points from agreeing with an essential matrix, to first order.

    Hartley and Zisserman, Multiple View Geometry, 2nd ed., section 11.4.3 (from memory).
    """
    one, two = (np.concatenate([each, np.ones((len(each), 1))], axis=1) for each in (a, b))
    line_b, line_a = one @ essential.T, two @ essential
    off = np.sum(two * line_b, axis=1)
    slope = np.sum(line_b[:, :2] ** 2, axis=1) + np.sum(line_a[:, :2] ** 2, axis=1)
    return np.asarray(np.abs(off) / np.sqrt(slope))


def levelled(
    pose: RelativePose, sizes_px: tuple[tuple[int, int], tuple[int, int]], up: FloatArray
) -> tuple[Camera, Camera]:
    """Both cameras on axes with z up, the first at the origin.

    Args:
        pose: of the two.
        sizes_px: of their pictures.
        up: ``(3,)`` direction against gravity on the first camera's axes.
    """
    z = up / np.linalg.norm(up)
    away = np.array([0.0, 0.0, 1.0])
    y = away - (away @ z) * z
    y = y / np.linalg.norm(y)
    to_ground = np.stack([np.cross(y, z), y, z])  # rows: ground axes on the camera's
    first = Camera(intrinsics(pose.focal_px[0], sizes_px[0]), to_ground.T, np.zeros(3))
    other = Camera(
        intrinsics(pose.focal_px[1], sizes_px[1]),
        pose.rotation @ to_ground.T,
        to_ground @ pose.centre,
    )
    return first, other
