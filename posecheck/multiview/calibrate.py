"""Cameras and clocks of several phones, fitted to the players they saw and to the field's points.

Everything enters one least-squares fit: where each phone sees each landmark (the point in space is
solved for on the way), where it sees known points of the field, and what is believed of phones and
players: focal length, roll and tilt, feet on the ground, a waiting player upright, statures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from posecheck.camera.phone import PHONE
from posecheck.camera.pinhole import Camera
from posecheck.ground.tuning import ANKLE_TO_EAR, SOLE_M
from posecheck.maths.arrays import FloatArray
from posecheck.multiview.phone import Phone
from posecheck.multiview.relative_pose import (
    RelativePose,
    levelled,
    relative_pose,
    turn_by_bodies,
)
from posecheck.multiview.rig import Rig
from posecheck.multiview.tuning import (
    CHAIN_SD,
    ERRORS_LAST_S,
    FIT_FRAMES,
    FIT_TOLERANCE,
    GAUGE_SD,
    LANDMARK_SD_M,
    LEAST_COMMON,
    LIMB_SD,
    LOW_FOOT_SD_M,
    MOST_STEPS,
    SOFT_SDS,
    UPRIGHT_SD_DEG,
    WORTH_OF_LANDMARK,
)
from posecheck.pose.skeleton import SKELETON
from posecheck.practice.stature import Stature

BODY = SKELETON.indices(
    "nose",
    *(
        f"{side}_{part}"
        for part in (
            "ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "foot_index",
        )
        for side in ("left", "right")
    ),
)  # fmt: skip
"""The landmarks that cameras are fitted to: those of the face and the hands lie side by side.

Source: definition
"""

_PER_CAMERA = 7
"""Parameters of a camera: log focal length, rotation vector, centre.

Source: definition
"""

_LIMBS = tuple(
    SKELETON.indices(f"{side}_{a}", f"{side}_{b}")
    for a, b in (
        ("hip", "knee"),
        ("knee", "ankle"),
        ("shoulder", "elbow"),
        ("elbow", "wrist"),
        ("shoulder", "hip"),
    )
    for side in ("left", "right")
)

_LEAST_LIMB_M = 0.01
"""Metres that a limb counts at least, while a fit is on its way.

Source: common practice
"""

_STEPS_OF_CAMERA = [0.05, 0.02, 0.02, 0.02, 0.2, 0.2, 0.2]
"""How much each of them typically changes in the fit, in log units, radians and metres.

Source: guess
"""

_STEP_OF_CLOCK = 0.02
"""The same of a clock, seconds.

Source: guess
"""


class NoCalibration(Exception):
    """The films do not determine where the phones stood; says why, and what to do."""

    def __init__(self, fault: str, remedy: str) -> None:
        super().__init__(fault)
        self.fault, self.remedy = fault, remedy


@dataclass(frozen=True)
class Clock:
    """What is believed of another phone's clock before the fit.

    Attributes:
        later_s: what it shows, less what the first one's does.
        sd_s: its standard deviation.
    """

    later_s: float
    sd_s: float


@dataclass(frozen=True)
class Calibration:
    """Fitted phones.

    Attributes:
        rig: cameras and clocks.
        varied: rigs one standard deviation off, each along an independent direction of the fit's
            error: the squares of what they change in a figure add up to its variance.
        scale_sd: relative standard deviation of lengths.
        up_sd_deg: standard deviation of the direction of the vertical.
        later_sd_s: of each phone's clock, 0 for the first.
        typical_miss_m: reprojection error at the player, metres, median over landmarks and frames.
        saving: what the landmarks that the films show together are worth, less the fit's cost.
    """

    rig: Rig
    varied: tuple[Rig, ...]
    scale_sd: float
    up_sd_deg: float
    later_sd_s: tuple[float, ...]
    typical_miss_m: float
    saving: float


def start_rig(phones: Sequence[Phone], clocks: Sequence[Clock], statures_m: FloatArray) -> Rig:
    """Cameras to start from: those of the field's points where known, else from the players.

    Args:
        phones: ``v`` of them.
        clocks: of all, the first one's being 0.
        statures_m: ``(players,)`` as stated or usual.

    Raises:
        NoCalibration: two films have no common geometry.
    """
    later_s = tuple(clock.later_s for clock in clocks)
    cameras = [phone.known.camera if phone.known else None for phone in phones]
    first = next((i for i, camera in enumerate(cameras) if camera), 0)
    for other, camera in enumerate(cameras):
        if other == first or camera is not None:
            continue
        pair = (phones[first], phones[other])
        late = (later_s[first], later_s[other])
        made = _beside(pair, late, cameras[first], statures_m)
        cameras[first] = cameras[first] or made[0]
        cameras[other] = made[1]
    known = tuple(camera for camera in cameras if camera is not None)
    assert len(known) == len(phones)
    return Rig(known, later_s)


def common_points(
    first: Phone, other: Phone, late_s: tuple[float, float]
) -> tuple[FloatArray, FloatArray]:
    """``(m, 2)`` pixels of the landmarks that two films show at the same moments."""
    t_s = fit_times((first, other), late_s)
    found: list[list[FloatArray]] = [[], []]
    for player in range(min(len(first.players), len(other.players))):
        a, b = (
            phone.at(player, t_s + late).xy_px[:, BODY].reshape(-1, 2)
            for phone, late in zip((first, other), late_s, strict=True)
        )
        both = np.isfinite(a).all(axis=1) & np.isfinite(b).all(axis=1)
        found[0].append(a[both])
        found[1].append(b[both])
    return np.concatenate(found[0]), np.concatenate(found[1])


def fit_times(
    phones: Sequence[Phone], later_s: Sequence[float], frames: int = FIT_FRAMES
) -> FloatArray:
    """``(n,)`` moments of the first phone's clock at which cameras are fitted."""
    start = max(p.t_s[0] - late for p, late in zip(phones, later_s, strict=True))
    end = min(p.t_s[-1] - late for p, late in zip(phones, later_s, strict=True))
    rate_hz = 1 / float(np.median(np.diff(phones[0].t_s)))
    n = min(frames, max(2, round((end - start) * rate_hz)))
    return np.linspace(start, end, n)


def calibrate(
    phones: Sequence[Phone],
    start: Rig,
    clocks: Sequence[Clock],
    statures: Sequence[Stature],
    frames: int = FIT_FRAMES,
) -> Calibration:
    """Fit cameras and clocks, beginning with those of ``start``.

    Args:
        phones: ``v`` of them.
        start: see :func:`start_rig`.
        clocks: what is believed of all clocks; the first one is not fitted.
        statures: of the players.
        frames: moments at which they are fitted, at most.
    """
    fit = _Fit(tuple(phones), start, tuple(clocks), tuple(statures), frames)
    found = least_squares(
        fit.misses,
        np.zeros(fit.size),
        x_scale=[*_STEPS_OF_CAMERA * len(phones), *[_STEP_OF_CLOCK] * fit.n_clocks],
        max_nfev=MOST_STEPS,
        ftol=FIT_TOLERANCE,
        xtol=FIT_TOLERANCE,
    )
    jacobian = np.asarray(found.jac)
    rig = fit.rig(found.x)
    miss = fit.landmark_misses(rig)
    # Landmarks that are further apart than was assumed make everything that rests on them vaguer.
    typical = float(np.median(np.linalg.norm(miss, axis=1)))
    looser = max(1.0, typical / _MEDIAN_OF_TWO)
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * looser**2
    values, axes = np.linalg.eigh(covariance)
    steps = axes.T * np.sqrt(np.maximum(values, 0.0))[:, None]
    varied = tuple(fit.rig(found.x + step) for step in steps)
    return Calibration(
        rig=rig,
        varied=varied,
        scale_sd=_root_sum([fit.log_scale(each) - fit.log_scale(rig) for each in varied]),
        up_sd_deg=_root_sum([fit.turned_deg(rig, each) for each in varied]),
        later_sd_s=(0.0, *np.sqrt(np.diag(covariance)[len(phones) * _PER_CAMERA :]).tolist()),
        typical_miss_m=typical * LANDMARK_SD_M,
        saving=WORTH_OF_LANDMARK * len(miss) - 2 * float(found.cost),
    )


_MEDIAN_OF_TWO = 0.6
"""Median length of the two views' reprojection errors when landmarks scatter by one standard
deviation: of the four coordinates of a pair three go into the point, and the one left over is
shared between the views.

Source: guess
"""


@dataclass(frozen=True)
class _Fit:
    phones: tuple[Phone, ...]
    start: Rig
    clocks: tuple[Clock, ...]
    statures: tuple[Stature, ...]
    frames: int

    @property
    def n_clocks(self) -> int:
        return len(self.phones) - 1

    @property
    def size(self) -> int:
        return len(self.phones) * _PER_CAMERA + self.n_clocks

    def rig(self, parameters: FloatArray) -> Rig:
        """By parameters: of each camera log focal length, turn, shift against the start; clocks."""
        cameras = []
        for camera, part in zip(
            self.start.cameras, parameters.reshape(-1)[: -self.n_clocks].reshape(-1, 7), strict=True
        ):
            matrix = camera.matrix.copy()
            matrix[[0, 1], [0, 1]] *= np.exp(part[0])
            turn = Rotation.from_rotvec(part[1:4]).as_matrix()
            cameras.append(Camera(matrix, turn @ camera.rotation, camera.centre_m + part[4:7]))
        late = np.asarray(self.start.later_s[1:]) + parameters[-self.n_clocks :]
        return Rig(tuple(cameras), (self.start.later_s[0], *late.tolist()))

    def misses(self, parameters: FloatArray) -> FloatArray:
        """Everything that is to be small, in its standard deviations."""
        rig = self.rig(parameters)
        t_s = self.times
        alike = max(1.0, ERRORS_LAST_S / float(t_s[1] - t_s[0]))
        parts: list[FloatArray] = []
        for player, stature in enumerate(self.statures):
            points = rig.points(self.phones, player, t_s, BODY)
            miss = np.nan_to_num(points.miss)
            off = np.linalg.norm(miss, axis=-1)
            pressed = SOFT_SDS * np.sqrt(2 * (np.sqrt(1 + (off / SOFT_SDS) ** 2) - 1))
            share = np.where(off > 0, pressed / np.where(off > 0, off, 1.0), 1.0)
            parts.append((miss * share[..., None]).ravel() / np.sqrt(alike))
            body = np.full((len(t_s), len(SKELETON), 3), np.nan)
            body[:, BODY] = points.xyz_m
            parts += _of_player(body, stature, alike, waiting=player > 0)
        parts += [self._priors(rig), self._field(rig)]
        late = np.asarray(rig.later_s[1:]) - [clock.later_s for clock in self.clocks[1:]]
        parts.append(late / np.array([clock.sd_s for clock in self.clocks[1:]]))
        return np.concatenate(parts)

    @property
    def times(self) -> FloatArray:
        """The same moments whatever the clocks come to, so that there are as many misses."""
        return fit_times(self.phones, self.start.later_s, self.frames)

    def landmark_misses(self, rig: Rig) -> FloatArray:
        """``(m, 2)`` reprojection errors of all landmarks in all views."""
        t_s = self.times
        off = [
            rig.points(self.phones, player, t_s, BODY).miss.reshape(-1, 2)
            for player in range(len(self.statures))
        ]
        every = np.concatenate(off)
        return np.asarray(every[np.isfinite(every).all(axis=1)])

    def log_scale(self, rig: Rig) -> float:
        """Logarithm of the defender's median size in space."""
        points = rig.points(self.phones, 0, self.times).xyz_m
        return float(np.log(np.nanmedian(_chain(points))))

    def turned_deg(self, rig: Rig, other: Rig) -> float:
        """By how much the vertical differs, as the first camera sees it, degrees."""
        a, b = (each.cameras[0].rotation[:, 2] for each in (rig, other))
        return float(np.degrees(np.arccos(np.clip(a @ b, -1, 1))))

    def _priors(self, rig: Rig) -> FloatArray:
        off: list[float] = []
        for camera, phone in zip(rig.cameras, self.phones, strict=True):
            turn = camera.rotation
            roll = np.arctan2(turn[0, 2], -turn[1, 2])
            tilt = np.arcsin(np.clip(-turn[2, 2], -1, 1))
            log_focal = np.log(camera.focal_px / max(phone.size_px))
            off.append(float(PHONE.lens.likely.misses(np.asarray(log_focal))))
            if phone.known is None:
                off += [float(PHONE.roll.misses(roll)), float(PHONE.tilt.misses(tilt))]
                height = np.log(max(camera.centre_m[2], 0.05))
                off.append(float(PHONE.log_height.misses(height)))
        if all(phone.known is None for phone in self.phones):
            here, there = rig.cameras[0], self.start.cameras[0]
            off += ((here.centre_m - there.centre_m)[:2] / GAUGE_SD).tolist()
            x, y = there.rotation[2, :2]
            off.append(float(np.cross([x, y, 0], [*here.rotation[2, :2], 0])[2] / GAUGE_SD))
        return np.array(off)

    def _field(self, rig: Rig) -> FloatArray:
        parts = [np.zeros(0)]
        for camera, phone in zip(rig.cameras, self.phones, strict=True):
            if phone.known is not None:
                there = np.nan_to_num(camera.to_image(phone.known.xyz_m), nan=1e4)
                off = (there - phone.known.xy_px) / phone.known.sd_px[:, None]
                parts.append(off.ravel())
        return np.concatenate(parts)


def _of_player(
    xyz_m: FloatArray, stature: Stature, alike: float, waiting: bool
) -> list[FloatArray]:
    """What is believed of a player: feet on the ground, stature, and upright while he waits."""
    low = _lower_foot_m(xyz_m) - SOLE_M
    # A foot is in the air more often than under the ground.
    off = low / LOW_FOOT_SD_M
    pressed = np.sign(off) * SOFT_SDS * np.sqrt(2 * (np.sqrt(1 + (off / SOFT_SDS) ** 2) - 1))
    parts = [np.nan_to_num(np.where(off > 0, pressed, off)) / np.sqrt(alike)]
    parts.append(_limbs_off(xyz_m).ravel() / np.sqrt(alike))
    tall = float(np.nan_to_num(np.log(_middle(_chain(xyz_m)) / ANKLE_TO_EAR / stature.mean_m)))
    parts.append(np.array([tall / float(np.hypot(stature.sd_m / stature.mean_m, CHAIN_SD))]))
    if waiting:
        ankles, shoulders = (
            xyz_m[:, SKELETON.indices(f"left_{part}", f"right_{part}")].mean(axis=1)
            for part in ("ankle", "shoulder")
        )
        line = shoulders - ankles
        lean = np.array([_middle(line[:, 0]), _middle(line[:, 1])]) / (_middle(line[:, 2]) or 1.0)
        parts.append(np.nan_to_num(lean) / np.radians(UPRIGHT_SD_DEG))
    return parts


def _limbs_off(xyz_m: FloatArray) -> FloatArray:
    """``(n, limbs)`` how much longer a limb is than it is on the whole, in standard deviations.

    Limbs keep their length, and left and right are alike: over a run that leads from far to near
    this shows what the lenses are.
    """
    lengths = np.stack(
        [np.linalg.norm(xyz_m[:, a] - xyz_m[:, b], axis=1) for a, b in _LIMBS], axis=1
    )
    pairs = lengths.reshape(len(lengths), -1, 2)
    known = np.isfinite(pairs)
    if not known.any(axis=(0, 2)).all():
        return np.zeros(lengths.shape)
    usual = np.array([np.median(pairs[:, i][known[:, i]]) for i in range(pairs.shape[1])])
    off = np.log(np.maximum(pairs, _LEAST_LIMB_M) / usual[:, None]) / LIMB_SD
    pressed = np.sign(off) * SOFT_SDS * np.sqrt(2 * (np.sqrt(1 + (off / SOFT_SDS) ** 2) - 1))
    return np.asarray(np.nan_to_num(pressed).reshape(lengths.shape))


def _middle(values: FloatArray) -> float:
    seen = values[np.isfinite(values)]
    return float(np.median(seen)) if len(seen) else float("nan")


def _lower_foot_m(xyz_m: FloatArray) -> FloatArray:
    """``(n,)`` height of the lower foot, the middle between heel and toe."""
    feet = [
        xyz_m[:, SKELETON.indices(f"{side}_heel", f"{side}_foot_index"), 2].mean(axis=1)
        for side in ("left", "right")
    ]
    return np.asarray(np.fmin(*feet))


def _chain(xyz_m: FloatArray) -> FloatArray:
    """``(n,)`` length from ankle over knee, hip and shoulder to the ear, the legs' mean."""
    middles = [
        xyz_m[:, SKELETON.indices(f"left_{part}", f"right_{part}")].mean(axis=1)
        for part in ("hip", "shoulder", "ear")
    ]
    above = sum(np.linalg.norm(b - a, axis=1) for a, b in pairwise(middles))
    legs = [
        np.linalg.norm(
            np.diff(xyz_m[:, SKELETON.indices(*(f"{side}_{p}" for p in ("ankle", "knee", "hip")))],
                    axis=1),
            axis=2,
        ).sum(axis=1)
        for side in ("left", "right")
    ]  # fmt: skip
    return np.asarray(np.mean(legs, axis=0) + above)


def _root_sum(changes: Sequence[float]) -> float:
    return float(np.sqrt(np.nansum(np.square(changes))))


def pose_between(
    pair: tuple[Phone, Phone],
    late_s: tuple[float, float],
    known: Camera | None = None,
    usual_focal: bool = False,
) -> RelativePose | None:
    """How the second phone stands to the first, from the players; None when nothing fits.

    Args:
        pair: two phones.
        late_s: their clocks.
        known: the first one's camera.
        usual_focal: True to take the usual focal length of a phone for both.
    """
    sizes = (pair[0].size_px, pair[1].size_px)
    a, b = common_points(*pair, late_s)
    if len(a) < LEAST_COMMON:
        return None
    focal_px: tuple[float | None, float | None] = (known.focal_px if known else None, None)
    if usual_focal:
        focal_px = PHONE.focal_px(sizes[0]), PHONE.focal_px(sizes[1])
    return relative_pose(a, b, sizes, focal_px, _turned(pair, late_s))


def _turned(pair: tuple[Phone, Phone], late_s: tuple[float, float]) -> FloatArray:
    """How the first camera's axes are turned into the second's, by the pose model's bodies."""
    t_s = fit_times(pair, late_s)
    bodies = [phone.body(0, t_s + late)[:, BODY] for phone, late in zip(pair, late_s, strict=True)]
    both = np.isfinite(bodies[0]).all(axis=2) & np.isfinite(bodies[1]).all(axis=2)
    return turn_by_bodies(bodies[0][both], bodies[1][both])


def _beside(
    pair: tuple[Phone, Phone],
    late_s: tuple[float, float],
    known: Camera | None,
    statures_m: FloatArray,
) -> tuple[Camera, Camera]:
    """The second phone's camera beside the first one's; that one is made too if not known."""
    first, other = pair
    sizes = (first.size_px, other.size_px)
    pose = pose_between(pair, late_s, known)
    if pose is None:
        raise NoCalibration(
            f"it and {other.name} show no common movement from two places",
            "film the same rep with both phones, from two places well apart",
        )
    up = known.rotation[:, 2] if known else np.array([0.0, -1.0, 0.0])
    cameras = levelled(pose, sizes, up)
    t_s = fit_times(pair, late_s)
    points = Rig(cameras, late_s).points(pair, 0, t_s).xyz_m
    if known is None:
        # Upwards is, to begin with, from the ankles to the head.
        ankles, ears = (
            points[:, SKELETON.indices(f"left_{part}", f"right_{part}")].mean(axis=1)
            for part in ("ankle", "ear")
        )
        rise = np.nanmedian(ears - ankles, axis=0)
        cameras = levelled(pose, sizes, cameras[0].rotation @ rise)
        points = Rig(cameras, late_s).points(pair, 0, t_s).xyz_m
        scale = statures_m[0] * ANKLE_TO_EAR / _middle(_chain(points))
        feet = _lower_foot_m(points) * scale
        lift = np.array([0.0, 0.0, SOLE_M - np.nanquantile(feet, 0.3)])
        grown = [replace(camera, centre_m=camera.centre_m * scale + lift) for camera in cameras]
        return grown[0], grown[1]
    # On the axes of the camera that is known: its centre, and the distance at which feet stand.
    turn = known.rotation.T @ cameras[0].rotation
    turned = points @ turn.T
    scale = _middle((SOLE_M - known.centre_m[2]) / _lower_foot_m(turned))
    return known, Camera(
        cameras[1].matrix,
        cameras[1].rotation @ turn.T,
        known.centre_m + scale * (turn @ cameras[1].centre_m),
    )
