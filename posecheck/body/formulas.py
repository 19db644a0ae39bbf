"""How a player holds himself: angles and proportions from joints, frame by frame.

What the measures of a stance mean. On film joints are never known so well that the formulas alone
would do (:mod:`posecheck.body.stance_net`).

Pure functions of arrays. Leading axes are free; the last one holds coordinates. Any unit of
length will do, since only angles and ratios come out. A joint that was not seen (NaN) makes
what is read from it NaN, and nothing else.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray

BEFORE_ARRIVAL_S = 0.1
AFTER_ARRIVAL_S = 0.3
"""The arrival window reaches from 0.1 s before to 0.3 s after arrival."""


def angle_between(a: FloatArray, b: FloatArray) -> FloatArray:
    """Angle between vectors, radians from 0 to pi; NaN for a vector of no length.

    Kahan's form, which keeps its precision for nearly parallel and nearly opposite vectors,
    where the arc cosine loses half its digits (W. Kahan, "How Futile are Mindless Assessments
    of Roundoff", 2006, section 12).

    Args:
        a, b: ``(..., d)`` in two or three dimensions.
    """
    unit_a, unit_b = _unit(a), _unit(b)
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
    """How far a point lies above another along the vertical, ``(...)``."""
    return np.asarray(np.sum((point - foot) * _unit(up), axis=-1))


def hip_height_ratio(hip_height: FloatArray, standing_hip_height: float) -> FloatArray:
    """Hip height over the same player's hip height standing; 1 upright, smaller in a stance."""
    return hip_height / standing_hip_height


def forward(left_to_right: FloatArray, up: FloatArray) -> FloatArray:
    """Horizontal unit vector that a body faces.

    Args:
        left_to_right: ``(..., 3)`` from a left joint to its right twin.
        up: ``(..., 3)``.

    Right-handed axes: with x to the right and z up the body faces y.
    """
    return _unit(np.cross(_unit(up), left_to_right))


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


def hand_height(
    mid_wrist: FloatArray, mid_hip: FloatArray, mid_shoulder: FloatArray, up: FloatArray
) -> FloatArray:
    """Height of the wrists: 0 at the waist (mid-hip), 1 at the shoulders, ``(...)``.

    Measured along the vertical; NaN for a trunk that lies level or upside down, where waist and
    shoulders give no scale.
    """
    trunk = height_above(mid_shoulder, mid_hip, up)
    return height_above(mid_wrist, mid_hip, up) / np.where(trunk > 0, trunk, np.nan)


def base_width(
    left_ankle: FloatArray, right_ankle: FloatArray, pelvis_width: FloatArray, up: FloatArray
) -> FloatArray:
    """Distance between the ankles over the ground, in pelvis widths, ``(...)``.

    Args:
        left_ankle, right_ankle: ``(..., 3)``; a lifted foot counts by where it would come down.
        pelvis_width: ``(...)`` distance between the hip joints.
        up: ``(..., 3)``.
    """
    apart = right_ankle - left_ankle
    level = apart - np.sum(apart * _unit(up), axis=-1, keepdims=True) * _unit(up)
    return np.asarray(np.linalg.norm(level, axis=-1) / pelvis_width)


def turned_by_ray(rays: FloatArray) -> FloatArray:
    """Turn from the axes of a view along a ray to the camera's axes.

    A pose model that works on a crop sees the player as if the camera looked straight at him.
    Its depth axis is then the ray to the player, not the camera's optical axis. The turn is the
    smallest one that takes the optical axis to the ray (Rodrigues' formula), so level stays
    level across the picture.

    Args:
        rays: ``(..., 3)`` viewing rays in camera axes: x right, y down, z forward.

    Returns:
        ``(..., 3, 3)`` rotations R with ``R @ (0, 0, 1)`` along the ray.
    """
    ray = _unit(rays)
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


def view_angle(facing: FloatArray, up: FloatArray, to_camera: FloatArray) -> FloatArray:
    """From where the player is seen, radians: 0 from the front, pi/2 side-on, pi from behind.

    Args:
        facing: ``(..., 3)`` from :func:`forward`.
        up: ``(..., 3)``.
        to_camera: ``(..., 3)`` direction from the player to the camera.
    """
    upright = _unit(up)
    level = to_camera - np.sum(to_camera * upright, axis=-1, keepdims=True) * upright
    return angle_between(facing, level)


def in_window(t_s: FloatArray, from_s: float, to_s: float) -> npt.NDArray[np.bool_]:
    """``(n,)`` True for the frames of a window, both ends included."""
    slack = 1e-9  # frame times are sums of fractions
    return np.asarray((t_s >= from_s - slack) & (t_s <= to_s + slack))


def _unit(vectors: FloatArray) -> FloatArray:
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    return np.asarray(vectors / np.where(length > 0, length, np.nan))
