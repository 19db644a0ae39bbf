"""A body as points held apart by rods: which points, which rods, and how long they may be."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np

from posecheck.maths.arrays import FloatArray, IntArray
from posecheck.pose.skeleton import SKELETON

SIDES: Final = ("left", "right")

PARTS: Final = ("shoulder", "hip", "knee", "ankle", "heel", "foot_index", "elbow", "wrist")

POINTS: Final = tuple(f"{side}_{part}" for part in PARTS for side in SIDES)
"""The points of the body, by the names of their landmarks."""

LANDMARKS: Final[IntArray] = np.array(SKELETON.indices(*POINTS))

ACCELERATION_SD_MPS2: Final = dict(
    zip(PARTS, (40.0, 30.0, 60.0, 100.0, 100.0, 100.0, 100.0, 150.0), strict=True)
)
"""Standard deviation of each part's acceleration, metres a second squared.

Source: chosen, insensitive between 30 and 300 (all of them twice as large makes no difference)
"""


@cache
def link(to: str, from_: str) -> FloatArray:
    """Weights ``(n_points,)`` of the points in a vector from one place of the body to another.

    Args:
        to, from_: names of points, or of parts: then the middle of left and right is meant.
    """
    weights = _place(to) - _place(from_)
    weights.flags.writeable = False  # everybody is given the same one
    return weights


def _place(name: str) -> FloatArray:
    names = [name] if name in POINTS else [f"{side}_{name}" for side in SIDES]
    return np.asarray(np.mean([np.eye(len(POINTS))[POINTS.index(one)] for one in names], axis=0))


@dataclass(frozen=True)
class Rod:
    """A length that stays the same all through a clip, on both sides of the body.

    Attributes:
        share: expected length over stature.
        sd: how much its length may vary from frame to frame, as a share: joints are no points, and
            a spine bends.
        links: ``(n_links, n_points)`` the vectors that have this length.
    """

    share: float
    sd: float
    links: FloatArray


def _limb(share: float, sd: float, to: str, from_: str) -> Rod:
    return Rod(share, sd, np.stack([link(f"{s}_{to}", f"{s}_{from_}") for s in SIDES]))


RODS: Final = {
    "thigh": _limb(0.245, 0.02, "knee", "hip"),
    "shank": _limb(0.246, 0.02, "ankle", "knee"),
    "sole": _limb(0.145, 0.02, "foot_index", "heel"),
    "rear foot": _limb(0.039, 0.04, "ankle", "heel"),
    "fore foot": _limb(0.125, 0.04, "foot_index", "ankle"),
    "upper arm": _limb(0.172, 0.02, "elbow", "shoulder"),
    "forearm": _limb(0.150, 0.02, "wrist", "elbow"),
    "pelvis": Rod(0.108, 0.02, link("right_hip", "left_hip")[None]),
    "shoulders": Rod(0.200, 0.04, link("right_shoulder", "left_shoulder")[None]),
    "trunk": Rod(0.288, 0.04, link("shoulder", "hip")[None]),
}
"""Thigh, shank, forearm and trunk: R. Drillis and R. Contini, Body Segment Parameters, 1966, as
reprinted in D. A. Winter, Biomechanics and Motor Control of Human Movement, figure 4.1. Feet, upper
arm and the widths between joint centres: rendered bodies, rounded.

Source: published, Drillis and Contini 1966, from memory
"""
