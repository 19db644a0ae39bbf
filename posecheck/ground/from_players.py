"""The ground from the players themselves, when no field point is known.

People of known or typical stature stand on a plane at several ranges. How tall each looks, and how
far below the horizon his feet are, gives the camera's height and tilt; their stature gives the
scale.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation
from scipy.special import logsumexp

from posecheck.body.foot_sight import FootSight
from posecheck.camera.lens import USUAL_LENS, Belief, Lens, LensReading, LensSource
from posecheck.camera.motion import CameraMotion
from posecheck.camera.phone import PHONE
from posecheck.camera.pinhole import Camera
from posecheck.camera.tuning import CONTRADICTION_SDS
from posecheck.ground.ground import FROM_PLAYERS, Ground
from posecheck.ground.scale import Fitted, length_sd
from posecheck.ground.tuning import (
    ANKLE_TO_EAR,
    BEGINNING_S,
    FEET_SD_SHARE,
    FITTED_VIEWS,
    FOCALS_TRIED,
    LEAST_FOCAL_STEP,
    LOOSELY,
    MIN_FEET_DIP_DEG,
    MIN_SPEED_FRAMES,
    MIN_STANDING_SCORE,
    N_FOCALS,
    NEAR_SDS,
    NINE_IN_TEN_SDS,
    POSTURE_TALL_SD,
    PROPORTIONS_SD,
    READINGS_A_PERSON,
    REP_APART_LOG_SD,
    REP_APART_M,
    REP_SPEED_LOG_SD,
    REP_SPEED_MPS,
    REP_UNUSUAL,
    SOFT_LOOKS_SDS,
    SOLE_M,
    SPEED_OVER_S,
    TILT_TAKEN_OUT,
    TURNING_DECIDES_SD,
    TURNING_FOCALS,
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
        t_s: moment, NaN when it does not matter.
    """

    who: int
    feet_px: tuple[float, float]
    head_px: tuple[float, float]
    stature_m: float = UNKNOWN_STATURE_M[0]
    stature_sd_m: float = UNKNOWN_STATURE_M[1]
    sight_m: float = 0.0
    t_s: float = np.nan


def standing_players(
    who: int,
    steady_px: FloatArray,
    world_m: FloatArray,
    score: FloatArray,
    stature_m: float = UNKNOWN_STATURE_M[0],
    stature_sd_m: float = UNKNOWN_STATURE_M[1],
    feet: FootSight | None = None,
    t_s: FloatArray | None = None,
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
        t_s: ``(n,)`` seconds, None when they do not matter.
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
    # A sole that is not seen is not the nearer one.
    left_y, right_y = (np.nan_to_num(each[:, 1], nan=-np.inf) for each in soles)
    nearer = (right_y > left_y).astype(int)
    lower = np.stack(soles)[nearer, frame]
    sight_m = np.full(len(seen), SOLE_M) if feet is None else feet.height_m[frame, nearer]
    good = np.isfinite(length_px).all(axis=0) & np.isfinite(tall) & np.isfinite(lower[:, 0])
    good &= np.isfinite(sight_m)
    moment = np.full(len(seen), np.nan) if t_s is None else t_s
    columns = (lower[good], tall[good], sight_m[good].tolist(), moment[good].tolist())
    return [
        Standing(who, (float(x), float(y)), (float(x), float(y - h)), stature_m, stature_sd_m, s, t)
        for (x, y), h, s, t in zip(*columns, strict=True)
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
    usual = _camera(np.array([PHONE.lens.likely.median, 0.0, 0.0, 0.0]), size_px)
    zooms = [
        usual.turned(back).focal_px / usual.focal_px for back in motion.to_reference[motion.tracked]
    ]
    if not zooms:
        return 1.0, 1.0
    out, close = np.quantile(zooms, ZOOM_QUANTILES)
    return float(out), float(close)


USUAL_LOG_SPEED = Belief(float(np.log(REP_SPEED_MPS)), REP_SPEED_LOG_SD)
USUAL_LOG_APART = Belief(float(np.log(REP_APART_M)), REP_APART_LOG_SD)


@dataclass(frozen=True)
class Rep:
    """What is known of a rep before it is seen; see the tuning for where it comes from.

    Attributes:
        log_speed: logarithm of the fastest player's speed, m/s, over a second.
        log_apart: logarithm of the metres between him and the other before he leaves.
    """

    log_speed: Belief = USUAL_LOG_SPEED
    log_apart: Belief = USUAL_LOG_APART


def ground_from_players(
    standing: Sequence[Standing],
    size_px: tuple[int, int],
    lens: Lens = USUAL_LENS,
    turned: Callable[[FloatArray], FloatArray] | None = None,
    rep: Rep | None = None,
    known_by: str = "",
) -> Ground | None:
    """Calibrate the camera by people on the ground.

    For each of many focal lengths, robust least squares with a prior of phones: tilt, roll, height.
    How well each explains what is seen, what is believed of the lens, how the camera turned and
    whether anybody could run so fast give it its probability. The focal length taken is the median;
    how far the others lie from it is in the errors. Origin below the camera, x to its right, y away
    from it.

    How tall people look gives lengths across the view whatever the lens; lengths along it are
    proportional to the focal length, which is why that matters, and why film of a still camera
    shows so little of it.

    Args:
        standing: views of people, all in pixels of one frame.
        size_px: width and height of the clip.
        lens: what is believed of the lens of that frame.
        turned: logarithm of the likelihood of ``(k,)`` log focal lengths by how the camera turned.
        rep: what is known of it; None when nothing is, such as when nobody closes out.
        known_by: how their stature is known, in words; "" when it is not.

    Returns:
        The ground, or None when nobody is seen to stand on it.
    """
    views = [s for s in standing if np.all(np.isfinite([*s.feet_px, *s.head_px]))]
    if not views:
        return None
    people = _People(views, size_px)
    by_turning = None if turned is None else _belief_by_turning(turned)
    log_focals = _lens_grid(lens, by_turning)
    fits: list[Fitted] = []
    start = people.start(float(log_focals[0]))
    for log_focal in log_focals:
        fit = people.fitted(float(log_focal), start)
        fits.append(fit)
        start = _rest(fit)
    places = [people.places(each.parameters) for each in fits]
    log_weights = np.array([each.log_weight for each in fits]) + lens.log_density(log_focals)
    log_weights += np.log(np.gradient(log_focals))
    if rep is not None:
        log_weights += [people.log_likelihood_of_run(each, rep) for each in places]
    if turned is not None:
        log_weights += turned(log_focals)
    log_weights[[not np.isfinite(each).any() for each in places]] = -np.inf
    if not np.isfinite(log_weights).any():
        return None
    weights = np.exp(log_weights - logsumexp(log_weights))
    middle = _quantile(log_focals, weights, 0.5)
    near = int(np.argmin(np.abs(log_focals - middle)))
    chosen = people.fitted(middle, _rest(fits[near]))
    camera = _camera(chosen.parameters, size_px)
    at = people.places(chosen.parameters)
    if not np.isfinite(at).any():
        return None
    fitted = [replace(chosen, log_weight=-np.inf)]
    fitted += [replace(each, log_weight=w) for each, w in zip(fits, log_weights, strict=True)]
    scale_sd, depth_sd = length_sd(
        lambda p: _camera(p, size_px), fitted, np.nanmedian(at, axis=0, keepdims=True)
    )
    reading = LensReading(
        float(np.exp(middle)),
        float(np.sqrt(weights @ (log_focals - middle) ** 2)),
        _source(lens, log_focals, weights, by_turning),
        (
            float(np.exp(_quantile(log_focals, weights, 0.05))),
            float(np.exp(_quantile(log_focals, weights, 0.95))),
        ),
    )
    return Ground(
        camera=camera,
        source="players",
        described=_described(people.n, known_by, scale_sd, depth_sd, reading),
        scale_sd=scale_sd,
        depth_sd=depth_sd,
        on_field=False,
        lens=reading,
    )


def _rest(fit: Fitted) -> FloatArray:
    """All parameters but the focal length."""
    assert fit.rest is not None
    return fit.rest


def _belief_by_turning(turned: Callable[[FloatArray], FloatArray]) -> Belief:
    """The logarithm of the focal length by how the camera turned alone."""
    least, most = np.log(FOCALS_TRIED)
    log_focals = np.linspace(least, most, TURNING_FOCALS)
    found = turned(log_focals)
    weights = np.exp(found - found.max())
    weights /= weights.sum()
    mean = float(weights @ log_focals)
    return Belief(mean, float(np.sqrt(weights @ (log_focals - mean) ** 2)))


def _lens_grid(lens: Lens, by_turning: Belief | None) -> FloatArray:
    """Logarithms of the focal lengths tried: all lenses there are, more closely where likely."""
    least, most = np.log(FOCALS_TRIED)
    tried = [np.linspace(least, most, N_FOCALS)]
    for each in (lens.likely, by_turning):
        if each is not None and each.sd < TURNING_DECIDES_SD:
            tried.append(each.median + max(each.sd, LEAST_FOCAL_STEP) * np.array(NEAR_SDS))
    log_focals = np.unique(np.concatenate(tried).round(9))
    return np.asarray(log_focals[np.diff(log_focals, prepend=-np.inf) > LEAST_FOCAL_STEP / 4])


def _quantile(log_focals: FloatArray, weights: FloatArray, share: float) -> float:
    """Of weighted log focal lengths, each spread evenly to half-way to its neighbours."""
    edges = np.concatenate(
        [log_focals[:1], (log_focals[1:] + log_focals[:-1]) / 2, log_focals[-1:]]
    )
    return float(np.interp(share, np.concatenate([[0.0], np.cumsum(weights)]), edges))


def _source(
    lens: Lens, log_focals: FloatArray, weights: FloatArray, by_turning: Belief | None
) -> LensSource:
    """What the focal length mostly comes from."""
    if lens.source in ("stated", "tag"):
        likely = np.abs(lens.likely.misses(log_focals)) < CONTRADICTION_SDS
        if weights[likely].sum() > 0.5:
            return lens.source
    turned = by_turning is not None and by_turning.sd < TURNING_DECIDES_SD
    return "turning" if turned else "players"


def _described(
    n: int, known_by: str, scale_sd: float, depth_sd: float, reading: LensReading
) -> str:
    across, along = (max(100 * NINE_IN_TEN_SDS * sd, 1) for sd in (scale_sd, depth_sd))
    by = f" ({known_by})" if known_by else ""
    return (
        f"{FROM_PLAYERS} {n} player{'' if n == 1 else 's'}{by}, in 9 of 10 clips good to "
        f"{across:.0f} % across the view and {along:.0f} % along it, {reading.described}"
    )


class _People:
    """Views of people as arrays, and how well a camera explains them.

    A camera's parameters are log focal length over the longer side, tilt down, roll (radians), log
    height; after them come the logarithms by which people are taller than their stature's mean.
    """

    def __init__(self, views: Sequence[Standing], size_px: tuple[int, int]) -> None:
        self._size_px = size_px
        self._every = slice(None, None, len(views) // FITTED_VIEWS + 1)
        self._feet = np.array([s.feet_px for s in views])
        self._tall_px = self._feet[:, 1] - np.array([s.head_px[1] for s in views])
        stature = np.array([s.stature_m for s in views])
        self._sd_px = np.hypot(FEET_SD_SHARE * max(size_px), POSTURE_TALL_SD * self._tall_px)
        self._sight_m = np.array([s.sight_m for s in views])
        self._t_s = np.array([s.t_s for s in views])
        people, self._which = np.unique([s.who for s in views], return_inverse=True)
        self.n = len(people)
        fitted = np.bincount(self._which[self._every], minlength=self.n)
        # What is wrong with how tall somebody looks is wrong in many of his frames.
        self._weight = np.sqrt(np.minimum(READINGS_A_PERSON / np.maximum(fitted, 1), 1.0))
        first = np.array([np.flatnonzero(self._which == i)[0] for i in range(self.n)])
        self._stature = stature
        known = (np.array([s.stature_sd_m for s in views]) / stature)[first]
        self._grown_sd = np.hypot(known, PROPORTIONS_SD)

    def start(self, log_focal: float) -> FloatArray:
        """Parameters but the focal length, to start a fit from."""
        tilt = max(PHONE.tilt.median, _level_tilt(self._feet, log_focal, self._size_px))
        held = [tilt, PHONE.roll.median, PHONE.log_height.median]
        return np.concatenate([held, np.zeros(self.n)])

    def places(self, parameters: FloatArray) -> FloatArray:
        """``(n, 2)`` where everybody stands, NaN above the horizon."""
        return _camera(parameters, self._size_px).to_ground(self._feet, self._sight_m)

    def fitted(self, log_focal: float, start: FloatArray) -> Fitted:
        """The camera of a focal length that explains best how tall people look."""

        def soft(rest: FloatArray) -> FloatArray:
            """Far misses at the square root of their soft L1 loss, and the prior as it is."""
            off = self._misses(np.concatenate([[log_focal], rest])) / SOFT_LOOKS_SDS
            pressed = np.sign(off) * SOFT_LOOKS_SDS * np.sqrt(2 * (np.sqrt(1 + off**2) - 1))
            pressed = pressed * self._weight[self._which[self._every]]
            return np.concatenate([pressed, self._prior(rest)])

        scale = [0.05, 0.02, 0.2, *([0.05] * self.n)]
        fit = least_squares(soft, start, x_scale=scale, ftol=1e-5, xtol=1e-5)
        covariance = np.zeros((4, 4))
        rest = np.linalg.inv(fit.jac.T @ fit.jac)
        covariance[1:, 1:] = rest[:3, :3]
        # The likelihood's maximum rather than its integral: the longer a lens, the narrower the
        # range of tilts that shows the horizon where it is, but people aim at players.
        parameters = np.concatenate([[log_focal], fit.x[:3]])
        return Fitted(parameters, covariance, -float(fit.cost), fit.x)

    def _misses(self, parameters: FloatArray) -> FloatArray:
        camera = _camera(parameters[:4], self._size_px)
        some = self._every
        at = camera.to_ground(self._feet[some], self._sight_m[some])
        height = self._stature[some] * np.exp(parameters[4:][self._which[some]])
        soles, heads = (
            camera.to_image(np.column_stack([at, each])) for each in (0 * height, height)
        )
        # The landmarks in metres take out part of the shortening by looking down.
        ray = camera.rays(self._feet[some])
        looks = (soles[:, 1] - heads[:, 1]) / np.hypot(ray[:, 0], ray[:, 1]) ** TILT_TAKEN_OUT
        off = (looks - self._tall_px[some]) / self._sd_px[some]
        return np.where(np.isfinite(looks), off, UNSEEN_MISS_SDS)

    def _prior(self, rest: FloatArray) -> FloatArray:
        return np.array(
            [
                PHONE.tilt.misses(rest[0]) / LOOSELY,
                PHONE.roll.misses(rest[1]),
                PHONE.log_height.misses(rest[2]),
                *(rest[3:] / self._grown_sd),
            ]
        )

    def log_likelihood_of_run(self, at: FloatArray, rep: Rep) -> float:
        """Of places ``(n, 2)``: whether the fastest ran, and came, as far as is usual in a rep."""
        fastest, who = 0.0, -1
        for i in range(self.n):
            speed = _fastest_mps(self._t_s[self._which == i], at[self._which == i])
            if speed > fastest:
                fastest, who = speed, i
        if who < 0:
            return 0.0
        found = _with_tails(rep.log_speed, np.log(fastest))
        begins = np.nanmin(self._t_s) + BEGINNING_S
        mine, others = (
            at[chosen & (self._t_s <= begins) & np.isfinite(at[:, 0])]
            for chosen in (self._which == who, self._which != who)
        )
        if len(mine) and len(others):
            apart = np.linalg.norm(np.median(mine, axis=0) - np.median(others, axis=0))
            found += _with_tails(rep.log_apart, np.log(max(float(apart), 1e-3)))
        return found


def _with_tails(belief: Belief, value: float) -> float:
    """Logarithm of the density of a belief that is wrong in some clips, whatever is then true."""
    return float(np.logaddexp(belief.log_density(value), np.log(REP_UNUSUAL)))


def _fastest_mps(t_s: FloatArray, at: FloatArray) -> float:
    """Greatest speed over a second of places ``(n, 2)``, by a straight line through each second."""
    known = np.isfinite(at[:, 0]) & np.isfinite(t_s)
    t_s, at = t_s[known], at[known]
    fastest = 0.0
    if not len(t_s):
        return fastest
    for begin in np.arange(t_s.min(), t_s.max() - SPEED_OVER_S, SPEED_OVER_S / 4):
        now = (t_s >= begin) & (t_s <= begin + SPEED_OVER_S)
        if now.sum() >= MIN_SPEED_FRAMES:
            along = t_s[now] - t_s[now].mean()
            slope = along @ (at[now] - at[now].mean(axis=0)) / (along @ along)
            fastest = max(fastest, float(np.linalg.norm(slope)))
    return fastest


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
