"""Where on the ground a player is, frame by frame, from landmarks in the picture.

The problem: a phone at head height looks along the ground, so a pixel is a centimetre across
the view but a decimetre along it. Three things are known of the middle of the hips:

- its **bearing** from the camera, very well, from the hips themselves;
- its **range** from the feet that stand on the ground, within a step's length, without drift;
- its **relative range** from how large the body looks, frame by frame, with a scale that is
  unknown but the same all through the clip; the feet fix that scale.

A Kalman filter over place, speed and acceleration weighs them, each with its own error ellipse,
and a Rauch-Tung-Striebel smoother looks at the film from both ends, so that nothing lags.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.ground.camera import Camera
from posecheck.ground.ground import Ground
from posecheck.keypoints.skeleton import SKELETON
from posecheck.players.track import CameraMotion

FloatArray = npt.NDArray[np.float64]

MIN_SCORE = 0.4
"""Landmarks less certain than this are not used."""

MAX_GAP_S = 0.3
"""Longer stretches without a bearing are not bridged."""

LANDMARK_SD = 0.012
"""Error of one landmark as a share of the player's height in the picture."""

SOLE_M = 0.025
"""Height of heel and toe landmarks above the ground while the foot stands, a shoe's sole."""

STEP_WINDOW_S = 0.05
"""Half the time over which a foot's speed is read; contact in a sprint lasts about 0.12 s."""

STILL_MPS = 1.5
"""A foot slower than this is taken to stand; while running the other one swings at twice the
runner's speed."""

ONE_FOOT_SD_M = 0.15
"""How far along the view the hips are from the one foot that stands, besides the step's sweep."""

BOTH_FEET_SD_M = 0.10
"""How far along the view the hips are from the middle of two standing feet."""

SWEEP_S = 0.06
"""Times speed: how far ahead of or behind the standing foot the hips may be."""

JERK_DENSITY = 120.0
"""m^2/s^5, how freely acceleration changes: by 8 m/s^2, hard braking, within half a second."""

GATE = 4.0
"""Readings further off than this many standard deviations are passed over."""

_SEGMENTS = tuple(
    (SKELETON.index(f"{side}_{upper}"), SKELETON.index(f"{side}_{lower}"))
    for side in ("left", "right")
    for upper, lower in (("shoulder", "hip"), ("hip", "knee"), ("knee", "ankle"))
)
_LARGEST = 3
"""Of the six segments, how many of the least foreshortened tell the size."""


@dataclass(frozen=True)
class GroundTrack:
    """A player's middle of the hips, seen from above.

    Attributes:
        t_s: ``(n,)`` seconds.
        xy_m: ``(n, 2)`` on the ground's axes; NaN where the player was out of sight too long.
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
        n = len(self.t_s)
        want = {"xy_m": (n, 2), "velocity_mps": (n, 2), "sd_m": (n,), "speed_sd_mps": (n,)}
        for name, shape in want.items():
            got = getattr(self, name).shape
            if got != shape:
                raise ValueError(f"{name}: want {shape}, got {got}")

    @property
    def speed_mps(self) -> FloatArray:
        """``(n,)`` speed over the ground."""
        return np.asarray(np.linalg.norm(self.velocity_mps, axis=1))


@dataclass(frozen=True)
class _Readings:
    """Readings of a place along unit directions: ``direction . xy = value``, one row each."""

    frame: npt.NDArray[np.intp]  # (m,)
    direction: FloatArray  # (m, 2)
    value: FloatArray  # (m,)
    sd: FloatArray  # (m,)


def track_on_ground(
    t_s: FloatArray,
    xy_px: FloatArray,
    score: FloatArray,
    camera_motion: CameraMotion,
    ground: Ground,
) -> GroundTrack:
    """Follow the middle of a player's hips over the ground.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        xy_px: ``(n, 33, 2)`` landmarks, NaN where not seen.
        score: ``(n, 33)`` 0 to 1, NaN where not seen.
        camera_motion: of the clip, for the same frames.
        ground: for the clip's reference frame.

    Returns:
        The track; all NaN when the player is never seen on the ground.
    """
    steady = camera_motion.steadied(xy_px)
    sure = (np.nan_to_num(score) >= MIN_SCORE) & camera_motion.tracked[:, None]
    steady = np.where(sure[..., None], steady, np.nan)
    camera = ground.camera

    hips = steady[:, SKELETON.indices("left_hip", "right_hip")].mean(axis=1)
    ray = camera.rays(hips)
    out = ray[:, :2] / np.linalg.norm(ray[:, :2], axis=1, keepdims=True)
    level = np.hypot(ray[:, 0], ray[:, 1])
    landmark_sd = LANDMARK_SD * _height_px(steady) / camera.focal_px  # (n,) radians
    feet = _Feet.read(t_s, steady, camera)

    reach = _first_reach(feet, camera, out)
    track = _empty(t_s)
    if not np.isfinite(reach).any():
        return track
    size = _log_size(camera, steady)
    fitted: tuple[FloatArray, FloatArray] | None = None
    for _ in range(3):
        bearing = _bearings(camera, out, reach, landmark_sd)
        standing = _ranges(feet, camera, out, reach, landmark_sd, _speed(fitted))
        readings = [bearing, standing]
        if fitted is not None:
            readings.append(_sizes(camera, out, level, size, reach))
        fitted = _smoothed(t_s, readings)
        reach = np.einsum("ni,ni->n", fitted[0][:, [0, 3]] - camera.centre_m[:2], out)
        reach = np.where(np.isnan(reach), np.nan, np.maximum(reach, 0.5))
    if fitted is None:
        raise AssertionError("not fitted")
    return _track(t_s, fitted, np.isfinite(out[:, 0]), ground)


@dataclass(frozen=True)
class _Feet:
    """Both feet as if on the ground: place and how fast it moves there."""

    xy_m: FloatArray  # (n, 2 feet, 2)
    speed_mps: FloatArray  # (n, 2 feet)

    @staticmethod
    def read(t_s: FloatArray, steady: FloatArray, camera: Camera) -> _Feet:
        parts = [
            SKELETON.indices(f"{side}_heel", f"{side}_foot_index") for side in ("left", "right")
        ]
        xy_m = camera.to_ground(steady[:, parts].mean(axis=2), SOLE_M)
        speed = np.full(xy_m.shape[:2], np.nan)
        for i, t in enumerate(t_s):
            near = np.abs(t_s - t) <= max(STEP_WINDOW_S, 1.1 * _spacing(t_s, i))
            for foot in (0, 1):
                there = near & np.isfinite(xy_m[:, foot, 0])
                if there.sum() >= 3:
                    at = t_s[there] - t_s[there].mean()
                    slope = at @ xy_m[there, foot] / (at @ at)
                    speed[i, foot] = np.hypot(*slope)
        return _Feet(xy_m, speed)


def _spacing(t_s: FloatArray, i: int) -> float:
    return float(max(np.diff(t_s[max(i - 1, 0) : i + 2])))


def _empty(t_s: FloatArray) -> GroundTrack:
    n = len(t_s)
    nan = np.full(n, np.nan)
    return GroundTrack(t_s, np.full((n, 2), np.nan), np.full((n, 2), np.nan), nan, nan)


def _height_px(steady: FloatArray) -> FloatArray:
    """``(n,)`` how tall the player looks: nearest frames' middle value of the landmarks' extent."""
    seen = np.isfinite(steady[..., 1]).any(axis=1)
    tall = np.full(len(steady), np.nan)
    tall[seen] = np.nanmax(steady[seen, :, 1], axis=1) - np.nanmin(steady[seen, :, 1], axis=1)
    middle = float(np.nanmedian(tall)) if seen.any() else np.nan
    return np.where(seen, np.maximum(tall, 0.5 * middle), middle)


def _first_reach(feet: _Feet, camera: Camera, out: FloatArray) -> FloatArray:
    """``(n,)`` rough range of the hips: of the nearer foot, since a lifted foot looks further."""
    away = np.einsum("nfi,ni->nf", feet.xy_m - camera.centre_m[:2], out)
    reach = np.min(np.where(np.isnan(away) | (away <= 0), np.inf, away), axis=1)
    return np.where(np.isfinite(reach), reach, np.nan)


def _speed(fitted: tuple[FloatArray, FloatArray] | None) -> float | FloatArray:
    return 3.0 if fitted is None else np.hypot(fitted[0][:, 1], fitted[0][:, 4])


def _bearings(
    camera: Camera, out: FloatArray, reach: FloatArray, landmark_sd: FloatArray
) -> _Readings:
    across = np.column_stack([-out[:, 1], out[:, 0]])
    frame = np.flatnonzero(np.isfinite(out[:, 0]) & np.isfinite(reach))
    across = across[frame]
    # Both hip landmarks err together, so their mean is no better than one.
    sd = reach[frame] * landmark_sd[frame]
    return _Readings(frame, across, across @ camera.centre_m[:2], sd)


def _ranges(
    feet: _Feet,
    camera: Camera,
    out: FloatArray,
    reach: FloatArray,
    landmark_sd: FloatArray,
    speed: float | FloatArray,
) -> _Readings:
    stands = feet.speed_mps < STILL_MPS
    both = stands.all(axis=1)
    one = stands.any(axis=1) & ~both
    xy = np.where(stands[..., None], feet.xy_m, 0).sum(axis=1) / np.maximum(
        stands.sum(axis=1, keepdims=True), 1
    )
    # A pixel down is this much further away: d range / d angle = range^2 / height, for a far foot.
    seen_sd = landmark_sd * (reach**2 + camera.centre_m[2] ** 2) / camera.centre_m[2]
    step_sd = np.where(both, BOTH_FEET_SD_M, ONE_FOOT_SD_M) + SWEEP_S * speed
    frame = np.flatnonzero((both | one) & np.isfinite(out[:, 0]) & np.isfinite(reach))
    sd = np.hypot(seen_sd, step_sd * np.sqrt(3.0))  # a contact's three or so frames err together
    return _Readings(frame, out[frame], np.sum(out * xy, axis=1)[frame], sd[frame])


def _log_size(camera: Camera, steady: FloatArray) -> FloatArray:
    """``(n, segments)`` logarithm of the angle each body segment spans."""
    ray = camera.rays(steady)
    ends = np.array(_SEGMENTS)
    return np.asarray(np.log(np.linalg.norm(ray[:, ends[:, 0]] - ray[:, ends[:, 1]], axis=2)))


def _sizes(
    camera: Camera, out: FloatArray, level: FloatArray, size: FloatArray, reach: FloatArray
) -> _Readings:
    """Range from apparent size, with the body's true lengths learned from the whole clip."""
    distance = reach / level
    length = size + np.log(distance)[:, None]  # log of apparent metres, at most the true length
    longest = np.nanquantile(length, 0.9, axis=0)
    shares = np.sort(np.nan_to_num(size - longest, nan=-9.0), axis=1)[:, -_LARGEST:].mean(axis=1)
    usable = np.isfinite(distance) & (shares > -3)
    offset = float(np.median((shares + np.log(distance))[usable])) if usable.any() else 0.0
    log_distance = offset - shares
    spread = np.abs(log_distance - np.log(distance))[usable]
    sd = max(1.4826 * float(np.median(spread)), 0.01) if usable.any() else 1.0
    frame = np.flatnonzero(usable)
    value = np.exp(log_distance[frame]) * level[frame]
    base = out[frame] @ camera.centre_m[:2]
    # Posture changes slowly, so neighbouring frames err together.
    return _Readings(frame, out[frame], base + value, 2.0 * sd * value)


def _smoothed(t_s: FloatArray, readings: list[_Readings]) -> tuple[FloatArray, FloatArray]:
    """States ``(n, 6)`` (x, vx, ax, y, vy, ay) and covariances ``(n, 6, 6)``."""
    from filterpy.kalman import KalmanFilter

    n = len(t_s)
    frame = np.concatenate([r.frame for r in readings])
    direction = np.concatenate([r.direction for r in readings])
    value = np.concatenate([r.value for r in readings])
    sd = np.concatenate([r.sd for r in readings])

    transition, noise = _process(np.diff(t_s, prepend=t_s[0]))
    kalman = KalmanFilter(dim_x=6, dim_z=1)
    start, *_ = np.linalg.lstsq(direction[np.argsort(frame)][:4], value[np.argsort(frame)][:4])
    kalman.x = np.array([[start[0]], [0], [0], [start[1]], [0], [0]])
    kalman.P = np.diag([9.0, 9.0, 4.0, 9.0, 9.0, 4.0])
    states, covariances = np.empty((n, 6, 1)), np.empty((n, 6, 6))
    for i in range(n):
        kalman.predict(F=transition[i], Q=noise[i])
        for k in np.flatnonzero(frame == i):
            row = np.zeros((1, 6))
            row[0, [0, 3]] = direction[k]
            innovation = value[k] - float((row @ kalman.x).item())
            allowed = float((row @ kalman.P @ row.T).item()) + sd[k] ** 2
            if innovation**2 <= GATE**2 * allowed:
                kalman.update(np.array([[value[k]]]), R=np.array([[sd[k] ** 2]]), H=row)
        states[i], covariances[i] = kalman.x, kalman.P
    smooth, covariance, _, _ = kalman.rts_smoother(states, covariances, Fs=transition, Qs=noise)
    return smooth[..., 0], covariance


def _process(step_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Transitions and noise of constant acceleration driven by white jerk, ``(n, 6, 6)`` each.

    Bar-Shalom, Li and Kirubarajan, Estimation with Applications to Tracking and Navigation,
    section 6.2.3 (from memory).
    """
    n = len(step_s)
    transition, noise = np.zeros((n, 6, 6)), np.zeros((n, 6, 6))
    for i, h in enumerate(step_s):
        f = np.array([[1, h, h**2 / 2], [0, 1, h], [0, 0, 1]])
        q = np.array(
            [
                [h**5 / 20, h**4 / 8, h**3 / 6],
                [h**4 / 8, h**3 / 3, h**2 / 2],
                [h**3 / 6, h**2 / 2, h],
            ]
        )
        transition[i] = np.kron(np.eye(2), f)
        noise[i] = JERK_DENSITY * np.kron(np.eye(2), q)
    return transition, noise


def _track(
    t_s: FloatArray,
    fitted: tuple[FloatArray, FloatArray],
    seen: npt.NDArray[np.bool_],
    ground: Ground,
) -> GroundTrack:
    state, covariance = fitted
    xy, velocity = state[:, [0, 3]], state[:, [1, 4]]
    place = covariance[:, [[0], [3]], [0, 3]]
    motion = covariance[:, [[1], [4]], [1, 4]]
    speed = np.linalg.norm(velocity, axis=1)
    along = velocity / np.maximum(speed, 1e-9)[:, None]
    scale_sd = ground.relative_sd(xy, along)
    speed_var = np.einsum("ni,nij,nj->n", along, motion, along) + (scale_sd * speed) ** 2
    lost = ~_bridged(t_s, seen)
    sd = np.sqrt(np.linalg.eigvalsh(place)[:, -1])
    return GroundTrack(
        t_s,
        np.where(lost[:, None], np.nan, xy),
        np.where(lost[:, None], np.nan, velocity),
        np.where(lost, np.nan, sd),
        np.where(lost, np.nan, np.sqrt(speed_var)),
    )


def _bridged(t_s: FloatArray, seen: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Frames seen, or in a gap short enough to bridge."""
    at = t_s[seen]
    if not len(at):
        return seen
    after = np.searchsorted(at, t_s)
    before = np.clip(np.searchsorted(at, t_s, side="right") - 1, 0, None)
    inside = after < len(at)
    gap = at[np.minimum(after, len(at) - 1)] - at[before]
    return np.asarray(seen | (inside & (t_s >= at[0]) & (gap <= MAX_GAP_S)))
