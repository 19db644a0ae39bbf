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

LANDMARK_SD = 0.010
"""Error of one landmark as a share of the player's height in the picture."""

SOLE_M = 0.045
"""Height of heel and toe landmarks above the ground while the foot stands, a shoe's sole."""

STEP_WINDOW_S = 0.05
"""Half the time over which a foot's speed is read; contact in a sprint lasts about 0.12 s."""

STILL_MPS = 1.5
"""A foot slower than this is taken to stand; while running the other one swings at twice the
runner's speed."""

RUNNING_MPS = 2.5
"""Faster than this there is no moment with both feet on the ground."""

ONE_FOOT_SD_M = 0.12
"""How far along the view the hips are from the one foot that stands, besides the step's sweep."""

BOTH_FEET_SD_M = 0.07
"""How far along the view the hips are from the middle of two standing feet."""

SWEEP_S = 0.035
"""Times speed: how far the hips sweep over the standing foot, standard deviation; contact lasts
0.12 s in a sprint, and a length evenly swept has a standard deviation of 0.29 of itself."""

LEAD_S2, LEAD_SD_S2 = 0.06, 0.04
"""Times acceleration: how far the standing foot trails while speeding up and leads while braking.
The ground's push passes through the body's middle, so this is about the hips' height over
gravity, 0.9 / 9.8 s^2 = 0.09 s^2, less what the trunk's lean makes up."""

CONTACT_LASTS_S = 0.15
"""Readings of one contact err together; so long a stretch counts as one reading."""

LANDMARK_LASTS_S = 0.07
"""Landmarks of neighbouring frames err together; so long a stretch counts as one reading."""

ACCELERATION_SD, ACCELERATION_LASTS_S = 4.0, 0.5
"""m/s^2 and s: how hard and how long players speed up and brake (8 m/s^2 is two of these)."""

LOOKS_SD, LOOKS_LASTS_S = 0.04, 0.5
"""How much larger or smaller than true a posture makes the body look, and for how long."""

LOOKS_NOISE = 1.5
"""Of the size reading from frame to frame, in landmark errors over a thigh's length."""

TAILS = 2.0
"""Readings that lie this many standard deviations off the last pass count half (Cauchy's weight),
far ones hardly: a swinging foot taken for a standing one must not pull."""

PASSES = 3
"""The size of the body is learned from the place, and the place from the size: settled by then."""

THIGH_M = 0.42
"""Typical length of the segments that tell the size; only sets their error."""

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
    """Readings of a place along unit directions, one row each.

    ``direction . (xy - lead * acceleration) + lever * looks = value``, where ``looks`` is how much
    larger the body looks than it should, as a share.
    """

    frame: npt.NDArray[np.intp]  # (m,)
    direction: FloatArray  # (m, 2)
    lead_s2: float
    lever_m: FloatArray  # (m,)
    value_m: FloatArray  # (m,)
    sd_m: FloatArray  # (m,)


@dataclass(frozen=True)
class _Fit:
    """Smoothed states (x, vx, ax, y, vy, ay, looks) and covariances."""

    state: FloatArray  # (n, 7)
    covariance: FloatArray  # (n, 7, 7)

    @property
    def xy_m(self) -> FloatArray:
        return self.state[:, [0, 3]]

    @property
    def velocity_mps(self) -> FloatArray:
        return self.state[:, [1, 4]]


@dataclass(frozen=True)
class _Sight:
    """The player as seen from the camera, frame by frame."""

    camera: Camera
    steady_px: FloatArray  # (n, 33, 2) pixels of the reference frame, NaN where unsure
    out: FloatArray  # (n, 2) unit, level, from the camera to the hips
    level: FloatArray  # (n,) cosine of how far below or above level the hips are
    landmark_sd: FloatArray  # (n,) radians, of one landmark

    @staticmethod
    def of(camera: Camera, steady_px: FloatArray, step_s: float) -> _Sight:
        hips = steady_px[:, SKELETON.indices("left_hip", "right_hip")].mean(axis=1)
        ray = camera.rays(hips)
        level = np.hypot(ray[:, 0], ray[:, 1])
        sd = LANDMARK_SD * _height_px(steady_px) / camera.focal_px
        sd = sd * np.sqrt(max(1.0, LANDMARK_LASTS_S / step_s))
        return _Sight(camera, steady_px, ray[:, :2] / level[:, None], level, sd)

    def reach(self, xy_m: FloatArray) -> FloatArray:
        """Level distance from the camera along the bearing, ``(n,)``."""
        return np.asarray(np.einsum("ni,ni->n", xy_m - self.camera.centre_m[:2], self.out))

    def range_sd(self, reach_m: FloatArray) -> FloatArray:
        """What a landmark's error means in range for a point of the ground, ``(n,)`` metres.

        A ray that dips by a little less meets the ground further away:
        d range / d angle = (range^2 + height^2) / height.
        """
        height = self.camera.centre_m[2]
        return np.asarray(self.landmark_sd * (reach_m**2 + height**2) / height)


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
    sure = (np.nan_to_num(score) >= MIN_SCORE) & camera_motion.tracked[:, None]
    steady = np.where(sure[..., None], camera_motion.steadied(xy_px), np.nan)
    sight = _Sight.of(ground.camera, steady, float(np.median(np.diff(t_s))))
    soles = _soles(ground.camera, steady)

    reach = _first_reach(sight, soles)
    seen = np.isfinite(sight.level)
    if not (seen & np.isfinite(reach)).any():
        n = len(t_s)
        nothing = np.full((n, 2), np.nan)
        return GroundTrack(t_s, nothing, nothing, nothing[:, 0], nothing[:, 0])
    size = _log_sizes(ground.camera, steady)
    fit: _Fit | None = None
    for _ in range(PASSES):
        readings = [_bearings(sight, reach), _ranges(t_s, sight, soles, reach, fit)]
        if fit is not None:
            readings.append(_sizes(sight, size, reach))
        fit = _smoothed(t_s, readings, fit)
        reach = np.where(seen, np.maximum(sight.reach(fit.xy_m), 0.5), np.nan)
    assert fit is not None
    return _track(t_s, fit, seen, ground)


def _height_px(steady_px: FloatArray) -> FloatArray:
    """``(n,)`` how tall the player looks, at least half the clip's median."""
    seen = np.isfinite(steady_px[..., 1]).any(axis=1)
    tall = np.full(len(steady_px), np.nan)

    tall[seen] = np.nanmax(steady_px[seen, :, 1], axis=1) - np.nanmin(steady_px[seen, :, 1], axis=1)
    middle = float(np.median(tall[seen])) if seen.any() else np.nan
    return np.where(seen, np.maximum(tall, 0.5 * middle), middle)


def _soles(camera: Camera, steady_px: FloatArray) -> FloatArray:
    """``(n, 2 feet, 2)`` where the soles are, as if on the ground."""
    parts = [SKELETON.indices(f"{side}_heel", f"{side}_foot_index") for side in ("left", "right")]
    return camera.to_ground(steady_px[:, parts].mean(axis=2), SOLE_M)


def _first_reach(sight: _Sight, soles: FloatArray) -> FloatArray:
    """``(n,)`` rough range: that of the nearer foot, since a lifted foot seems further away."""
    away = np.stack([sight.reach(soles[:, foot]) for foot in (0, 1)], axis=1)
    reach = np.min(np.where(away > 0, away, np.inf), axis=1)
    return np.where(np.isfinite(reach), reach, np.nan)


def _standing(
    t_s: FloatArray, sight: _Sight, soles: FloatArray, reach: FloatArray
) -> npt.NDArray[np.bool_]:
    """``(n, 2 feet)`` True where a foot keeps its place on the ground.

    Its motion across the view is known well, along the view badly, so each counts by its own
    uncertainty.
    """
    across = np.column_stack([-sight.out[:, 1], sight.out[:, 0]])
    sides = {
        "along": (sight.out, sight.range_sd(reach)),
        "across": (across, reach * sight.landmark_sd),
    }
    stands = np.zeros(soles.shape[:2], dtype=np.bool_)
    window = max(STEP_WINDOW_S, 1.1 * float(np.median(np.diff(t_s))))
    for i, t in enumerate(t_s):
        near = np.abs(t_s - t) <= window
        for foot in (0, 1):
            there = near & np.isfinite(soles[:, foot, 0])
            if there.sum() < 3:
                continue
            at = t_s[there] - t_s[there].mean()
            moves = at @ soles[there, foot] / (at @ at)
            excess = 0.0
            for direction, sd in sides.values():
                unsure = sd[i] / np.sqrt(2 * (at @ at))  # heel and toe: two landmarks
                excess += (moves @ direction[i]) ** 2 / (STILL_MPS**2 + (2 * unsure) ** 2)
            stands[i, foot] = excess < 1
    return stands


def _bearings(sight: _Sight, reach: FloatArray) -> _Readings:
    frame = np.flatnonzero(np.isfinite(sight.level) & np.isfinite(reach))
    across = np.column_stack([-sight.out[frame, 1], sight.out[frame, 0]])
    # Both hip landmarks err together, so their mean is no better than one.
    sd = reach[frame] * sight.landmark_sd[frame]
    return _Readings(frame, across, 0.0, 0 * sd, across @ sight.camera.centre_m[:2], sd)


def _ranges(
    t_s: FloatArray, sight: _Sight, soles: FloatArray, reach: FloatArray, fit: _Fit | None
) -> _Readings:
    speed = np.full(len(t_s), 3.0) if fit is None else np.linalg.norm(fit.velocity_mps, axis=1)
    pushes = 3.0 if fit is None else np.linalg.norm(fit.state[:, [2, 5]], axis=1)
    stands = _standing(t_s, sight, soles, reach)
    away = np.stack([sight.reach(soles[:, foot]) for foot in (0, 1)], axis=1)
    # Runners have one foot down at a time, and a lifted one seems further away.
    farther = away > np.min(np.where(stands, away, np.inf), axis=1)[:, None]
    stands &= ~(farther & (speed > RUNNING_MPS)[:, None])
    count = stands.sum(axis=1)
    value = np.where(stands, away, 0).sum(axis=1) / np.maximum(count, 1)
    offset_sd = np.where(count == 2, BOTH_FEET_SD_M, ONE_FOOT_SD_M)
    together = max(1.0, CONTACT_LASTS_S / float(np.median(np.diff(t_s))))
    sd = np.sqrt(
        sight.range_sd(reach) ** 2
        + together * (offset_sd**2 + (LEAD_SD_S2 * pushes) ** 2)
        + (SWEEP_S * speed) ** 2
    )
    frame = np.flatnonzero((count > 0) & np.isfinite(sight.level) & np.isfinite(reach))
    out = sight.out[frame]
    base = out @ sight.camera.centre_m[:2]
    return _Readings(frame, out, LEAD_S2, 0 * sd[frame], base + value[frame], sd[frame])


def _log_sizes(camera: Camera, steady_px: FloatArray) -> FloatArray:
    """``(n, segments)`` logarithm of the angle each body segment spans."""
    ray = camera.rays(steady_px)
    ends = np.array(_SEGMENTS)
    return np.asarray(np.log(np.linalg.norm(ray[:, ends[:, 0]] - ray[:, ends[:, 1]], axis=2)))


def _sizes(sight: _Sight, size: FloatArray, reach: FloatArray) -> _Readings:
    """Range from apparent size, with the body's true lengths learned from the whole clip."""
    distance = reach / sight.level
    apparent = size + np.log(distance)[:, None]  # log metres, at most the true length
    longest = np.nanquantile(apparent, 0.9, axis=0)
    looks = np.sort(np.nan_to_num(size - longest, nan=-9.0), axis=1)[:, -_LARGEST:].mean(axis=1)
    usable = np.isfinite(distance) & (looks > -3 - np.log(np.nanmedian(distance)))
    frame = np.flatnonzero(usable)
    middle = np.median(looks[frame] + np.log(distance[frame]))
    value = np.exp(middle - looks[frame]) * sight.level[frame]
    noise = LOOKS_NOISE * sight.landmark_sd[frame] * distance[frame] / THIGH_M
    out = sight.out[frame]
    base = out @ sight.camera.centre_m[:2]
    return _Readings(frame, out, 0.0, -value, base + value, value * noise)


def _smoothed(t_s: FloatArray, readings: list[_Readings], before: _Fit | None) -> _Fit:
    from filterpy.kalman import KalmanFilter

    n = len(t_s)
    frame = np.concatenate([r.frame for r in readings])
    value = np.concatenate([r.value_m for r in readings])
    sd = np.concatenate([r.sd_m for r in readings])
    row = np.zeros((len(frame), 7))
    row[:, [0, 3]] = np.concatenate([r.direction for r in readings])
    row[:, [2, 5]] = np.concatenate([-r.lead_s2 * r.direction for r in readings])
    row[:, 6] = np.concatenate([r.lever_m for r in readings])

    if before is not None:
        off = value - np.einsum("ms,ms->m", row, before.state[frame])
        sd = sd * np.sqrt(1 + (off / (TAILS * sd)) ** 2)

    early = np.argsort(frame, kind="stable")[:6]
    start, *_ = np.linalg.lstsq(row[early][:, [0, 3]], value[early])
    transition, noise = _process(t_s)
    kalman = KalmanFilter(dim_x=7, dim_z=1)
    kalman.x = np.zeros((7, 1))
    kalman.x[[0, 3], 0] = start
    at_rest = ACCELERATION_SD**2
    kalman.P = np.diag([9.0, 9.0, at_rest, 9.0, 9.0, at_rest, LOOKS_SD**2])
    states, covariances = np.empty((n, 7, 1)), np.empty((n, 7, 7))
    by_frame = [np.flatnonzero(frame == i) for i in range(n)]
    for i in range(n):
        kalman.predict(F=transition[i], Q=noise[i])
        for k in by_frame[i]:
            kalman.update(value[k : k + 1, None], R=np.array([[sd[k] ** 2]]), H=row[k : k + 1])
        states[i], covariances[i] = kalman.x, kalman.P
    state, covariance, _, _ = kalman.rts_smoother(states, covariances, Fs=transition, Qs=noise)
    return _Fit(state[..., 0], covariance)


def _process(t_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Transitions ``(n, 7, 7)`` into each frame, and their noise.

    Acceleration and looks both fade towards nothing with their own time constant while chance
    renews them: Singer, Estimating optimal tracking filter performance for manned maneuvering
    targets, IEEE Trans. Aerospace and Electronic Systems 6(4), 1970.
    """
    from filterpy.common import van_loan_discretization

    moves = np.array([[0, 1, 0], [0, 0, 1], [0, 0, -1 / ACCELERATION_LASTS_S]])
    rate = np.zeros((7, 7))
    rate[:3, :3] = rate[3:6, 3:6] = moves
    rate[6, 6] = -1 / LOOKS_LASTS_S
    drive = np.zeros((7, 7))
    drive[2, 2] = drive[5, 5] = ACCELERATION_SD * np.sqrt(2 / ACCELERATION_LASTS_S)
    drive[6, 6] = LOOKS_SD * np.sqrt(2 / LOOKS_LASTS_S)
    steps = np.diff(t_s, prepend=t_s[0])
    pairs = {h: van_loan_discretization(rate, drive, h) for h in set(steps.tolist())}
    return (
        np.stack([pairs[h][0] for h in steps.tolist()]),
        np.stack([pairs[h][1] for h in steps.tolist()]),
    )


def _track(
    t_s: FloatArray,
    fit: _Fit,
    seen: npt.NDArray[np.bool_],
    ground: Ground,
) -> GroundTrack:
    xy, velocity = fit.xy_m, fit.velocity_mps
    place = fit.covariance[:, [[0], [3]], [0, 3]]
    motion = fit.covariance[:, [[1], [4]], [1, 4]]
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
