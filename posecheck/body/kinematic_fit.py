"""Fit a body of rods to landmarks over time.

Every frame has its points in metres; the clip has the rods' lengths, the stature and the height of
the ground. The fit minimises, over all of them together, how far the points lie from their
landmarks in the picture, how much rods stretch, and how unlikely the movement is.

Almost every term concerns one frame, and the rest (accelerations, feet that stand) neighbouring
ones. So the matrix of the normal equations is a band, bordered by the few unknowns of the clip:
Cholesky's method for bands and one Schur complement solve it in milliseconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import sparse
from scipy.linalg import cho_solve_banded, cholesky_banded, lapack

from posecheck.body.kinematic_body import ACCELERATION_SD_MPS2, PARTS, POINTS, RODS, SIDES, link
from posecheck.body.tuning import (
    DEPTH_SD,
    FIT_DAMPING,
    FIT_STEPS,
    HINGE_SD,
    KNEE_ASIDE_SD,
    LANDMARK_LASTS_S,
    LANDMARK_SD,
    LEAST_FIT_GAIN,
    PLANTED_MPS,
    PLANTED_SD_M,
    PLANTED_SD_MPS,
    SEGMENT_LOG_SD,
    SOLE_M,
    SQUARE_SD,
    STATURE_LOG_SD,
    STATURE_M,
    TAIL,
)
from posecheck.maths.arrays import FloatArray
from posecheck.maths.vectors import unit

_N, _M = len(POINTS), len(RODS)
_SIZE = 3 * _N
_STATURE, _GROUND = _M, _M + 1
_FEET = [POINTS.index(f"{side}_{part}") for part in ("heel", "foot_index") for side in SIDES]
_LENGTH = {name: number for number, name in enumerate(RODS)}
_HIPS = link("right_hip", "left_hip")
_SHOULDERS = link("right_shoulder", "left_shoulder")
_TRUNK = link("shoulder", "hip")


@dataclass(frozen=True)
class Film:
    """What a clip shows of a body, on the ground's axes.

    Attributes:
        t_s: ``(n,)`` seconds.
        xy_px: ``(n, n_points, 2)`` landmarks.
        score: ``(n, n_points)`` 0 to 1.
        height_px: ``(n,)`` of the player in the picture.
        projection: ``(n, 3, 4)`` from metres to the picture.
        model_m: ``(n, n_points, 3)`` the pose model's own body, from the middle of the hips.
        speed: ``(n, n_points)`` of the landmarks on the steadied picture, in player's heights a
            second.
        place_m, place_sd_m: ``(n, 2)`` and ``(n,)`` where the hips are on the ground; an infinite
            standard deviation where that is not known.
        ground_sd_m: standard deviation of the height of what he stands on.
    """

    t_s: FloatArray
    xy_px: FloatArray
    score: FloatArray
    height_px: FloatArray
    projection: FloatArray
    model_m: FloatArray
    speed: FloatArray
    place_m: FloatArray
    place_sd_m: FloatArray
    ground_sd_m: float

    @cached_property
    def rays(self) -> FloatArray:
        """``(n, n_points, 3)`` unit vectors from the camera to the landmarks."""
        homogeneous = np.concatenate([self.xy_px, np.ones((*self.xy_px.shape[:2], 1))], axis=2)
        inverse = np.linalg.inv(self.projection[:, :, :3])
        return unit(np.einsum("nij,npj->npi", inverse, homogeneous))

    @cached_property
    def sight(self) -> FloatArray:
        """``(n, 3)`` direction from the camera to the hips."""
        return unit(np.einsum("npi,p->ni", self.rays, np.abs(_HIPS)))

    @cached_property
    def expected_slope(self) -> FloatArray:
        """``(n, n_links)`` of every rod towards the camera, as the pose model has it."""
        return np.asarray((unit(_LINKS @ self.model_m) @ self.sight[..., None])[..., 0])

    @cached_property
    def centre_m(self) -> FloatArray:
        """``(n, 3)`` the camera's optical centre."""
        turn, shift = self.projection[:, :, :3], self.projection[:, :, 3:]
        return np.asarray(-np.linalg.solve(turn, shift)[..., 0])

    @cached_property
    def planted(self) -> FloatArray:
        """``(n, 4)`` how surely heels and toes stand, 0 to 1."""
        return np.asarray(1 / (1 + (self.speed[:, _FEET] * STATURE_M / PLANTED_MPS) ** 2))

    @cached_property
    def news(self) -> FloatArray:
        """``(n,)`` root of the share of each frame that is not in the frames before."""
        return np.sqrt(np.minimum(np.gradient(self.t_s) / LANDMARK_LASTS_S, 1.0))


@dataclass(frozen=True)
class Fit:
    """A body over time.

    Attributes:
        xyz_m: ``(n, n_points, 3)`` on the ground's axes.
        clip: ``(n_rods + 2,)`` logarithms of the rods' lengths and of the stature in metres, and
            the height of the ground in metres.
        cost: twice the negative logarithm of the likelihood, up to a constant.
    """

    xyz_m: FloatArray
    clip: FloatArray
    cost: float


def start(film: Film) -> Fit:
    """The pose model's own body, each point moved along its line of sight to where it is seen."""
    across = film.projection[:, None, :2] - film.xy_px[..., None] * film.projection[:, None, 2:]
    lines = across[..., :3].reshape(len(film.t_s), -1, 3)
    misses = np.einsum("npai,npi->npa", across[..., :3], film.model_m) + across[..., 3]
    moved = -np.einsum("nij,nj->ni", np.linalg.pinv(lines), misses.reshape(len(film.t_s), -1))
    body = film.model_m + moved[:, None]
    reach = np.sum((body - film.centre_m[:, None]) * film.rays, axis=2)
    xyz_m = film.centre_m[:, None] + reach[..., None] * film.rays
    lengths = np.log([rod.share * STATURE_M for rod in RODS.values()])
    ground = np.median(xyz_m[:, _FEET, 2]) - SOLE_M if film.ground_sd_m > PLANTED_SD_M else 0.0
    return Fit(xyz_m, np.array([*lengths, np.log(STATURE_M), ground]), np.inf)


def solve(film: Film, fit: Fit) -> tuple[Fit, Normal]:
    """The nearest best fit, by Levenberg's and Marquardt's method.

    Landmarks far off lose weight from step to step, as under Student's t.
    """
    form = _band(film)
    form_upper = upper_band(form, 3 * _SIZE)
    misses = _misses(film, fit, form)
    normal, damping = misses.normal(form_upper), FIT_DAMPING
    for _ in range(FIT_STEPS):
        step_x, step_c = normal.step(damping)
        xyz_m = fit.xyz_m + step_x.reshape(fit.xyz_m.shape)
        tried = Fit(xyz_m, fit.clip + step_c, misses.cost)
        now = _misses(film, tried, form)
        if now.cost >= misses.cost:
            damping *= 10
            continue
        gain, damping = misses.cost - now.cost, damping / 5
        fit, misses, normal = tried, now, now.normal(form_upper)
        if gain < LEAST_FIT_GAIN * misses.cost:
            break
    return Fit(fit.xyz_m, fit.clip, misses.cost), normal


@dataclass(frozen=True)
class Normal:
    """Normal equations: a band, its border, and the corner of the clip's unknowns.

    Attributes:
        upper: ``(3 * 3 * n_points, n * 3 * n_points)`` the band, stored as LAPACK does.
        border: ``(n * 3 * n_points, n_clip)``.
        corner: ``(n_clip, n_clip)``.
        slope_x, slope_c: half the gradient.
    """

    upper: FloatArray
    border: FloatArray
    corner: FloatArray
    slope_x: FloatArray
    slope_c: FloatArray

    def _factors(self, damping: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        upper = self.upper.copy()
        upper[-1] *= 1 + damping
        factor = cholesky_banded(upper, overwrite_ab=True, check_finite=False)
        through = cho_solve_banded((factor, False), self.border, check_finite=False)
        corner = self.corner + damping * np.diag(np.diag(self.corner))
        return factor, through, corner - self.border.T @ through

    def step(self, damping: float) -> tuple[FloatArray, FloatArray]:
        """Step of the points, and of the clip's unknowns."""
        factor, through, schur = self._factors(damping)
        alone = cho_solve_banded((factor, False), self.slope_x, check_finite=False)
        clip = np.linalg.solve(schur, self.slope_c - self.border.T @ alone)
        return through @ clip - alone, -clip

    def draws(self, count: int, rng: np.random.Generator) -> FloatArray:
        """``(count, n * 3 * n_points)`` random departures of the points, as sure as the fit is."""
        factor, through, schur = self._factors(0.0)
        free, _ = lapack.dtbtrs(factor, rng.standard_normal((factor.shape[1], count)), uplo="U")
        clip = np.linalg.solve(
            np.linalg.cholesky(schur).T, rng.standard_normal((len(schur), count))
        )
        return np.asarray((free - through @ clip).T)


# -- terms ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Term:
    """Residuals ``(n, k)`` with their derivatives by the points and by the clip's unknowns."""

    off: FloatArray
    by_points: FloatArray  # (n, k, n_points, 3)
    by_clip: FloatArray | float = 0.0  # (n, k, n_clip)
    tailed: bool = False


@dataclass(frozen=True)
class _Misses:
    """How far a fit is off, term by term, with derivatives.

    Attributes:
        cost: as :class:`Fit` has it.
        off: ``(n, k)`` residuals.
        weight: ``(n, k)`` less for those far off.
        by_points, by_clip: ``(n, k, 3 * n_points)`` and ``(n, k, n_clip)`` derivatives.
        pulled: ``(n * 3 * n_points,)`` half the slope of what is between frames.
        prior_off, prior: as :func:`_clip_prior` gives them.
    """

    cost: float
    off: FloatArray
    weight: FloatArray
    by_points: FloatArray
    by_clip: FloatArray
    pulled: FloatArray
    prior_off: FloatArray
    prior: FloatArray

    def normal(self, form_upper: FloatArray) -> Normal:
        """The normal equations of the cost's best quadratic; ``form_upper`` is between frames."""
        r, jx, jc, clip = self.off, self.by_points, self.by_clip, self.by_clip.shape[2]
        weighted = (self.weight[..., None] * jx).transpose(0, 2, 1)
        weighted_c = (self.weight[..., None] * jc).reshape(-1, clip).T
        upper = band_of_blocks(weighted @ jx, 3 * _SIZE)
        upper += form_upper
        return Normal(
            upper,
            (weighted @ jc).reshape(-1, clip),
            weighted_c @ jc.reshape(-1, clip) + self.prior.T @ self.prior,
            (weighted @ r[..., None]).ravel() + self.pulled,
            weighted_c @ r.ravel() + self.prior.T @ self.prior_off,
        )


def _misses(film: Film, fit: Fit, form: sparse.csr_array) -> _Misses:
    """How far a fit is off; ``form`` is between frames."""
    n, clip = len(film.t_s), len(fit.clip)
    off, by_points, by_clip, tailed = [], [], [], []
    for term in _terms(film, fit):
        k = term.off.shape[1]
        off.append(term.off)
        by_points.append(term.by_points.reshape(n, k, _SIZE))
        by_clip.append(np.broadcast_to(term.by_clip, (n, k, clip)))
        tailed.append(np.full(k, term.tailed))
    r = np.concatenate(off, axis=1) * film.news[:, None]
    jx, jc = (np.concatenate(each, axis=1) for each in (by_points, by_clip))
    jx *= film.news[:, None, None]
    jc *= film.news[:, None, None]
    long_tail = np.concatenate(tailed)
    weight = np.where(long_tail, 1 / (1 + r**2 / TAIL), 1.0)
    cost = np.where(long_tail, TAIL * np.log1p(r**2 / TAIL), r**2).sum()
    flat = fit.xyz_m.ravel()
    pulled = form @ flat
    prior_off, prior = _clip_prior(film, fit.clip)
    cost = float(cost + flat @ pulled + prior_off @ prior_off)
    return _Misses(cost, r, weight, jx, jc, pulled, prior_off, prior)


def _terms(film: Film, fit: Fit) -> Iterator[_Term]:
    yield _seen(film, fit)
    yield from _rods(film, fit)
    for name, across in (("pelvis", _HIPS), ("shoulders", _SHOULDERS)):
        yield _square(fit, name, across)
    for side in SIDES:
        yield _knee(fit, side)
    yield _standing(film, fit)
    yield _placed(film, fit)


def _seen(film: Film, fit: Fit) -> _Term:
    """Distance in the picture from each point to its landmark."""
    turn, shift = film.projection[:, None, :, :3], film.projection[:, None, :, 3]
    seen = fit.xyz_m @ turn[:, 0].transpose(0, 2, 1) + shift
    xy = seen[..., :2] / seen[..., 2:]
    sd = LANDMARK_SD * film.height_px[:, None] / np.sqrt(np.clip(film.score, 0.1, 1.0))
    scale = sd[..., None]
    slope = (turn[..., :2, :] - xy[..., None] * turn[..., 2:, :]) / (seen[..., 2:] * scale)[
        ..., None
    ]
    n = len(xy)
    by_points = np.zeros((n, _N, 2, _N, 3))
    by_points[:, range(_N), :, range(_N)] = slope.swapaxes(0, 1)
    off = ((xy - film.xy_px) / scale).reshape(n, -1)
    return _Term(off, by_points.reshape(n, 2 * _N, _N, 3), tailed=True)


_ROD = np.repeat(range(_M), [len(rod.links) for rod in RODS.values()])
_LINKS = np.concatenate([rod.links for rod in RODS.values()])
_ROD_SD = np.array([rod.sd for rod in RODS.values()])[_ROD]


def _rods(film: Film, fit: Fit) -> Iterator[_Term]:
    """A rod has its length; its slope towards the camera is about what the pose model says."""
    vector, clip = _LINKS @ fit.xyz_m, np.zeros((len(_ROD), len(fit.clip)))
    clip[range(len(_ROD)), _ROD] = -1 / _ROD_SD
    long = np.linalg.norm(vector, axis=2)
    stretch = (np.log(long) - fit.clip[_ROD]) / _ROD_SD
    by_vector = vector / (long**2 * _ROD_SD)[..., None]
    yield _Term(stretch, by_vector[:, :, None] * _LINKS[..., None], clip)
    length = np.exp(fit.clip[_ROD]) * DEPTH_SD
    slope = (vector @ film.sight[..., None])[..., 0] / length
    by_clip = np.zeros((*slope.shape, len(fit.clip)))
    by_clip[:, range(len(_ROD)), _ROD] = -slope
    by_points = film.sight[:, None, None] * (_LINKS / length[:, None])[..., None]
    yield _Term(slope - film.expected_slope / DEPTH_SD, by_points, by_clip, tailed=True)


def _square(fit: Fit, name: str, across: FloatArray) -> _Term:
    """The trunk stands about square on hips and shoulders."""
    trunk, line = _vector(fit, _TRUNK), _vector(fit, across)
    scale = SQUARE_SD * np.exp(fit.clip[_LENGTH["trunk"]] + fit.clip[_LENGTH[name]])
    off = np.sum(trunk * line, axis=1, keepdims=True) / scale
    return _Term(off, _spread(line / scale, _TRUNK) + _spread(trunk / scale, across))


def _knee(fit: Fit, side: str) -> _Term:
    """A knee lies ahead of the line from hip to ankle, about in the plane of leg and foot.

    Ahead is where foot and pelvis point; that direction is held while the knee moves.
    """
    ahead = unit(_vector(fit, link(f"{side}_foot_index", f"{side}_heel")))
    ahead = ahead + unit(
        np.cross(_vector(fit, _TRUNK), _vector(fit, _HIPS) + _vector(fit, _SHOULDERS))
    )
    leg = unit(_vector(fit, link(f"{side}_ankle", f"{side}_hip")))
    ahead = unit(ahead - np.sum(ahead * leg, axis=1, keepdims=True) * leg)
    aside = np.cross(ahead, leg)
    bow = (link(f"{side}_knee", f"{side}_hip") + link(f"{side}_knee", f"{side}_ankle")) / 2
    vector, thigh = _vector(fit, bow), np.exp(fit.clip[_LENGTH["thigh"]])
    forwards = np.sum(vector * ahead, axis=1, keepdims=True) / (HINGE_SD * thigh)
    sideways = np.sum(vector * aside, axis=1, keepdims=True) / (KNEE_ASIDE_SD * thigh)
    behind = _spread(ahead / (HINGE_SD * thigh), bow) * (forwards < 0)[..., None, None]
    beside = _spread(aside / (KNEE_ASIDE_SD * thigh), bow)
    off = np.concatenate([np.minimum(forwards, 0), sideways], axis=1)
    return _Term(off, np.concatenate([behind, beside], axis=1))


def _standing(film: Film, fit: Fit) -> _Term:
    """Feet that stand are on the ground."""
    scale = film.planted / PLANTED_SD_M
    by_points = np.zeros((len(scale), 4, _N, 3))
    by_points[:, range(4), _FEET, 2] = scale
    by_clip = np.zeros((len(scale), 4, len(fit.clip)))
    by_clip[..., _GROUND] = -scale
    return _Term(
        (fit.xyz_m[:, _FEET, 2] - SOLE_M - fit.clip[_GROUND]) * scale, by_points, by_clip, True
    )


def _placed(film: Film, fit: Fit) -> _Term:
    """The hips are over their place on the ground."""
    hips = np.abs(_HIPS) / 2
    scale = 1 / film.place_sd_m[:, None]
    off = (np.einsum("npi,p->ni", fit.xyz_m, hips)[:, :2] - film.place_m) * scale
    axes = np.broadcast_to(np.eye(3)[:2], (len(off), 2, 3)) * scale[..., None]
    return _Term(off, axes[:, :, None] * hips[:, None])


def _vector(fit: Fit, each: FloatArray) -> FloatArray:
    return np.asarray(each @ fit.xyz_m)


def _spread(by_vector: FloatArray, each: FloatArray) -> FloatArray:
    """``(n, 1, n_points, 3)`` a derivative by a link as one by its points."""
    return by_vector[:, None, None, :] * each[:, None]


def _clip_prior(film: Film, clip: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Residuals of the clip's unknowns, and their derivatives ``(n_rods + 2, n_rods + 2)``."""
    by = np.zeros((_M + 2, _M + 2))
    by[:_M, :_M] = np.eye(_M) / SEGMENT_LOG_SD
    by[:_M, _STATURE] = -1 / SEGMENT_LOG_SD
    by[_STATURE, _STATURE] = 1 / STATURE_LOG_SD
    by[_GROUND, _GROUND] = 1 / film.ground_sd_m
    shares = np.log([rod.share for rod in RODS.values()])
    usual = np.array([*(shares + np.log(STATURE_M)), np.log(STATURE_M), 0.0])
    return by @ (clip - usual), by


# -- between frames ------------------------------------------------------------------------------


def _band(film: Film) -> sparse.csr_array:
    """The quadratic form of accelerations, and of feet that should stand still."""
    n = len(film.t_s)
    step = np.diff(film.t_s)
    first = sparse.diags_array([-1 / step, 1 / step], offsets=[0, 1], shape=(n - 1, n))
    middle = (step[1:] + step[:-1]) / 2
    second = (
        sparse.diags_array([-1 / middle, 1 / middle], offsets=[0, 1], shape=(n - 2, n - 1)) @ first
    )
    sd = np.repeat([ACCELERATION_SD_MPS2[part] for part in PARTS], len(SIDES))
    each = sparse.diags_array(film.news[1:-1]) @ second
    form = sparse.kron(each.T @ each, sparse.diags_array(np.repeat(1 / sd**2, 3)))
    for number, foot in enumerate(_FEET):
        both = np.minimum(film.planted[1:, number], film.planted[:-1, number])
        still = sparse.diags_array(both * film.news[1:] / PLANTED_SD_MPS) @ first
        chosen = np.repeat(np.eye(_N)[foot], 3)
        form = form + sparse.kron(still.T @ still, sparse.diags_array(chosen))
    return sparse.csr_array(form)


def upper_band(form: sparse.csr_array, width: int) -> FloatArray:
    """The upper triangle of a symmetric band as LAPACK stores it, ``(width, size)``."""
    upper = sparse.coo_array(sparse.triu(form))
    stored = np.zeros((width, form.shape[0]))
    stored[width - 1 + upper.row - upper.col, upper.col] = upper.data
    return stored


def band_of_blocks(blocks: FloatArray, width: int) -> FloatArray:
    """Symmetric blocks ``(n, size, size)`` along the diagonal, stored as by :func:`upper_band`."""
    n, size, _ = blocks.shape
    row, col = np.triu_indices(size)
    stored = np.zeros((width, n, size))
    stored[width - 1 + row - col, :, col] = blocks[:, row, col].T
    return stored.reshape(width, n * size)
