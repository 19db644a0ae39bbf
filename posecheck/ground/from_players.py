"""The ground from the players themselves, when no field point is known.

People of known or typical stature stand on a plane at several ranges. How tall each looks, and how
far below the horizon his feet are, gives the camera's height and tilt; their stature gives the
scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from posecheck.body.foot_sight import FootSight
from posecheck.camera.motion import CameraMotion
from posecheck.camera.phone import PHONE, Belief
from posecheck.camera.pinhole import Camera
from posecheck.ground.ground import Ground
from posecheck.ground.scale import length_sd
from posecheck.ground.tuning import (
    ANKLE_TO_EAR,
    FEET_SD_SHARE,
    FRAMES_ALIKE,
    MIN_FEET_DIP_DEG,
    MIN_STANDING_SCORE,
    POSTURE_TALL_SD,
    SOFT_SHORT_SDS,
    SOFT_TALL_SDS,
    SOLE_M,
    UNKNOWN_STATURE_M,
    UNSEEN_MISS_SDS,
    ZOOM_QUANTILES,
)
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON


@dataclass(frozen=True)
class Standing:
    """Somebody with a foot on the ground in one frame.

    Attributes:
        who: number of the person, to distinguish repeated views of one from views of several.
        feet_px: pixels in which a foot touches the ground.
        head_px: pixels of the top of the head, or of where it would be if he stood up straight.
        stature_m, stature_sd_m: mean and standard deviation of his stature.
        sight_m: how high over the ground the line of sight to the feet passes where he stands.
    """

    who: int
    feet_px: tuple[float, float]
    head_px: tuple[float, float]
    stature_m: float = UNKNOWN_STATURE_M[0]
    stature_sd_m: float = UNKNOWN_STATURE_M[1]
    sight_m: float = 0.0


def standing_players(
    who: int,
    steady_px: FloatArray,
    world_m: FloatArray,
    score: FloatArray,
    stature_m: float = UNKNOWN_STATURE_M[0],
    stature_sd_m: float = UNKNOWN_STATURE_M[1],
    feet: FootSight | None = None,
) -> list[Standing]:
    """Read from one player's landmarks how tall he would look standing, frame by frame.

    Running and crouched players count too: their height is put together from ankle to knee to
    hip to shoulder to ear, along the longer-looking leg. Bending in the picture's plane does not
    shorten that; the landmarks in metres give the shortening by bending towards the camera.

    Args:
        who: number of the player.
        steady_px: ``(n, 33, 2)`` landmarks in pixels of the clip's reference frame.
        world_m: ``(n, 33, 3)`` the same in metres, on the camera's axes; only their proportions
            count.
        score: ``(n, 33)``.
        stature_m, stature_sd_m: mean and standard deviation of his stature.
        feet: how high over the ground the lines of sight to his feet pass below his hips; None
            assumes that the nearer foot stands right below them.
    """
    seen = np.where((np.nan_to_num(score) >= MIN_STANDING_SCORE)[..., None], steady_px, np.nan)
    length_px = _ankle_to_ear(seen)
    across_view = _ankle_to_ear(world_m[..., :2]) / _ankle_to_ear(world_m)
    straighter = (length_px[1] > length_px[0]).astype(int)
    frame = np.arange(len(seen))
    tall = length_px[straighter, frame] / across_view[straighter, frame] / ANKLE_TO_EAR
    soles = [
        seen[:, SKELETON.indices(f"{side}_heel", f"{side}_foot_index")].mean(axis=1)
        for side in ("left", "right")
    ]
    nearer = (soles[1][:, 1] > soles[0][:, 1]).astype(int)
    lower = np.stack(soles)[nearer, frame]
    sight_m = np.full(len(seen), SOLE_M) if feet is None else feet.height_m[frame, nearer]
    good = np.isfinite(length_px).all(axis=0) & np.isfinite(tall) & np.isfinite(lower[:, 0])
    good &= np.isfinite(sight_m)
    return [
        Standing(who, (float(x), float(y)), (float(x), float(y - h)), stature_m, stature_sd_m, s)
        for (x, y), h, s in zip(lower[good], tall[good], sight_m[good].tolist(), strict=True)
    ]


def _ankle_to_ear(points: FloatArray) -> FloatArray:
    """``(2, n)`` length for each leg of the line from ankle over knee, hip and shoulder to ear."""
    middles = [
        points[:, SKELETON.indices(f"left_{part}", f"right_{part}")].mean(axis=1)
        for part in ("hip", "shoulder", "ear")
    ]
    above = sum(np.linalg.norm(b - a, axis=1) for a, b in pairwise(middles))
    legs = []
    for side in ("left", "right"):
        chain = points[:, SKELETON.indices(*(f"{side}_{p}" for p in ("ankle", "knee", "hip")))]
        legs.append(np.linalg.norm(np.diff(chain, axis=1), axis=2).sum(axis=1))
    return np.asarray(np.stack(legs) + above)


def zoom_range(motion: CameraMotion, size_px: tuple[int, int]) -> tuple[float, float]:
    """Least and greatest focal length of the clip, over that of its reference frame.

    Read from the background's homographies as by a camera of the usual field of view, which is
    near enough for a zoom whatever the true one. The extreme frames at either end are left out,
    since some are followed badly.
    """
    usual = _camera(np.array([PHONE.log_focal.median, 0.0, 0.0, 0.0]), size_px)
    zooms = [
        usual.turned(back).focal_px / usual.focal_px for back in motion.to_reference[motion.tracked]
    ]
    if not zooms:
        return 1.0, 1.0
    out, close = np.quantile(zooms, ZOOM_QUANTILES)
    return float(out), float(close)


def ground_from_players(
    standing: Sequence[Standing],
    size_px: tuple[int, int],
    zoomed: tuple[float, float] = (1.0, 1.0),
) -> Ground | None:
    """Calibrate the camera by people on the ground.

    Robust least squares with a prior of phones: field of view, tilt, roll, height. Origin below
    the camera, x to its right, y away from it.

    Args:
        standing: views of people, all in pixels of one frame.
        size_px: width and height of the clip.
        zoomed: least and greatest focal length of the clip over that of the frame.

    Returns:
        The ground, or None when nobody is seen to stand on it.
    """
    views = [s for s in standing if np.all(np.isfinite([*s.feet_px, *s.head_px]))]
    if not views:
        return None
    feet = np.array([s.feet_px for s in views])
    tall_px = feet[:, 1] - np.array([s.head_px[1] for s in views])
    stature = np.array([s.stature_m for s in views])
    stature_sd = np.array([s.stature_sd_m for s in views])
    sd_px = np.hypot(FEET_SD_SHARE * max(size_px), POSTURE_TALL_SD * tall_px)
    sd_px *= np.sqrt(FRAMES_ALIKE)
    sight_m = np.array([s.sight_m for s in views])
    who = np.array([s.who for s in views])
    people, which = np.unique(who, return_inverse=True)
    first = np.array([np.flatnonzero(which == i)[0] for i in range(len(people))])

    def misses(parameters: FloatArray) -> FloatArray:
        geometry, grown = parameters[:4], parameters[4:]
        camera = _camera(geometry, size_px)
        at = camera.to_ground(feet, sight_m)
        soles, heads = (
            camera.to_image(np.column_stack([at, height]))
            for height in (0 * stature, stature * np.exp(grown[which]))
        )
        looks = soles[:, 1] - heads[:, 1]
        off = np.where(np.isfinite(looks), (looks - tall_px) / sd_px, UNSEEN_MISS_SDS)
        return np.asarray(off)

    # The moment at which the focal length is a phone's lies evenly between the ends of the zoom,
    # whose standard deviation is that of a uniform distribution.
    log_zoom = np.mean(np.log(zoomed))
    log_zoom_sd = np.ptp(np.log(zoomed)) / np.sqrt(12)
    log_focal = Belief(
        float(PHONE.log_focal.median - log_zoom), float(np.hypot(PHONE.log_focal.sd, log_zoom_sd))
    )

    def prior(parameters: FloatArray) -> FloatArray:
        return np.array(
            [
                log_focal.misses(parameters[0]),
                PHONE.tilt.misses(parameters[1]),
                PHONE.roll.misses(parameters[2]),
                PHONE.log_height.misses(parameters[3]),
                *(parameters[4:] / (stature_sd[first] / stature[first])),
            ]
        )

    def soft(parameters: FloatArray) -> FloatArray:
        """Misses, the far ones at the square root of their soft L1 loss, and the prior as it is."""
        off = misses(parameters)
        knee = np.where(off > 0, SOFT_SHORT_SDS, SOFT_TALL_SDS)
        pressed = np.sign(off) * knee * np.sqrt(2 * (np.sqrt(1 + (off / knee) ** 2) - 1))
        return np.concatenate([pressed, prior(parameters)])

    start = np.concatenate(
        [
            [log_focal.median, PHONE.tilt.median, PHONE.roll.median, PHONE.log_height.median],
            np.zeros(len(people)),
        ]
    )
    start[1] = max(start[1], _level_tilt(feet, start[0], size_px))
    fit = least_squares(soft, start, x_scale=[0.1, 0.05, 0.02, 0.2, *([0.05] * len(people))])
    camera = _camera(fit.x[:4], size_px)
    at = camera.to_ground(feet, sight_m)
    if not np.isfinite(at).any():
        return None
    covariance = np.linalg.inv(fit.jac.T @ fit.jac)
    scale_sd, depth_sd = length_sd(
        lambda p: _camera(p, size_px),
        fit.x[:4],
        covariance[:4, :4],
        np.nanmedian(at, axis=0, keepdims=True),
    )
    n = len(people)
    return Ground(
        camera=camera,
        source="players",
        described=(
            f"the height of {n} player{'' if n == 1 else 's'}, "
            f"good to {max(100 * scale_sd, 1):.0f} % across the view"
        ),
        scale_sd=scale_sd,
        depth_sd=depth_sd,
        on_field=False,
    )


def _camera(geometry: FloatArray, size_px: tuple[int, int]) -> Camera:
    """Geometry: log focal length over the longer side, tilt down, roll (radians), log height."""
    focal = np.exp(geometry[0]) * max(size_px)
    matrix = np.array(
        [[focal, 0, (size_px[0] - 1) / 2], [0, focal, (size_px[1] - 1) / 2], [0, 0, 1]]
    )
    # Ground axes (right, away, up) to a level camera's (right, down, away), then tilt and roll.
    level = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    turn = Rotation.from_euler("xz", [geometry[1], geometry[2]]).as_matrix()
    return Camera(matrix, turn @ level, np.array([0, 0, np.exp(geometry[3])]))


def _level_tilt(feet: FloatArray, log_focal: float, size_px: tuple[int, int]) -> float:
    """The least tilt in radians that puts all feet well below the horizon."""
    highest = (feet[:, 1].min() - (size_px[1] - 1) / 2) / (np.exp(log_focal) * max(size_px))
    return float(np.radians(MIN_FEET_DIP_DEG) - np.arctan(highest))
