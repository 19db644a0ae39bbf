"""The kinematic fit, on bodies put together by hand and filmed by a pinhole camera."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import sparse
from scipy.optimize import approx_fprime
from scipy.spatial.transform import Rotation

from posecheck.body import kinematic_fit
from posecheck.body.kinematic import KinematicStance, _frames, kinematic_stance
from posecheck.body.kinematic_body import LANDMARKS, POINTS, link
from posecheck.body.kinematic_fit import Film, Fit
from posecheck.body.stance import turned_by_ray
from posecheck.body.tuning import STRAIGHT_LEG_DEG
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

T_S = np.arange(0, 1.2, 1 / 30)
TALL_M = 1.80
DEPTH_KEPT = 0.7
"""The pose model of these tests sees depth this much too shallow."""


def squatting(knee_deg: FloatArray, lean_deg: FloatArray, facing_deg: float) -> FloatArray:
    """``(n, n_points, 3)`` a man whose feet stand 0.4 m apart; shank and thigh share the bend.

    Turned by ``facing_deg`` from looking into the camera, which stands at negative y.
    """
    shank, thigh, trunk, wide = (TALL_M * each for each in (0.246, 0.245, 0.288, 0.108))
    half, lean = np.radians(knee_deg) / 2, np.radians(lean_deg)
    body = np.zeros((len(half), len(POINTS), 3))

    def put(name: str, across: float, ahead: FloatArray | float, up: FloatArray | float) -> None:
        for side, sign in (("left", 1.0), ("right", -1.0)):
            body[:, POINTS.index(f"{side}_{name}")] = np.stack(
                np.broadcast_arrays(sign * across, -np.asarray(ahead), up), axis=-1
            )

    knee_z, knee_y = 0.08 + shank * np.cos(half), shank * np.sin(half)
    hip_z, hip_y = knee_z + thigh * np.cos(half), knee_y - thigh * np.sin(half)
    top_z, top_y = hip_z + trunk * np.cos(lean), hip_y + trunk * np.sin(lean)
    put("heel", wide / 2, -0.05, 0.03)
    put("foot_index", wide / 2, 0.2, 0.03)
    put("ankle", wide / 2, 0.0, 0.08)
    put("knee", wide / 2, knee_y, knee_z)
    put("hip", wide / 2, hip_y, hip_z)
    put("shoulder", 0.18, top_y, top_z)
    put("elbow", 0.22, top_y + 0.05, top_z - 0.3)
    put("wrist", 0.22, top_y + 0.3, top_z - 0.25)
    turn = Rotation.from_euler("z", facing_deg, degrees=True).as_matrix()
    return np.asarray(body @ turn.T)


def camera(focal_px: float = 1500.0, height_m: float = 1.6, away_m: float = 6.0) -> Camera:
    """Looks level along y at a man who stands in the origin."""
    matrix = np.array([[focal_px, 0, 960], [0, focal_px, 540], [0, 0, 1.0]])
    level = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    return Camera(matrix, level, np.array([0.0, -away_m, height_m]))


def filmed(body: FloatArray, by: Camera, noise_px: float = 0.0, t_s: FloatArray = T_S) -> PoseTrack:
    """What a pose model would give: places in the picture, and a body that is too flat."""
    n, k = len(body), len(SKELETON)
    xy_px, world_m = np.full((n, k, 2), 900.0), np.zeros((n, k, 3))
    middle = np.array([0.0, 0.0, 1.0])
    xy_px[:] = by.to_image(np.broadcast_to(middle, (n, k, 3)))
    rng = np.random.default_rng(1)
    xy_px[:, LANDMARKS] = by.to_image(body) + rng.normal(0, noise_px, (n, len(POINTS), 2))
    hips = body[:, [POINTS.index("left_hip"), POINTS.index("right_hip")]].mean(axis=1)
    along_sight = turned_by_ray((hips - by.centre_m) @ by.rotation.T)
    seen = (body - hips[:, None]) @ by.rotation.T @ along_sight
    world_m[:, LANDMARKS] = seen * [1, 1, DEPTH_KEPT]
    return PoseTrack(t_s[:n], xy_px, world_m, np.ones((n, k)))


def tripod(n: int) -> CameraMotion:
    return CameraMotion(np.tile(np.eye(3), (n, 1, 1)), np.ones(n, dtype=bool))


def read(pose: PoseTrack, by: Camera) -> KinematicStance:
    return kinematic_stance(pose, by, tripod(len(pose.t_s)))


PUBLISHED_DEG = 7.1
"""Mean error of the pose model's own knees, seen from the side (preprint 102399, JMIR, 2026)."""

BENT = 45 + 20 * np.sin(2 * np.pi * T_S)
FLEXED = BENT - STRAIGHT_LEG_DEG
LEANING = 25 + 10 * np.sin(2 * np.pi * T_S)


@pytest.mark.parametrize("facing_deg", [0, 35, 90, 150, 180])
def test_reads_a_squat_from_every_side(facing_deg: float) -> None:
    by = camera()
    found = read(filmed(squatting(BENT, LEANING, facing_deg), by), by)
    for reads, true in (
        (found.left_knee_deg, FLEXED),
        (found.right_knee_deg, FLEXED),
        (found.trunk_lean_deg, LEANING),
    ):
        assert np.mean(np.abs(reads - true)) < PUBLISHED_DEG
        assert np.corrcoef(reads, true)[0, 1] > 0.95
    assert found.misfit < 0.01


def test_a_straight_leg_reads_nearly_straight() -> None:
    by = camera()
    straight = np.full(len(T_S), STRAIGHT_LEG_DEG)
    found = read(filmed(squatting(straight, straight, 60), by), by)
    assert np.nanmedian(found.knee_bend_deg) < 8


@pytest.mark.parametrize("off", [0.8, 1.25])
def test_bears_a_focal_length_that_is_a_fifth_off(off: float) -> None:
    by = camera()
    pose = filmed(squatting(BENT, LEANING, 35), by)
    found = read(pose, camera(focal_px=1500 * off))
    assert np.abs(np.median(found.knee_bend_deg - FLEXED)) < 6
    assert np.abs(np.median(found.trunk_lean_deg - LEANING)) < 4


def test_left_and_right_change_places_in_a_mirror() -> None:
    by = camera()
    pose = filmed(squatting(BENT, LEANING, 35), by, noise_px=3)
    mirror = SKELETON.mirror
    xy_px = pose.xy_px[:, mirror].copy()
    xy_px[..., 0] = 2 * 960 - xy_px[..., 0]
    mirrored = replace(pose, xy_px=xy_px, world_m=pose.world_m[:, mirror] * [-1, 1, 1])
    one, other = read(pose, by), read(mirrored, by)
    assert_allclose(one.left_knee_deg, other.right_knee_deg, atol=0.5)
    assert_allclose(one.trunk_lean_deg, other.trunk_lean_deg, atol=0.5)


def test_truth_lies_within_the_standard_deviations() -> None:
    by = camera()
    inside = []
    for facing_deg in (0, 60, 120, 180):
        pose = filmed(squatting(BENT, LEANING, facing_deg), by, noise_px=6)
        found = read(pose, by)
        for key, true in (("left_knee_deg", FLEXED), ("trunk_lean_deg", LEANING)):
            inside.append(np.abs(getattr(found, key) - true) < 1.645 * found.sd[key])
    assert np.mean(inside) > 0.85


def test_a_knee_seen_from_the_side_is_surer_than_one_from_the_front() -> None:
    by = camera()
    straight = np.full(len(T_S), 20.0)
    side, front = (read(filmed(squatting(straight, straight, a), by), by) for a in (90, 0))
    assert np.median(side.sd["left_knee_deg"]) < np.median(front.sd["left_knee_deg"])


def test_frames_not_seen_and_clips_too_short_are_not_read() -> None:
    by = camera()
    pose = filmed(squatting(BENT, LEANING, 35), by)
    hidden = pose.xy_px.copy()
    hidden[:10] = hidden[20:23] = np.nan
    found = read(replace(pose, xy_px=hidden), by)
    assert np.isnan(found.knee_bend_deg[:10]).all()
    assert np.isnan(found.knee_bend_deg[20:23]).all()
    assert np.isfinite(found.knee_bend_deg[10:20]).all()
    hidden[:] = np.nan
    nothing = read(replace(pose, xy_px=hidden), by)
    assert np.isnan(nothing.knee_bend_deg).all()
    assert np.isnan(nothing.misfit)


@pytest.mark.parametrize(("rate_hz", "read_every"), [(60, 2), (120, 4), (240, 8)])
def test_of_quick_film_as_much_is_fitted_as_of_slow(rate_hz: int, read_every: int) -> None:
    """The heavy model reads thirty frames a second at any rate of the film."""
    by, t_s = camera(), np.arange(0, T_S[-1] + 0.001, 1 / rate_hz)
    bent = 45 + 20 * np.sin(2 * np.pi * t_s)
    pose = filmed(squatting(bent, bent / 2, 90), by, t_s=t_s)
    read_there = np.arange(len(t_s)) % read_every == 0
    pose = replace(pose, xy_px=np.where(read_there[:, None, None], pose.xy_px, np.nan))
    quick, slow = read(pose, by), read(filmed(squatting(BENT, BENT / 2, 90), by), by)
    assert_allclose(quick.left_knee_deg[read_there], slow.left_knee_deg, atol=1e-6)


@pytest.mark.parametrize("begins_s", [0.0, 7.3, 23.7, 41.1])
def test_at_which_second_of_a_film_a_rep_lies_does_not_matter(begins_s: float) -> None:
    t_s = begins_s + np.arange(40) / 30
    pose = filmed(squatting(np.full(40, 50.0), np.full(40, 30.0), 90.0), camera(), t_s=t_s)
    assert len(_frames(pose, tripod(40), None)) == 21  # every second one, and the last


def test_fits_only_around_the_moment_asked_for() -> None:
    by = camera()
    pose = filmed(squatting(BENT, LEANING, 35), by)
    pose = replace(pose, t_s=pose.t_s * 4)
    found = kinematic_stance(pose, by, tripod(len(T_S)), around_s=2.0)
    read_s = pose.t_s[np.isfinite(found.knee_bend_deg)]
    assert read_s.min() >= 1.0
    assert read_s.max() <= 3.0


# -- the solver ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def film_and_fit() -> tuple[Film, Fit]:
    by = camera()
    body = squatting(BENT[:6], LEANING[:6], 35)
    film = Film(
        t_s=T_S[:6],
        xy_px=by.to_image(body),
        score=np.full((6, len(POINTS)), 0.9),
        height_px=np.full(6, 400.0),
        projection=np.tile(
            np.column_stack([by.matrix @ by.rotation, -by.matrix @ by.rotation @ by.centre_m]),
            (6, 1, 1),
        ),
        model_m=body * [1, DEPTH_KEPT, 1],
        speed=np.full((6, len(POINTS)), 0.1),
        place_m=np.zeros((6, 2)),
        place_sd_m=np.full(6, 0.2),
        ground_sd_m=0.03,
    )
    return film, kinematic_fit.start(film)


def test_the_start_is_seen_where_the_landmarks_are(film_and_fit: tuple[Film, Fit]) -> None:
    film, fit = film_and_fit
    assert_allclose(camera().to_image(fit.xyz_m), film.xy_px, atol=1e-6)


def test_slopes_of_the_terms_are_those_of_scipy(film_and_fit: tuple[Film, Fit]) -> None:
    film, fit = film_and_fit
    size = fit.xyz_m[0].size

    def terms(at: FloatArray) -> list[kinematic_fit._Term]:
        xyz_m = fit.xyz_m.copy()
        xyz_m[2] = at[:size].reshape(xyz_m[2].shape)
        moved = Fit(xyz_m, at[size:], np.inf)
        across = link("right_hip", "left_hip")
        return [
            kinematic_fit._seen(film, moved), *kinematic_fit._rods(film, moved),
            kinematic_fit._square(moved, "pelvis", across),
            kinematic_fit._standing(film, moved), kinematic_fit._placed(film, moved),
        ]  # fmt: skip

    at = np.concatenate([fit.xyz_m[2].ravel(), fit.clip])
    numeric = approx_fprime(at, lambda x: np.concatenate([t.off[2] for t in terms(x)]), 1e-6)
    own = []
    for term in terms(at):
        by_clip = np.broadcast_to(term.by_clip, (6, term.off.shape[1], len(fit.clip)))
        own.append(np.concatenate([term.by_points[2].reshape(-1, size), by_clip[2]], axis=1))
    # The widths' lengths only scale the terms of a square trunk, and are held there.
    square = sum(t.off.shape[1] for t in terms(at)[:-3])
    rows = np.delete(np.arange(len(numeric)), square)
    assert_allclose(np.concatenate(own)[rows], numeric[rows], atol=1e-2, rtol=1e-3)
    assert_allclose(np.concatenate(own)[square, :size], numeric[square, :size], atol=1e-2)


def test_a_step_is_that_of_the_dense_equations(film_and_fit: tuple[Film, Fit]) -> None:
    film, fit = film_and_fit
    form = kinematic_fit._band(film)
    band = kinematic_fit.upper_band(form, film.xy_px[0].size // 2 * 9)
    normal = kinematic_fit._misses(film, fit, form).normal(band)
    width, size = normal.upper.shape
    dense = np.zeros((size, size))
    for offset in range(width):
        row = normal.upper[width - 1 - offset, offset:]
        dense += np.diag(row, offset) + (np.diag(row, -offset) if offset else 0)
    whole = np.block([[dense, normal.border], [normal.border.T, normal.corner]])
    expected = np.linalg.solve(whole, -np.concatenate([normal.slope_x, normal.slope_c]))
    assert_allclose(np.concatenate(normal.step(0.0)), expected, rtol=1e-5, atol=1e-8)

    covariance = np.linalg.inv(whole)[:size, :size]
    draws = normal.draws(4000, np.random.default_rng(0))
    assert_allclose(draws.std(axis=0), np.sqrt(np.diag(covariance)), rtol=0.1)


def test_a_band_is_stored_as_scipy_reads_it() -> None:
    from scipy.linalg import solveh_banded

    form = sparse.csr_array(np.array([[4.0, 1, 0], [1, 5, 2], [0, 2, 6]]))
    stored = kinematic_fit.upper_band(form, 2)
    right = np.array([1.0, 2, 3])
    assert_allclose(solveh_banded(stored, right), np.linalg.solve(form.toarray(), right))
