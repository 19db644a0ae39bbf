"""The ground from the players themselves, when no field point is known.

People of known or typical height stand on a plane at several ranges. How tall each looks, and
how far below the horizon his feet are, gives the camera's height and tilt; the height of the
people gives the scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from posecheck.body.foot_sight import FootSight
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.ground.ground import Ground
from posecheck.ground.scale import length_sd
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON

STATURE_CM: dict[Literal["male", "female"], dict[int, tuple[float, float]]] = {
    "male": {
        10: (138.8, 6.4),
        12: (149.1, 7.3),
        14: (163.8, 8.2),
        16: (173.5, 7.6),
        18: (176.2, 7.1),
        20: (176.8, 7.1),
    },
    "female": {
        10: (138.2, 6.6),
        12: (151.5, 7.1),
        14: (160.4, 6.6),
        16: (162.5, 6.5),
        18: (163.1, 6.5),
        20: (163.3, 6.5),
    },
}
"""Median and standard deviation of stature by age in years, from memory of the CDC growth charts
(Kuczmarski et al., 2000 CDC Growth Charts for the United States, Vital and Health Statistics
11(246), 2002, stature-for-age)."""

UNKNOWN_STATURE_M = (1.72, 0.09)
"""Mean and standard deviation when neither age nor sex is known: spans the table from 14 years
up, both sexes."""

LOOKS_TALL = 0.865
"""Share of stature that the way from ankle over knee, hip and shoulder to the ear looks long. By
Drillis and Contini (1966, as given in Winter, Biomechanics and Motor Control of Human Movement,
from memory) the ankle is at 0.039 and the eyes at 0.936 of stature, so 0.897 apart; the landmarks
of bodies of known stature make it less, 0.83 in the middle and 0.88 for one in ten."""

HFOV_DEG, HFOV_SD_DEG = 65.0, 8.0
"""Across the longer side: main cameras of phones, at one moment of the clip, any, if they zoom."""

TILT_DEG, TILT_SD_DEG = 8.0, 8.0
"""Downwards; a phone on a tripod or in the hand that films a field."""

ROLL_SD_DEG = 1.5
"""People notice a horizon more crooked than this."""

HEIGHT_M, HEIGHT_SD_LOG = 2.2, 0.5
"""Camera above the ground; 1 to 6 m within two standard deviations."""

LOOKS_SD = 0.06
"""How tall somebody looks, as a share: bent and turned limbs."""

SHORT_KNEE = 0.05
"""Looking shorter than one is, is common (limbs turned to the camera); looking taller is not."""

TOGETHER = 6.0
"""Neighbouring frames show the same posture: so many count as one reading."""

MIN_SCORE = 0.5

SOLE_M = 0.045
"""Height of heel and toe landmarks over the ground while a foot stands."""


@dataclass(frozen=True)
class Standing:
    """Somebody with a foot on the ground in one frame.

    Attributes:
        who: number of the person, to tell repeated views of one from views of several.
        feet_px: where the ground is touched.
        head_px: where the top of the head is, or would be if he stood up straight.
        stature_m, stature_sd_m: his height, stated or typical.
        sight_m: how high over the ground the line of sight to the feet passes where he stands.
    """

    who: int
    feet_px: tuple[float, float]
    head_px: tuple[float, float]
    stature_m: float = UNKNOWN_STATURE_M[0]
    stature_sd_m: float = UNKNOWN_STATURE_M[1]
    sight_m: float = 0.0


def typical_stature(age: float, sex: Literal["male", "female"]) -> tuple[float, float]:
    """Median and standard deviation of stature, metres, between the table's ages by line.

    Args:
        age: years; those younger or older than the table get its first or last row.
        sex: which half of the table.
    """
    ages = list(STATURE_CM[sex])
    middle, sd = np.array(list(STATURE_CM[sex].values())).T / 100
    return float(np.interp(age, ages, middle)), float(np.interp(age, ages, sd))


def standing_players(
    who: int,
    steady_px: FloatArray,
    world_m: FloatArray,
    score: FloatArray,
    stature_m: float = UNKNOWN_STATURE_M[0],
    stature_sd_m: float = UNKNOWN_STATURE_M[1],
    feet: FootSight | None = None,
) -> list[Standing]:
    """Read from one player's landmarks how tall he would stand, frame by frame.

    Running and crouched players count too: their height is put together from ankle to knee to
    hip to shoulder to ear, along the straighter-looking leg. Bending in the picture's plane does
    not shorten that; how much bending towards the camera does, the landmarks in metres tell.

    Args:
        who: number of the player.
        steady_px: ``(n, 33, 2)`` landmarks in pixels of the clip's reference frame.
        world_m: ``(n, 33, 3)`` the same in metres, on the camera's axes; only their proportions
            count.
        score: ``(n, 33)``.
        stature_m, stature_sd_m: his height.
        feet: how high the lines of sight to his feet pass where he is; None takes the nearer foot
            to stand right below him.
    """
    seen = np.where((np.nan_to_num(score) >= MIN_SCORE)[..., None], steady_px, np.nan)
    length_px = _ankle_to_ear(seen)
    across_view = _ankle_to_ear(world_m[..., :2]) / _ankle_to_ear(world_m)
    straighter = (length_px[1] > length_px[0]).astype(int)
    frame = np.arange(len(seen))
    tall = length_px[straighter, frame] / across_view[straighter, frame] / LOOKS_TALL
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
    """``(2 legs, n)`` lengths of the way from ankle to ear over knee, hip and shoulder."""
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


def usual_focal_px(size_px: tuple[int, int]) -> float:
    """Focal length of a phone's usual field of view."""
    return float(np.exp(_log_focal(HFOV_DEG)) * max(size_px))


def zoom_range(motion: CameraMotion, size_px: tuple[int, int]) -> tuple[float, float]:
    """How far out and in the clip is zoomed, over the focal length of its reference frame.

    Read from the background's homographies as by a camera of the usual field of view, which is
    near enough for a zoom whatever the true one. One frame in twenty is left out at either end,
    as some are followed badly.
    """
    usual = _camera(np.array([_log_focal(HFOV_DEG), 0.0, 0.0, 0.0]), size_px)
    zooms = [
        usual.turned(back).focal_px / usual.focal_px for back in motion.to_reference[motion.tracked]
    ]
    if not zooms:
        return 1.0, 1.0
    out, close = np.quantile(zooms, [0.05, 0.95])
    return float(out), float(close)


def ground_from_players(
    standing: Sequence[Standing],
    size_px: tuple[int, int],
    zoomed: tuple[float, float] = (1.0, 1.0),
) -> Ground | None:
    """Find the camera's height, tilt and scale from people on the ground.

    Robust least squares with mild beliefs about phones: field of view, tilt, hardly any roll,
    height. Origin below the camera, x to its right, y away from it.

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
    sd_px = np.hypot(0.0015 * max(size_px), LOOKS_SD * tall_px) * np.sqrt(TOGETHER)
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
        off = np.where(np.isfinite(looks), (looks - tall_px) / sd_px, 10.0)
        return np.asarray(off)

    # The moment of the usual field of view lies evenly between the ends of the zoom.
    log_zoom = np.mean(np.log(zoomed))
    log_zoom_sd = np.ptp(np.log(zoomed)) / np.sqrt(12)
    focal_sd = HFOV_SD_DEG / np.degrees(np.sin(np.radians(HFOV_DEG)))  # of its logarithm
    hfov_sd = HFOV_SD_DEG * np.hypot(1.0, log_zoom_sd / focal_sd)

    def beliefs(parameters: FloatArray) -> FloatArray:
        hfov = 2 * np.degrees(np.arctan(0.5 / np.exp(parameters[0] + log_zoom)))
        tilt, roll = np.degrees(parameters[1:3])
        return np.array(
            [
                (hfov - HFOV_DEG) / hfov_sd,
                (tilt - TILT_DEG) / TILT_SD_DEG,
                roll / ROLL_SD_DEG,
                (parameters[3] - np.log(HEIGHT_M)) / HEIGHT_SD_LOG,
                *(parameters[4:] / (stature_sd[first] / stature[first])),
            ]
        )

    def soft(parameters: FloatArray) -> FloatArray:
        """Misses with far ones pressed down (soft L1), beliefs as they are."""
        off = misses(parameters)
        knee = np.where(off > 0, SHORT_KNEE, 1.0)
        pressed = np.sign(off) * knee * np.sqrt(2 * (np.sqrt(1 + (off / knee) ** 2) - 1))
        return np.concatenate([pressed, beliefs(parameters)])

    start = np.concatenate(
        [
            [_log_focal(HFOV_DEG) - log_zoom],
            [np.radians(TILT_DEG), 0.0, np.log(HEIGHT_M)],
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
    """Geometry: log focal length over the longer side, tilt down, roll, log height."""
    focal = np.exp(geometry[0]) * max(size_px)
    matrix = np.array(
        [[focal, 0, (size_px[0] - 1) / 2], [0, focal, (size_px[1] - 1) / 2], [0, 0, 1]]
    )
    # Ground axes (right, away, up) to a level camera's (right, down, away), then tilt and roll.
    level = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    turn = Rotation.from_euler("xz", [geometry[1], geometry[2]]).as_matrix()
    return Camera(matrix, turn @ level, np.array([0, 0, np.exp(geometry[3])]))


def _log_focal(hfov_deg: float) -> float:
    """Over the longer side."""
    return float(-np.log(2 * np.tan(np.radians(hfov_deg / 2))))


def _level_tilt(feet: FloatArray, log_focal: float, size_px: tuple[int, int]) -> float:
    """The least tilt that puts all feet at least three degrees below the horizon."""
    highest = (feet[:, 1].min() - (size_px[1] - 1) / 2) / (np.exp(log_focal) * max(size_px))
    return float(np.radians(3) - np.arctan(highest))
