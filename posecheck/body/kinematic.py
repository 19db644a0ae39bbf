"""A player's stance by a kinematic fit over the clip: a reading that has learned nothing.

Bones keep their length, knees bend one way, feet stand on the ground. From that alone, and from
where the landmarks lie in the picture, a body in metres follows. Of the pose model's own depth
little more than the sign is used. So the errors are others than those of a net that learned poses
(:mod:`posecheck.body.stance_net`), and the two can be weighed against each other.

A straight leg is 0: hip, knee and ankle are not quite in line then, which is taken off. Seen from
the front a nearly straight leg looks hardly shorter than a straight one, and the fit knows least.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from posecheck.body import stance
from posecheck.body.kinematic_body import LANDMARKS, POINTS, SIDES, link
from posecheck.body.kinematic_fit import Film, Fit, solve, start
from posecheck.body.tuning import (
    FIT_DRAWS,
    FIT_SPACING_S,
    LEAST_FIT_FRAMES,
    PLANTED_GROUND_SD_M,
    STRAIGHT_LEG_DEG,
    WINDOW_S,
)
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray, IntArray
from posecheck.maths.timeline import in_window
from posecheck.maths.vectors import unit
from posecheck.pose.track import PoseTrack

_UP = np.array([0.0, 0.0, 1.0])
"""Upwards on the ground's axes.

Source: definition
"""

_HIPS = np.isin(POINTS, ("left_hip", "right_hip"))

Measure = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class KinematicStance:
    """A player's stance in each frame, by the fit; NaN where it was not made.

    Attributes:
        t_s: ``(n,)`` seconds.
        left_knee_deg, right_knee_deg: ``(n,)`` flexion of each knee, 0 for a straight leg.
        knee_bend_deg: ``(n,)`` flexion of the straighter leg.
        trunk_lean_deg: ``(n,)`` angle of the line from mid-hip to mid-shoulder to the vertical.
        hand_reach: ``(n,)`` horizontal distance of the wrists ahead of mid-shoulder, in arms.
        hand_height: ``(n,)`` height of the wrists, 0 at mid-hip and 1 at mid-shoulder.
        base_width: ``(n,)`` distance between the ankles over the ground, in pelvis widths.
        sd: by measure ``(n,)`` standard deviation, from how far the fit may depart from its best
            and from other fits that explain the film about as well.
        misfit: root mean square distance of points from their landmarks, as a share of the player's
            height in the picture; NaN when nothing was fitted.
        body_m: ``(n, n_points, 3)`` the body on the ground's axes, its points those of
            :data:`posecheck.body.kinematic_body.POINTS`.
    """

    t_s: FloatArray
    left_knee_deg: FloatArray
    right_knee_deg: FloatArray
    knee_bend_deg: FloatArray
    trunk_lean_deg: FloatArray
    hand_reach: FloatArray
    hand_height: FloatArray
    base_width: FloatArray
    sd: dict[str, FloatArray]
    misfit: float
    body_m: FloatArray


def kinematic_stance(
    pose: PoseTrack,
    camera: Camera,
    motion: CameraMotion,
    place: tuple[FloatArray, FloatArray] | None = None,
    around_s: float | None = None,
    ground_sd_m: float = PLANTED_GROUND_SD_M,
) -> KinematicStance:
    """Fit a body to a player's landmarks and read his stance from it.

    Args:
        pose: ``n`` frames of landmarks.
        camera: of the clip's reference frame. Its focal length may be off by a fifth.
        motion: the camera's motion over the same frames.
        place: ``(n, 2)`` where his hips are on the ground, metres, and ``(n,)`` the standard
            deviation; None where that is not known.
        around_s: fit a second before and after this moment; by default the whole clip.
        ground_sd_m: standard deviation of the height of what he stands on, over the camera's
            ground; large where the camera's height is not known.
    """
    t_s, n = pose.t_s, len(pose.t_s)
    frames = _frames(pose, motion, around_s)
    if len(frames) < LEAST_FIT_FRAMES:
        nothing = np.full(n, np.nan)
        return KinematicStance(
            t_s, **dict.fromkeys(MEASURES, nothing), sd=dict.fromkeys(MEASURES, nothing),
            misfit=np.nan, body_m=np.full((n, len(POINTS), 3), np.nan),
        )  # fmt: skip
    film = _film(pose, camera, motion, place, frames, ground_sd_m)
    best, bodies = _fits(film)
    seen = np.isfinite(pose.xy_px).all(axis=(1, 2))
    inside = np.flatnonzero(seen & in_window(t_s, t_s[frames[0]], t_s[frames[-1]]))

    def filled(values: FloatArray) -> FloatArray:
        out = np.full((n, *values.shape[1:]), np.nan)
        flat = values.reshape(len(frames), -1).T
        each = [np.interp(t_s[inside], t_s[frames], column) for column in flat]
        out[inside] = np.stack(each, axis=1).reshape(len(inside), *values.shape[1:])
        return out

    values = {key: measure(best.xyz_m) for key, measure in MEASURES.items()}
    sd = {
        key: np.sqrt(np.mean((measure(bodies) - values[key]) ** 2, axis=0))
        for key, measure in MEASURES.items()
    }
    return KinematicStance(
        t_s,
        **{key: filled(value) for key, value in values.items()},
        sd={key: filled(value) for key, value in sd.items()},
        misfit=_misfit(film, best),
        body_m=filled(best.xyz_m),
    )


def _frames(pose: PoseTrack, motion: CameraMotion, around_s: float | None) -> IntArray:
    """Numbers of the frames to fit: those seen, no closer in time than need be."""
    seen = np.isfinite(pose.xy_px).all(axis=(1, 2)) & np.isfinite(pose.world_m).all(axis=(1, 2))
    seen &= motion.tracked
    if around_s is not None:
        seen &= in_window(pose.t_s, around_s - WINDOW_S, around_s + WINDOW_S)
    frames = np.flatnonzero(seen)
    if len(frames) < LEAST_FIT_FRAMES:
        return frames.astype(np.int64)
    # Of quick film not every frame is read: what counts is how close those are that were.
    step_s = float(np.median(np.diff(pose.t_s[frames])))
    # At 30 a second they are one and a half steps apart: which way that is rounded must not hang on
    # the last bit of the times.
    every = max(int(np.floor(FIT_SPACING_S / step_s + 0.5 + 1e-3)), 1)
    return np.union1d(frames[::every], frames[-1:]).astype(np.int64)


def _film(
    pose: PoseTrack,
    camera: Camera,
    motion: CameraMotion,
    place: tuple[FloatArray, FloatArray] | None,
    frames: IntArray,
    ground_sd_m: float,
) -> Film:
    n = len(frames)
    projection, model_m = np.empty((n, 3, 4)), np.empty((n, len(POINTS), 3))
    for k, i in enumerate(frames):
        now = camera.turned(motion.to_reference[i])
        turn = now.matrix @ now.rotation
        projection[k] = np.column_stack([turn, -turn @ now.centre_m])
        ray = unit(now.rays(pose.xy_px[i, LANDMARKS[_HIPS]]).mean(axis=0))
        to_ground = now.rotation.T @ stance.turned_by_ray(now.rotation @ ray)
        model_m[k] = pose.world_m[i, LANDMARKS] @ to_ground.T
    height_px = np.ptp(pose.xy_px[frames, :, 1], axis=1)
    steady_px = motion.steadied(pose.xy_px)[frames][:, LANDMARKS]
    pace = np.linalg.norm(np.gradient(steady_px, pose.t_s[frames], axis=0), axis=2)
    xy_m, sd_m = place or (np.zeros((len(pose.t_s), 2)), np.full(len(pose.t_s), np.inf))
    place_m, place_sd_m = xy_m[frames], sd_m[frames]
    known = np.isfinite(place_m).all(axis=1) & np.isfinite(place_sd_m)
    return Film(
        t_s=pose.t_s[frames],
        xy_px=pose.xy_px[frames][:, LANDMARKS],
        score=np.nan_to_num(pose.score[frames][:, LANDMARKS]),
        height_px=height_px,
        projection=projection,
        model_m=model_m,
        speed=pace / np.median(height_px),
        place_m=np.where(known[:, None], place_m, 0.0),
        place_sd_m=np.where(known, place_sd_m, np.inf),
        ground_sd_m=ground_sd_m,
    )


def _fits(film: Film) -> tuple[Fit, FloatArray]:
    """The best fit, and bodies ``(n_draws, n, n_points, 3)`` that explain the film about as well.

    One picture leaves open whether a limb slopes towards the camera or away from it. So each leg
    and the trunk are turned over as well; what then fits better is kept, and what fits hardly worse
    widens the interval.
    """
    first, normal = solve(film, start(film))
    found = [(first, normal)]
    for part, at in _TURNED_OVER:
        found.append(solve(film, _turned_over(film, first, part, at)))
    costs = np.array([fit.cost for fit, _ in found])
    weights = np.exp(-(costs - costs.min()) / 2)
    counts = np.round(FIT_DRAWS * weights / weights.sum()).astype(int)
    rng = np.random.default_rng(0)
    bodies = [
        fit.xyz_m + around.draws(count, rng).reshape(-1, *fit.xyz_m.shape)
        for (fit, around), count in zip(found, counts, strict=True)
        if count
    ]
    return found[int(costs.argmin())][0], np.concatenate(bodies)


_FOOT, _UPPER_BODY = ("ankle", "heel", "foot_index"), ("shoulder", "elbow", "wrist")
_TURNED_OVER = (
    *((tuple(f"{side}_{part}" for part in _FOOT), f"{side}_knee") for side in SIDES),
    (tuple(f"{side}_{part}" for part in _UPPER_BODY for side in SIDES), "hip"),
)
"""Points that move in depth together, and what they hang from."""


def _turned_over(film: Film, fit: Fit, moved: tuple[str, ...], at: str) -> Fit:
    """The same picture with a limb that slopes the other way."""
    joint = moved[0] if at in POINTS else "shoulder"
    depth = np.sum(film.sight * np.einsum("npi,p->ni", fit.xyz_m, link(joint, at)), axis=1)
    xyz_m = fit.xyz_m.copy()
    for name in moved:
        xyz_m[:, POINTS.index(name)] -= 2 * depth[:, None] * film.sight
    return replace(fit, xyz_m=xyz_m)


def _misfit(film: Film, fit: Fit) -> float:
    seen = np.einsum("nij,npj->npi", film.projection[:, :, :3], fit.xyz_m)
    seen += film.projection[:, None, :, 3]
    off = np.linalg.norm(seen[..., :2] / seen[..., 2:] - film.xy_px, axis=2)
    return float(np.sqrt(np.mean((off / film.height_px[:, None]) ** 2)))


# -- measures of a body (..., n_points, 3) ---------------------------------------------------------


def _both(body: FloatArray, part: str) -> FloatArray:
    return np.asarray(body[..., [POINTS.index(f"{side}_{part}") for side in SIDES], :])


def _at(body: FloatArray, name: str) -> FloatArray:
    if name in POINTS:
        return np.asarray(body[..., POINTS.index(name), :])
    return np.asarray(_both(body, name).mean(axis=-2))


def _knee(body: FloatArray, side: str) -> FloatArray:
    joints = (_at(body, f"{side}_{part}") for part in ("hip", "knee", "ankle"))
    return np.maximum(np.degrees(stance.knee_flexion(*joints)) - STRAIGHT_LEG_DEG, 0.0)


def _knee_bend(body: FloatArray) -> FloatArray:
    return stance.straighter_leg(_knee(body, "left"), _knee(body, "right"))


def _lean(body: FloatArray) -> FloatArray:
    return np.degrees(stance.trunk_lean(_at(body, "hip"), _at(body, "shoulder"), _UP))


def _reach(body: FloatArray) -> FloatArray:
    across = sum(_at(body, f"right_{p}") - _at(body, f"left_{p}") for p in ("hip", "shoulder"))
    facing = stance.forward(np.asarray(across), np.broadcast_to(_UP, np.shape(across)))
    elbows, ends = _both(body, "elbow"), (_both(body, "shoulder"), _both(body, "wrist"))
    arm = sum(np.linalg.norm(elbows - end, axis=-1).mean(axis=-1) for end in ends)
    return stance.hand_reach(_at(body, "wrist"), _at(body, "shoulder"), facing, np.asarray(arm))


def _height(body: FloatArray) -> FloatArray:
    hips = _at(body, "hip")
    return stance.height_above(_at(body, "wrist"), hips, _UP) / stance.height_above(
        _at(body, "shoulder"), hips, _UP
    )


def _base(body: FloatArray) -> FloatArray:
    step = (_at(body, "right_ankle") - _at(body, "left_ankle"))[..., :2]
    pelvis = _at(body, "right_hip") - _at(body, "left_hip")
    return np.asarray(np.linalg.norm(step, axis=-1) / np.linalg.norm(pelvis, axis=-1))


MEASURES: dict[str, Measure] = {
    "left_knee_deg": lambda body: _knee(body, "left"),
    "right_knee_deg": lambda body: _knee(body, "right"),
    "knee_bend_deg": _knee_bend,
    "trunk_lean_deg": _lean,
    "hand_reach": _reach,
    "hand_height": _height,
    "base_width": _base,
}
"""What is read from a body, each a field of :class:`KinematicStance`."""
