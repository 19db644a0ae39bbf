"""Arms and legs by themselves: a leg of a given knee flexion, free arms, arms kept out of the body.

Body axes and ground axes are x to the right, y forward, z up; all arrays hold n frames.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial.transform import Rotation

from models.render.body import REGIONS, Body, Floats

if TYPE_CHECKING:
    from models.render.rig import Rig

ARM_RADIUS_M = 0.045
THIGH_RADIUS_M = 0.085
CLOTH_M = 0.025
"""Half as thick as an arm and a thigh are, and what clothes add to a trunk. Source: guesses for a
body of 1.75 m, scaled by stature."""
_LEVELS = 8


@dataclass(frozen=True)
class Arms:
    """Directions of both arms in ground axes, (n, 2, 3) unit vectors; [0] is left, [1] right.

    Attributes:
        upper: shoulder to elbow.
        fore: elbow to wrist.
        hinge: what the elbow turns about, ``upper`` cross ``fore`` where it is bent.
        fingers: along the hand.
        thumb: the side of the hand that the thumb is on.
    """

    upper: Floats
    fore: Floats
    hinge: Floats
    fingers: Floats
    thumb: Floats


def unit(v: Floats) -> Floats:
    """Vectors (..., 3) at length one."""
    return np.asarray(v / np.linalg.norm(v, axis=-1, keepdims=True))


def frame_of(along: Floats, hinge: Floats) -> Floats:
    """Right-handed frames (..., 3, 3): column 1 along the bone, column 0 nearest the hinge."""
    y = unit(along)
    x = unit(hinge - (hinge * y).sum(axis=-1, keepdims=True) * y)
    return np.stack([x, y, np.cross(x, y)], axis=-1)


def yaw_turn(yaw: Floats) -> Floats:
    """Turns (n, 3, 3) about the vertical."""
    return np.asarray(Rotation.from_euler("z", np.asarray(yaw)[:, None]).as_matrix())


def bent_toward(upper: Floats, hint: Floats, flexion: Floats) -> tuple[Floats, Floats]:
    """Direction of the lower bone and hinge (..., 3) of a limb that bends toward a hint (rad)."""
    across = unit(hint - (hint * upper).sum(axis=-1, keepdims=True) * upper)
    c, s = np.cos(flexion)[..., None], np.sin(flexion)[..., None]
    return np.asarray(c * upper + s * across), np.cross(upper, across)


def hands_along(
    upper: Floats, fore: Floats, hinge: Floats, pronation: Floats, droop: Floats
) -> Arms:
    """Arms whose hands lie along the forearms, bent by droop (n, 2) rad toward the palm.

    Pronation (n, 2) rad: 0 with the thumb on the inside of the elbow, 90 degrees palm down.
    """
    inside = unit(np.cross(hinge, fore))
    side = np.array([-1.0, 1.0])[:, None]
    c, s = np.cos(pronation)[..., None], np.sin(pronation)[..., None]
    thumb = c * inside - s * side * hinge
    palm = side * unit(np.cross(thumb, fore))
    fingers = np.cos(droop)[..., None] * fore + np.sin(droop)[..., None] * palm
    return Arms(upper, fore, hinge, fingers, thumb)


def hinge_angle(rig: Rig, side: str, flexion: Floats) -> Floats:
    """How far (n,) rad to turn the shank for the truth's flexion to be as asked.

    The rest pose's turning points do not lie in one plane with it, so the two differ by a degree.
    """
    h, asked = rig.body.head, np.asarray(flexion, float)
    thigh = h("lowerleg01" + side) - h("upperleg01" + side)
    shank = h("foot" + side) - h("lowerleg01" + side)
    angle: Floats = asked.copy()
    for _ in range(4):
        turned = Rotation.from_euler("x", -angle[:, None]).apply(shank)
        cross = np.linalg.norm(np.cross(thigh, turned), axis=1)
        angle += asked - (np.arctan2(cross, turned @ thigh) - rig.rest_flexion)
    return np.asarray(np.maximum(angle, 0.0))


def leg_turns(
    rig: Rig, side: str, line: Floats, hinge: Floats, flexion: Floats
) -> tuple[Floats, Floats]:
    """Turns of thigh and shank (n, 3, 3) of a leg whose ankle lies along a line from the hip.

    The knee is bent by flexion (n,) rad from the body at rest, whose knees are straight, about a
    hinge (n, 3) that points to the body's right.
    """
    bend = Rotation.from_euler("x", -hinge_angle(rig, side, flexion)[:, None])
    rest = frame_of(_to_ankle(rig, side, bend), np.array([1.0, 0.0, 0.0]))
    thigh = frame_of(line, hinge) @ np.swapaxes(rest, -1, -2)
    return np.asarray(thigh), np.asarray(thigh @ bend.as_matrix())


def leg_length(rig: Rig, side: str, flexion: Floats) -> Floats:
    """(n,) from the thigh's turning point to the ankle of a leg so bent (rad)."""
    bend = Rotation.from_euler("x", -hinge_angle(rig, side, flexion)[:, None])
    return np.asarray(np.linalg.norm(_to_ankle(rig, side, bend), axis=1))


def _to_ankle(rig: Rig, side: str, bend: Rotation) -> Floats:
    """(n, 3) from the thigh's turning point to the ankle, thigh at rest and shank turned."""
    h = rig.body.head
    thigh = h("lowerleg01" + side) - h("upperleg01" + side)
    return np.asarray(thigh + bend.apply(h("foot" + side) - h("lowerleg01" + side)))


@dataclass(frozen=True)
class Trunk:
    """How far the trunk reaches about the line from hips to shoulders, at rest.

    Attributes:
        half_wide, middle, half_deep: ``(levels,)`` metres, at even shares of the line, from one
            level below the hips to the shoulders.
    """

    low: float
    half_wide: Floats
    middle: Floats
    half_deep: Floats

    @staticmethod
    def of(body: Body, hips: Floats, shoulders: Floats) -> Trunk:
        """Of a body whose hips and shoulders have these middles (3,) at rest."""
        trunk = np.isin(body.region, [REGIONS.index("torso"), REGIONS.index("pelvis")])
        points = body.vertices_m[trunk].astype(float)
        low = -0.25
        share = (points[:, 2] - hips[2]) / (shoulders[2] - hips[2])
        levels = np.linspace(low, 1.0, _LEVELS)
        wide, middle, deep = [], [], []
        for level in levels:
            near = points[np.abs(share - level) < 0.12]
            if len(near) < 8:
                near = points[np.abs(share - level) < 0.3]
            along = hips[1] + level * (shoulders[1] - hips[1])
            front, back = near[:, 1].max(), near[:, 1].min()
            # The armpits' skin is the arms' own: no wider than the shoulders' joints.
            wide.append(min(np.abs(near[:, 0]).max(), 0.85 * abs(body.head("upperarm01.R")[0])))
            middle.append((front + back) / 2 - along)
            deep.append((front - back) / 2)
        return Trunk(low, np.array(wide), np.array(middle), np.array(deep))

    def cleared(
        self, points: Floats, hips: Floats, shoulders: Floats, chest: Floats, pelvis: Floats,
        margin_m: float,
    ) -> Floats:  # fmt: skip
        """Points (n, 3), those inside the trunk or nearer than a margin moved out to the side."""
        line = shoulders - hips
        share = ((points - hips) * line).sum(axis=1) / (line**2).sum(axis=1)
        frame = np.where((share > 0.45)[:, None, None], chest, pelvis)
        off = points - (hips + share[:, None] * line)
        local = np.einsum("nji,nj->ni", frame, off)
        levels = np.linspace(self.low, 1.0, _LEVELS)
        wide = np.interp(share, levels, self.half_wide) + margin_m
        deep = np.interp(share, levels, self.half_deep) + margin_m
        x, y = local[:, 0] / wide, (local[:, 1] - np.interp(share, levels, self.middle)) / deep
        size = np.hypot(x, y)
        inside = (size < 1) & (share > self.low) & (share < 0.95)
        grow = np.where(inside, 1 / np.maximum(size, 0.05) - 1, 0.0)
        move = np.stack([x * wide * grow, y * deep * grow, 0 * grow], axis=1)
        return np.asarray(points + np.einsum("nij,nj->ni", frame, move))


def cleared_of_capsule(points: Floats, start: Floats, end: Floats, radius_m: float) -> Floats:
    """Points (n, 3), those nearer than a radius to the segment from start to end moved out."""
    line = end - start
    share = np.clip(((points - start) * line).sum(1) / (line**2).sum(1), 0.0, 1.0)
    off = points - (start + share[:, None] * line)
    away = np.linalg.norm(off, axis=1, keepdims=True)
    push = np.maximum(radius_m - away, 0.0)
    return np.asarray(points + push * off / np.maximum(away, 1e-6))
