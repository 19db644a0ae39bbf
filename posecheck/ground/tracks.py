"""Where on the ground a player is, frame by frame, from landmarks in the picture.

The problem: a phone at head height looks along the ground, so a pixel is a centimetre across
the view but a decimetre along it. Three things are read of the middle of the hips:

- its **bearing** from the camera, very well, from the hips themselves;
- its **range** from the feet, whose lines of sight meet the ground near there, without drift;
- its **relative range** from how large the body looks, frame by frame, with a scale that is
  unknown but the same all through the clip; the feet determine that scale.

A Kalman filter over place, speed and acceleration combines them, each with its own error ellipse,
and a Rauch-Tung-Striebel smoother runs over the film from both ends, so that nothing lags. Who runs
changes his speed more than his way, so the bearing, which is known well, shows how the range
changes too where he runs at an angle.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from posecheck.body.foot_sight import FootSight
from posecheck.camera.motion import CameraMotion
from posecheck.ground.ground import Ground
from posecheck.ground.readings import Readings, Sight, bearings, ranges, sizes
from posecheck.ground.tuning import (
    ACCELERATION_LASTS_S,
    ACCELERATION_SD_MPS2,
    ALONG_SD_MPS2,
    ASIDE_SD_MPS2,
    BUILD_SD,
    FREELY_MPS,
    LASTING_SD_M,
    MAX_BEARING_GAP_S,
    NEAREST_M,
    PASSES,
    POSTURE_LASTS_S,
    POSTURE_SD,
    START_SD,
    TAIL_SDS,
)
from posecheck.maths.arrays import BoolArray, FloatArray, IntArray, check_shapes
from posecheck.maths.timeline import seen_or_bridged
from posecheck.maths.vectors import unit


@dataclass(frozen=True)
class GroundTrack:
    """The middle of a player's hips, seen from above.

    Attributes:
        t_s: ``(n,)`` seconds.
        xy_m: ``(n, 2)`` on the ground's axes; NaN where the player was out of sight for too long.
        velocity_mps: ``(n, 2)``.
        sd_m: ``(n,)`` standard deviation of the place in its least certain direction.
        speed_sd_mps: ``(n,)`` standard deviation of the speed, the ground's scale included.
    """

    t_s: FloatArray
    xy_m: FloatArray
    velocity_mps: FloatArray
    sd_m: FloatArray
    speed_sd_mps: FloatArray

    def __post_init__(self) -> None:
        n = "n"
        check_shapes(self, t_s=(n,), xy_m=(n, 2), velocity_mps=(n, 2), sd_m=(n,), speed_sd_mps=(n,))

    @property
    def speed_mps(self) -> FloatArray:
        """``(n,)`` speed over the ground."""
        return np.asarray(np.linalg.norm(self.velocity_mps, axis=1))


@dataclass(frozen=True)
class _Fit:
    """Smoothed states (x, vx, ax, y, vy, ay, posture, build) and covariances.

    Posture and build are how much larger the body looks than it should, as shares: for a while, and
    all through the clip.
    """

    state: FloatArray  # (n, 8)
    covariance: FloatArray  # (n, 8, 8)

    @property
    def xy_m(self) -> FloatArray:
        return self.state[:, [0, 3]]

    @property
    def velocity_mps(self) -> FloatArray:
        return self.state[:, [1, 4]]

    @property
    def speed_mps(self) -> FloatArray:
        return np.asarray(np.linalg.norm(self.velocity_mps, axis=1))


def track_on_ground(
    t_s: FloatArray,
    xy_px: FloatArray,
    score: FloatArray,
    camera_motion: CameraMotion,
    ground: Ground,
    feet: FootSight,
    facing: FloatArray | None = None,
) -> GroundTrack:
    """Follow the middle of a player's hips over the ground.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        xy_px: ``(n, 33, 2)`` landmarks, NaN where not seen.
        score: ``(n, 33)`` 0 to 1, NaN where not seen.
        camera_motion: of the clip, for the same frames.
        ground: for the clip's reference frame.
        feet: how high over the ground the lines of sight to his feet pass below the hips.
        facing: ``(n, 2)`` unit vectors in the direction he faces: to the right across the view, and
            away from the camera. Where it is not known the hips are assumed to be where their
            landmarks are.

    Returns:
        The track; all NaN when the player is never seen on the ground.
    """
    n = len(t_s)
    score = np.where(camera_motion.tracked[:, None], score, np.nan)
    sight = Sight.of(t_s, ground.camera, camera_motion.steadied(xy_px), score, feet, facing)
    seen = np.isfinite(sight.level)
    reach, _ = sight.by_feet()
    places = ground.camera.centre_m[:2] + reach[:, None] * sight.out
    start = places[np.isfinite(places[:, 0])][:1]
    fit: _Fit | None = None
    before: _Fit | None = None
    for _ in range(PASSES):
        readings = [bearings(sight, reach), ranges(sight, fit.speed_mps if fit else None)]
        if not all(len(kind.frame) for kind in readings):
            break
        if fit is not None:
            readings.append(sizes(sight, reach))
        before = fit
        rows = _rows(readings, before)
        fit = _fit(t_s, start[0], rows, before)
        reach = np.where(seen, np.maximum(sight.reach(fit.xy_m), NEAREST_M), np.nan)
    if fit is None:
        nothing = np.full((n, 2), np.nan)
        return GroundTrack(t_s, nothing, nothing, nothing[:, 0], nothing[:, 0])
    # Smoothing levels the peak of a speed, the more the vaguer the readings are. What they still
    # say against the fit, smoothed alike, gives half of it back (Tukey's twicing).
    left = replace(rows, value_m=rows.left_by(fit.state))
    more = _fit(t_s, np.zeros(2), left, before)
    return _track(t_s, fit, fit.velocity_mps + more.velocity_mps, seen, ground)


@dataclass(frozen=True)
class _Rows:
    """All readings ``row . state = value_m``, one row each.

    Attributes:
        frame: ``(m,)`` frame numbers.
        row: ``(m, 8)``.
        value_m, sd_m: ``(m,)``.
    """

    frame: IntArray
    row: FloatArray
    value_m: FloatArray
    sd_m: FloatArray

    def left_by(self, state: FloatArray) -> FloatArray:
        """``(m,)`` what states ``(n, 8)`` leave unexplained."""
        return np.asarray(self.value_m - np.einsum("ms,ms->m", self.row, state[self.frame]))


def _rows(readings: list[Readings], before: _Fit | None) -> _Rows:
    """All readings; those far from the last fit have little weight."""
    frame = np.concatenate([r.frame for r in readings])
    row = np.zeros((len(frame), 8))
    row[:, [0, 3]] = np.concatenate([r.direction for r in readings])
    row[:, [6, 7]] = np.concatenate([r.lever_m for r in readings])[:, None]
    value, sd = (
        np.concatenate([getattr(r, each) for r in readings]) for each in ("value_m", "sd_m")
    )
    rows = _Rows(frame, row, value, sd)
    if before is None:
        return rows
    return replace(rows, sd_m=sd * np.sqrt(1 + (rows.left_by(before.state) / (TAIL_SDS * sd)) ** 2))


def _fit(t_s: FloatArray, start_xy_m: FloatArray, rows: _Rows, before: _Fit | None) -> _Fit:
    """Filter and smooth, from rest at a first place ``(2,)``."""
    from filterpy.kalman import KalmanFilter

    n = len(t_s)
    transition, noise = _process(t_s, before)
    kalman = KalmanFilter(dim_x=8, dim_z=1)
    kalman.x = np.zeros((8, 1))
    kalman.x[[0, 3], 0] = start_xy_m
    along = [START_SD**2, START_SD**2, ACCELERATION_SD_MPS2**2]
    kalman.P = np.diag([*along, *along, POSTURE_SD**2, BUILD_SD**2])
    states, covariances = np.empty((n, 8, 1)), np.empty((n, 8, 8))
    by_frame = [np.flatnonzero(rows.frame == i) for i in range(n)]
    for i in range(n):
        kalman.predict(F=transition[i], Q=noise[i])
        for k in by_frame[i]:
            one = slice(k, k + 1)
            kalman.update(
                rows.value_m[one, None], R=np.array([[rows.sd_m[k] ** 2]]), H=rows.row[one]
            )
        states[i], covariances[i] = kalman.x, kalman.P
    state, covariance, _, _ = kalman.rts_smoother(states, covariances, Fs=transition, Qs=noise)
    return _Fit(state[..., 0], covariance)


def _process(t_s: FloatArray, before: _Fit | None) -> tuple[FloatArray, FloatArray]:
    """Transitions ``(n, 8, 8)`` into each frame, and their noise.

    Acceleration and posture both decay to zero with a time constant of their own, while noise
    renews them: Singer, Estimating optimal tracking filter performance for manned maneuvering
    targets, IEEE Trans. Aerospace and Electronic Systems 6(4), 1970. Who runs speeds up and brakes
    harder than he swerves; which way he ran is known from the last fit.
    """
    from filterpy.common import van_loan_discretization

    moves = np.array([[0, 1, 0], [0, 0, 1], [0, 0, -1 / ACCELERATION_LASTS_S]])
    rate = np.zeros((5, 5))
    rate[:3, :3] = moves
    rate[3, 3] = -1 / POSTURE_LASTS_S
    drive = np.zeros((5, 5))
    drive[2, 2] = np.sqrt(2 / ACCELERATION_LASTS_S)
    drive[3, 3] = POSTURE_SD * np.sqrt(2 / POSTURE_LASTS_S)
    steps = np.diff(t_s, prepend=t_s[0])
    pairs = {h: van_loan_discretization(rate, drive, h) for h in set(steps.tolist())}
    one, two = (np.stack([pairs[h][part] for h in steps.tolist()]) for part in (0, 1))
    transition, noise = np.zeros((2, len(t_s), 8, 8))
    transition[:, :3, :3] = transition[:, 3:6, 3:6] = one[:, :3, :3]
    transition[:, 6:, 6:], noise[:, 6:, 6:] = one[:, 3:, 3:], two[:, 3:, 3:]
    ways = _acceleration_variance(len(t_s), before)
    noise[:, :6, :6] = np.einsum("nij,nkl->nikjl", ways, two[:, :3, :3]).reshape(-1, 6, 6)
    return transition, noise


def _acceleration_variance(n: int, before: _Fit | None) -> FloatArray:
    """``(n, 2, 2)`` covariance of the acceleration, the same every way while nothing is known."""
    every_way = np.broadcast_to(ACCELERATION_SD_MPS2**2 * np.eye(2), (n, 2, 2))
    if before is None:
        return every_way
    speed = before.speed_mps[:, None, None]
    run = speed**2 / (speed**2 + FREELY_MPS**2)
    way = unit(np.where(speed[:, 0] > 0, before.velocity_mps, (1.0, 0.0)))
    along = np.einsum("ni,nj->nij", way, way)
    running = ALONG_SD_MPS2**2 * along + ASIDE_SD_MPS2**2 * (np.eye(2) - along)
    return np.asarray(run * running + (1 - run) * every_way)


def _track(
    t_s: FloatArray,
    fit: _Fit,
    velocity: FloatArray,
    seen: BoolArray,
    ground: Ground,
) -> GroundTrack:
    xy = fit.xy_m
    place = fit.covariance[:, [[0], [3]], [0, 3]]
    motion = fit.covariance[:, [[1], [4]], [1, 4]]
    speed = np.linalg.norm(velocity, axis=1)
    moving = np.where((speed > 0)[:, None], velocity, (1.0, 0.0))
    along = unit(moving)
    scale_sd = ground.relative_sd(xy, along)
    speed_var = np.einsum("ni,nij,nj->n", along, motion, along) + (scale_sd * speed) ** 2
    lost = ~seen_or_bridged(t_s, seen, MAX_BEARING_GAP_S)
    sd = np.sqrt(np.linalg.eigvalsh(place)[:, -1] + LASTING_SD_M**2)
    return GroundTrack(
        t_s,
        np.where(lost[:, None], np.nan, xy),
        np.where(lost[:, None], np.nan, velocity),
        np.where(lost, np.nan, sd),
        np.where(lost, np.nan, np.sqrt(speed_var)),
    )
