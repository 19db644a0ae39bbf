"""Angles and proportions of a body from its joints, frame by frame.

The definitions behind the measures of a stance. On film joints are not known well enough for the
formulas alone (see :mod:`posecheck.body.stance_net`).

Pure functions of arrays. Leading axes are free; the last one holds coordinates. Any unit of
length will do, since only angles and ratios come out. A joint that was not seen (NaN) makes
NaN of what is read from it, and of nothing else.
"""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.vectors import unit


def angle_between(a: FloatArray, b: FloatArray) -> FloatArray:
    """Angle between vectors, radians from 0 to pi; NaN for a vector of no length.

    Kahan's form, which keeps its precision for nearly parallel and nearly opposite vectors,
    where the arc cosine loses half its digits (W. Kahan, "How Futile are Mindless Assessments
    of Roundoff", 2006, section 12).

    Args:
        a, b: ``(..., d)`` in two or three dimensions.
    """
    unit_a, unit_b = unit(a), unit(b)
    apart = np.linalg.norm(unit_a - unit_b, axis=-1)
    return np.asarray(2 * np.arctan2(apart, np.linalg.norm(unit_a + unit_b, axis=-1)))


def knee_flexion(hip: FloatArray, knee: FloatArray, ankle: FloatArray) -> FloatArray:
    """Bend of the knee, radians: pi minus the hip-knee-ankle angle, so a straight leg is 0.

    Args:
        hip, knee, ankle: ``(..., d)`` joint centres, two or three dimensions.
    """
    return angle_between(knee - hip, ankle - knee)


def straighter_leg(left: FloatArray, right: FloatArray) -> FloatArray:
    """Flexion of the less bent leg, ``(...)`` like the inputs.

    A running stride always has one bent leg; a broken-down stance has two. NaN unless both legs
    were seen, because the hidden one might be the straighter.
    """
    return np.asarray(np.minimum(left, right))


def trunk_lean(mid_hip: FloatArray, mid_shoulder: FloatArray, up: FloatArray) -> FloatArray:
    """Angle of the line from hips to shoulders against the vertical, radians.

    Args:
        mid_hip, mid_shoulder: ``(..., 3)``.
        up: ``(..., 3)`` direction against gravity, in the same axes as the joints.
    """
    return angle_between(mid_shoulder - mid_hip, up)


def height_above(point: FloatArray, foot: FloatArray, up: FloatArray) -> FloatArray:
    """How far a point lies above another along the vertical, ``(...)``.

    Args:
        point, foot: ``(..., 3)``.
        up: ``(..., 3)`` direction against gravity, in the same axes.
    """
    return np.asarray(np.sum((point - foot) * unit(up), axis=-1))


def forward(left_to_right: FloatArray, up: FloatArray) -> FloatArray:
    """Horizontal unit vector that a body faces.

    Args:
        left_to_right: ``(..., 3)`` from a left joint to its right twin.
        up: ``(..., 3)``.

    Right-handed axes: with x to the right and z up the body faces y.
    """
    return unit(np.cross(unit(up), left_to_right))


def hand_reach(
    mid_wrist: FloatArray,
    mid_shoulder: FloatArray,
    facing: FloatArray,
    arm_length: FloatArray,
) -> FloatArray:
    """Horizontal distance of the wrists ahead of mid-shoulder, in arm lengths.

    Args:
        mid_wrist, mid_shoulder: ``(..., 3)``; the wrists' mean, so that one arm out counts half.
        facing: ``(..., 3)`` horizontal unit vector from :func:`forward`.
        arm_length: ``(...)`` upper arm plus forearm.
    """
    return np.asarray(np.sum((mid_wrist - mid_shoulder) * facing, axis=-1) / arm_length)


def turned_by_ray(rays: FloatArray) -> FloatArray:
    """Rotation from the axes of a view along a ray to the camera's axes.

    A pose model that works on a crop sees the player as if the camera looked straight at him.
    Its depth axis is then the ray to the player, not the camera's optical axis. The rotation is the
    smallest one that takes the optical axis to the ray (Rodrigues' formula), so that horizontal
    lines stay horizontal in the picture.

    Args:
        rays: ``(..., 3)`` viewing rays in camera axes: x right, y down, z forward.

    Returns:
        ``(..., 3, 3)`` rotations R with ``R @ (0, 0, 1)`` along the ray.
    """
    ray = unit(rays)
    x, y, z = ray[..., 0], ray[..., 1], ray[..., 2]
    k = 1 / (1 + z)
    return np.stack(
        [
            np.stack([1 - k * x * x, -k * x * y, x], axis=-1),
            np.stack([-k * x * y, 1 - k * y * y, y], axis=-1),
            np.stack([-x, -y, z], axis=-1),
        ],
        axis=-2,
    )
