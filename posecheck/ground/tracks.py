"""Where on the ground a player is, frame by frame, from landmarks in the picture.

The problem: a phone at head height looks along the ground, so a pixel is a centimetre across
the view but a decimetre along it. Three things are read of the middle of the hips:

- its **bearing** from the camera, very well, from the hips themselves;
- its **range** from the feet, whose lines of sight meet the ground near there, without drift;
- its **relative range** from how large the body looks, frame by frame, with a scale that is
  unknown but the same all through the clip; the feet determine that scale.

A Kalman filter over place, speed and acceleration combines them, each with its own error ellipse,
and a Rauch-Tung-Striebel smoother runs over the film from both ends, so that nothing lags.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.body.foot_sight import FootSight
from posecheck.camera.motion import CameraMotion
from posecheck.ground.ground import Ground
from posecheck.ground.readings import Readings, Sight, bearings, ranges, sizes
from posecheck.ground.tuning import (
    ACCELERATION_LASTS_S,
    ACCELERATION_SD_MPS2,
    BUILD_SD,
    LASTING_SD_M,
    MAX_BEARING_GAP_S,
    NEAREST_M,
    PASSES,
    POSTURE_LASTS_S,
    POSTURE_SD,
    START_SD,
    TAIL_SDS,
)
from posecheck.maths.arrays import BoolArray, FloatArray, check_shapes
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
    for _ in range(PASSES):
        readings = [bearings(sight, reach), ranges(sight, fit.speed_mps if fit else None)]
        if not all(len(kind.frame) for kind in readings):
            break
        if fit is not None:
            readings.append(sizes(sight, reach))
        fit = _smoothed(t_s, start[0], readings, fit)
        reach = np.where(seen, np.maximum(sight.reach(fit.xy_m), NEAREST_M), np.nan)
    if fit is None:
        nothing = np.full((n, 2), np.nan)
        return GroundTrack(t_s, nothing, nothing, nothing[:, 0], nothing[:, 0])
    return _track(t_s, fit, seen, ground)


def _smoothed(
    t_s: FloatArray, start_xy_m: FloatArray, readings: list[Readings], before: _Fit | None
) -> _Fit:
    """Filter and smooth all readings; those far from the last fit have little weight."""
    from filterpy.kalman import KalmanFilter

    n = len(t_s)
    frame = np.concatenate([r.frame for r in readings])
    value = np.concatenate([r.value_m for r in readings])
    sd = np.concatenate([r.sd_m for r in readings])
    row = np.zeros((len(frame), 8))
    row[:, [0, 3]] = np.concatenate([r.direction for r in readings])
    row[:, [6, 7]] = np.concatenate([r.lever_m for r in readings])[:, None]

    if before is not None:
        off = value - np.einsum("ms,ms->m", row, before.state[frame])
        sd = sd * np.sqrt(1 + (off / (TAIL_SDS * sd)) ** 2)

    transition, noise = _process(t_s)
    kalman = KalmanFilter(dim_x=8, dim_z=1)
    kalman.x = np.zeros((8, 1))
    kalman.x[[0, 3], 0] = start_xy_m
    along = [START_SD**2, START_SD**2, ACCELERATION_SD_MPS2**2]
    kalman.P = np.diag([*along, *along, POSTURE_SD**2, BUILD_SD**2])
    states, covariances = np.empty((n, 8, 1)), np.empty((n, 8, 8))
    by_frame = [np.flatnonzero(frame == i) for i in range(n)]
    for i in range(n):
        kalman.predict(F=transition[i], Q=noise[i])
        for k in by_frame[i]:
            kalman.update(value[k : k + 1, None], R=np.array([[sd[k] ** 2]]), H=row[k : k + 1])
        states[i], covariances[i] = kalman.x, kalman.P
    state, covariance, _, _ = kalman.rts_smoother(states, covariances, Fs=transition, Qs=noise)
    return _Fit(state[..., 0], covariance)


def _process(t_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Transitions ``(n, 8, 8)`` into each frame, and their noise.

    Acceleration and posture both decay to zero with a time constant of their own, while noise
    renews them: Singer, Estimating optimal tracking filter performance for manned maneuvering
    targets, IEEE Trans. Aerospace and Electronic Systems 6(4), 1970.
    """
    from filterpy.common import van_loan_discretization

    moves = np.array([[0, 1, 0], [0, 0, 1], [0, 0, -1 / ACCELERATION_LASTS_S]])
    rate = np.zeros((8, 8))
    rate[:3, :3] = rate[3:6, 3:6] = moves
    rate[6, 6] = -1 / POSTURE_LASTS_S
    drive = np.zeros((8, 8))
    drive[2, 2] = drive[5, 5] = ACCELERATION_SD_MPS2 * np.sqrt(2 / ACCELERATION_LASTS_S)
    drive[6, 6] = POSTURE_SD * np.sqrt(2 / POSTURE_LASTS_S)
    steps = np.diff(t_s, prepend=t_s[0])
    pairs = {h: van_loan_discretization(rate, drive, h) for h in set(steps.tolist())}
    return (
        np.stack([pairs[h][0] for h in steps.tolist()]),
        np.stack([pairs[h][1] for h in steps.tolist()]),
    )


def _track(
    t_s: FloatArray,
    fit: _Fit,
    seen: BoolArray,
    ground: Ground,
) -> GroundTrack:
    xy, velocity = fit.xy_m, fit.velocity_mps
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
