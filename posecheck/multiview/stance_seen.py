"""A player's stance from his landmarks in space, with its error."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from posecheck.body import stance
from posecheck.ground.tuning import SOLE_M
from posecheck.maths.arrays import FloatArray, finite_median
from posecheck.multiview.calibrate import Calibration
from posecheck.multiview.limbs import JOINTS, Steadied, steadied
from posecheck.multiview.phone import Phone
from posecheck.multiview.rig import Rig
from posecheck.multiview.triangulate import Points
from posecheck.multiview.tuning import (
    STANCE_FLOOR_SD,
    STRAIGHT_KNEE_DEG,
    THIGHS_APART,
)
from posecheck.pose.skeleton import SKELETON

_UP = np.array([0.0, 0.0, 1.0])
"""Against gravity.

Source: definition
"""

_STEP_M = 1e-4
"""Metres by which a landmark is moved to see what that changes.

Source: common practice
"""


@dataclass(frozen=True)
class Build:
    """Lengths of a body that do not change through a rep, metres.

    Attributes:
        arm_m: shoulder to elbow to wrist.
        hips_apart_m: between the landmarks of the hips.
        standing_hip_m: height of the hips over the ground when he stands straight.
    """

    arm_m: float
    hips_apart_m: float
    standing_hip_m: float


@dataclass(frozen=True)
class StanceSeen:
    """A stance over time.

    Attributes:
        knee_flexion_deg: ``(n, 2)`` left and right.
        values: by key of the quantity ``(n,)``.
        sd: by key ``(n,)`` standard deviation that comes from the landmarks of one frame.
        lasting_sd: by key ``(n,)`` that comes from cameras and clocks, the same all through.
    """

    knee_flexion_deg: FloatArray
    values: Mapping[str, FloatArray]
    sd: Mapping[str, FloatArray]
    lasting_sd: Mapping[str, FloatArray]


def build_of(xyz_m: FloatArray) -> Build:
    """A body's lengths, medians over ``(n, 33, 3)``."""

    def length(a: str, b: str) -> float:
        ends = xyz_m[:, SKELETON.index(a)] - xyz_m[:, SKELETON.index(b)]
        return finite_median(np.linalg.norm(ends, axis=1))

    def both(a: str, b: str) -> float:
        return (length(f"left_{a}", f"left_{b}") + length(f"right_{a}", f"right_{b}")) / 2

    # Of a foot on the ground heel and toe are both low; his ankle then is as high as ever.
    ankle = np.stack([xyz_m[:, SKELETON.index(f"{side}_ankle"), 2] for side in ("left", "right")])
    sole = np.stack(
        [
            xyz_m[:, SKELETON.indices(f"{side}_heel", f"{side}_foot_index"), 2].mean(axis=1)
            for side in ("left", "right")
        ]
    )
    over_sole = finite_median((ankle - sole).ravel())
    return Build(
        arm_m=both("shoulder", "elbow") + both("elbow", "wrist"),
        hips_apart_m=length("left_hip", "right_hip"),
        standing_hip_m=both("hip", "knee") + both("knee", "ankle") + over_sole + SOLE_M,
    )


def figures(xyz_m: FloatArray, build: Build) -> dict[str, FloatArray]:
    """Both knees and every measure of a stance, by key, ``(n,)`` of ``(n, 33, 3)`` landmarks.

    By the formulas of :mod:`posecheck.body.stance`. Where the hip's landmark lies, a straight leg
    does not read 0, and that is taken off; the thighs' tops, which the base is measured by, are
    nearer to each other than the landmarks.
    """

    def at(name: str) -> FloatArray:
        return np.asarray(xyz_m[:, SKELETON.index(name)])

    def middle(part: str) -> FloatArray:
        return (at(f"left_{part}") + at(f"right_{part}")) / 2

    left, right = (
        np.degrees(stance.knee_flexion(at(f"{s}_hip"), at(f"{s}_knee"), at(f"{s}_ankle")))
        - STRAIGHT_KNEE_DEG
        for s in ("left", "right")
    )
    across = sum(at(f"right_{part}") - at(f"left_{part}") for part in ("hip", "shoulder"))
    facing = stance.forward(np.asarray(across), _UP)
    hips, shoulders, wrists = middle("hip"), middle("shoulder"), middle("wrist")
    arm = np.full(len(xyz_m), build.arm_m)
    step = (at("left_ankle") - at("right_ankle"))[:, :2]
    trunk = stance.height_above(shoulders, hips, _UP)
    return {
        "left_knee_deg": left,
        "right_knee_deg": right,
        "knee_bend_deg": stance.straighter_leg(left, right),
        "trunk_lean_deg": np.degrees(stance.trunk_lean(hips, shoulders, _UP)),
        "hip_drop": 1 - hips[:, 2] / build.standing_hip_m,
        "hand_reach": stance.hand_reach(wrists, shoulders, facing, arm),
        "hand_height": stance.height_above(wrists, hips, _UP) / trunk,
        "base_width": np.linalg.norm(step, axis=1) / (THIGHS_APART * build.hips_apart_m),
    }


def stance_seen(
    phones: Sequence[Phone], calibration: Calibration, points: Points, t_s: FloatArray
) -> StanceSeen:
    """The defender's stance with its error.

    Args:
        phones: calibrated.
        calibration: of them.
        points: his landmarks at ``n`` moments.
        t_s: ``(n,)`` the moments, on the first phone's clock.
    """
    found = steadied(points, scatter_of(points))
    build = build_of(found.xyz_m)
    values = figures(found.xyz_m, build)

    def read(rig: Rig) -> dict[str, FloatArray]:
        other = body_in_space(phones, rig, t_s).xyz_m
        return figures(other, build_of(other))

    lasting = {key: np.zeros(len(t_s)) for key in values}
    for rig in calibration.varied:
        for key, value in read(rig).items():
            lasting[key] += np.nan_to_num(value - values[key]) ** 2
    moved = _propagated(lambda xyz_m: figures(xyz_m, build), found)
    return StanceSeen(
        knee_flexion_deg=np.stack([values.pop("left_knee_deg"), values.pop("right_knee_deg")], 1),
        values=values,
        sd={key: moved[key] for key in values},
        lasting_sd={key: np.sqrt(lasting[key] + STANCE_FLOOR_SD[key] ** 2) for key in values},
    )


def body_in_space(phones: Sequence[Phone], rig: Rig, t_s: FloatArray) -> Steadied:
    """The defender at ``(n,)`` moments of the first phone's clock, limbs of steady length."""
    points = rig.checked_points(phones, 0, t_s)
    return steadied(points, scatter_of(points))


def scatter_of(points: Points) -> FloatArray:
    """``(33,)`` standard deviation of each landmark in every picture, in units of
    ``LANDMARK_SD_M``, from how far the lines of sight miss each other.

    Of the ``2 v`` coordinates of a point seen by ``v`` phones three go into its place; the rest
    show the error. By the median, since a figure is a median over many frames too and a limb lost
    in a few does not change it.
    """
    from scipy.stats import chi2

    views = np.isfinite(points.miss[..., 0]).sum(axis=0)
    squares = np.nansum(points.miss**2, axis=(0, 3))
    expected = chi2.median(np.maximum(2 * views - 3, 1))
    share = np.where(views >= 2, squares / expected, np.nan)
    each = np.sqrt([finite_median(share[:, landmark]) for landmark in range(share.shape[1])])
    usual = finite_median(each)
    # A joint whose misses happen to be small is not known better than a body usually is.
    return np.asarray(np.fmax(np.where(np.isfinite(each), each, usual), usual))


def _propagated(
    of: Callable[[FloatArray], dict[str, FloatArray]], found: Steadied
) -> dict[str, FloatArray]:
    """By key ``(n,)`` standard deviation that comes from the landmarks, to first order."""
    before = of(found.xyz_m)
    slopes: dict[str, list[FloatArray]] = {key: [] for key in before}
    for landmark in JOINTS:
        for axis in range(3):
            moved = found.xyz_m.copy()
            moved[:, landmark, axis] += _STEP_M
            for key, value in of(moved).items():
                slopes[key].append(np.nan_to_num((value - before[key]) / _STEP_M))
    along = {key: np.stack(slope, axis=1) for key, slope in slopes.items()}
    return {
        key: np.sqrt(np.einsum("ni,nij,nj->n", slope, found.covariance_m2, slope))
        for key, slope in along.items()
    }
