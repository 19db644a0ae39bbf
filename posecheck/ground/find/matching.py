"""Which cone is which: assign coloured blobs to the points of a layout, under a phone's camera.

Three blobs on three points of the layout determine a camera of known focal length up to four
solutions (cv2.solveP3P). All assignments of three are tried; cameras that no phone could be (upside
down, under the ground, on a tower) and those that make cones of unequal size are dropped; the rest
are refined and their costs worked out.
"""

from __future__ import annotations

from itertools import combinations, permutations

import numpy as np
from scipy.spatial.transform import Rotation

from posecheck.camera.phone import PHONE
from posecheck.camera.tuning import SEARCH_SDS
from posecheck.ground.find.blobs import Blobs
from posecheck.ground.find.candidates import (
    Candidates,
    Optics,
    expected_px,
    expected_sd_px,
    prior_misses,
)
from posecheck.ground.find.cost import Assignment, assignment
from posecheck.ground.find.tuning import (
    FIRST_STEPS,
    KEPT_ASSIGNMENTS,
    LAST_STEPS,
    MAX_AWAY_M,
    MAX_WIDTH_RATIO,
    MIN_ASSIGNED,
    MIN_TRIANGLE_M2,
    PARAMETER_SCALE,
    REFINED_NEAR_SDS,
    ROUGH_NEAR,
)
from posecheck.maths.arrays import BoolArray, FloatArray, IntArray
from posecheck.practice.layout import Layout


def assignments(
    blobs: Blobs,
    layout: Layout,
    size_px: tuple[int, int],
    middle_px: FloatArray,
    seen: BoolArray,
) -> list[Assignment]:
    """The likeliest assignments of blobs in a picture to points of the layout, best first.

    Args:
        blobs: in the picture.
        layout: the points.
        size_px: width and height of one frame of the film.
        middle_px: ``(2,)`` the frame's middle, in pixels of the picture.
        seen: ``(height, width)`` True where the picture shows anything.
    """
    candidates = Candidates(blobs, layout)
    optics = Optics(max(size_px), middle_px)
    rough = _rough_cameras(candidates, optics)
    if not len(rough):
        return []
    within_px = ROUGH_NEAR * size_px[0] * np.ones(len(candidates.xy_px))
    assigned = _mutually_nearest(rough, candidates, optics, within_px)
    for last in (False, False, True):
        assigned, first = np.unique(assigned, axis=0, return_index=True)
        rough = rough[first]
        enough = (assigned >= 0).sum(axis=1) >= MIN_ASSIGNED
        assigned, rough = assigned[enough], rough[enough]
        if not len(rough):
            return []
        steps = LAST_STEPS if last else FIRST_STEPS
        rough = _refined(rough, assigned, candidates, optics, steps)
        good = _possible(rough)
        assigned, rough = assigned[good], rough[good]
        if not last:
            within_px = REFINED_NEAR_SDS * expected_sd_px(rough, candidates, optics)
            assigned = _mutually_nearest(rough, candidates, optics, within_px)
    found = [
        assignment(camera, each, candidates, optics, seen)
        for camera, each in zip(rough, assigned, strict=True)
    ]
    return sorted(found, key=lambda each: each.cost)[:KEPT_ASSIGNMENTS]


def _rough_cameras(candidates: Candidates, optics: Optics) -> FloatArray:
    """``(n, 7)`` every camera that puts three candidates on three points."""
    import cv2

    found = []
    for three, names in _triples(candidates):
        turning = _turning(candidates.xyz_m[names, :2])
        if abs(turning) < MIN_TRIANGLE_M2 or turning * _turning(candidates.xy_px[three]) > 0:
            # Seen from above, y down: in a true picture the turn is reversed in pixels.
            continue
        for log_focal in PHONE.start_log_focals:
            matrix = optics.camera(np.array([log_focal, 0, 0, 0, 0, 0, 0])).matrix
            n, turns, shifts = cv2.solveP3P(
                candidates.xyz_m[names],
                candidates.xy_px[three],
                matrix,
                None,
                flags=cv2.SOLVEPNP_P3P,
            )
            for turn, shift in zip(turns[:n], shifts[:n], strict=True):
                found.append(
                    np.concatenate([[log_focal], turn.ravel(), shift.ravel(), three, names])
                )
    if not found:
        return np.empty((0, 7))
    table = np.array(found)
    turns = Rotation.from_rotvec(table[:, 1:4])
    table[:, 4:7] = -turns.inv().apply(table[:, 4:7])
    good = _possible(table[:, :7]) & np.isfinite(table).all(axis=1)
    table = table[good]
    three, names = table[:, 7:10].astype(int), table[:, 10:].astype(int)
    _, depth = optics.project(table[:, :7], candidates.xyz_m[names])
    width = candidates.width_px[three] * depth
    width[~candidates.whole[three]] = np.nan
    with np.errstate(invalid="ignore"):
        unequal = np.fmax.reduce(width, axis=1) / np.fmin.reduce(width, axis=1)
    return np.asarray(table[~(unequal > MAX_WIDTH_RATIO), :7])


def _triples(candidates: Candidates) -> list[tuple[list[int], list[int]]]:
    """Three candidates with three names, all combinations whose kinds agree."""
    blobs, posts = range(candidates.n_blobs), range(candidates.n_blobs, len(candidates.xy_px))
    cones, goal = range(candidates.n_cones), range(candidates.n_cones, len(candidates.names))
    triples = []
    for n_posts in (0, 2):
        for named in combinations(cones, 3 - n_posts):
            for side in combinations(goal, n_posts):
                for blob in permutations(blobs, 3 - n_posts):
                    for post in permutations(posts, n_posts):
                        triples.append(([*blob, *post], [*named, *side]))
    return triples


def _turning(xy: FloatArray) -> float:
    """Twice the area of a triangle, positive when it turns anticlockwise with y up."""
    a, b = xy[1] - xy[0], xy[2] - xy[0]
    return float(a[0] * b[1] - a[1] * b[0])


def _possible(parameters: FloatArray) -> BoolArray:
    """``(n,)`` whether a phone could be there and be held so."""
    near = np.abs(prior_misses(parameters)) <= SEARCH_SDS
    away_m = np.linalg.norm(parameters[:, 4:6], axis=1)
    return np.asarray(near.all(axis=1) & (away_m <= MAX_AWAY_M))


def _mutually_nearest(
    parameters: FloatArray, candidates: Candidates, optics: Optics, within_px: FloatArray
) -> IntArray:
    """``(n, names)`` the candidate nearest to where each name is expected, -1 for none.

    Only where each is the other's nearest, within ``(k,)`` or ``(n, names, k)`` pixels.
    """
    expected = expected_px(parameters, candidates, optics)  # (n, names, k, 2)
    away = np.linalg.norm(expected - candidates.xy_px, axis=-1)
    away[:, ~candidates.may_be] = np.inf
    away[away > within_px] = np.inf
    nearest = away.argmin(axis=2)
    back = np.take_along_axis(away.argmin(axis=1), nearest, axis=1)
    mutual = back == np.arange(len(candidates.names))
    some = np.isfinite(np.take_along_axis(away, nearest[..., None], axis=2)[..., 0])
    return np.where(mutual & some, nearest, -1)


def _refined(
    parameters: FloatArray, assigned: IntArray, candidates: Candidates, optics: Optics, steps: int
) -> FloatArray:
    """Damped Gauss-Newton on all cameras at once: reprojection errors and the prior of a phone."""
    rows = np.arange(len(parameters))[:, None]
    columns = np.arange(assigned.shape[1])
    is_assigned = assigned >= 0

    def misses(p: FloatArray) -> FloatArray:
        expected = expected_px(p, candidates, optics)[rows, columns, assigned]
        sd = expected_sd_px(p, candidates, optics)[rows, columns, assigned]
        error = (expected - candidates.xy_px[assigned]) / sd[..., None]
        off = np.where(is_assigned[..., None], error, 0.0)
        return np.column_stack([off.reshape(len(p), -1), prior_misses(p)])

    scale = PARAMETER_SCALE
    damping = np.full(len(parameters), 1e-2)
    now = misses(parameters)
    cost = np.sum(now**2, axis=1)
    for _ in range(steps):
        jacobian = np.stack(
            [(misses(parameters + 1e-4 * scale[i] * np.eye(7)[i]) - now) / 1e-4 for i in range(7)],
            axis=2,
        )
        normal = np.einsum("nmi,nmj->nij", jacobian, jacobian)
        normal += damping[:, None, None] * np.eye(7) * (1 + np.einsum("nii->ni", normal))[:, None]
        slope = np.einsum("nmi,nm->ni", jacobian, now)
        trial = parameters - scale * np.linalg.solve(normal, slope[..., None])[..., 0]
        after = misses(trial)
        after_cost = np.sum(after**2, axis=1)
        better = after_cost < cost
        parameters = np.where(better[:, None], trial, parameters)
        now = np.where(better[:, None], after, now)
        cost = np.where(better, after_cost, cost)
        damping = np.clip(np.where(better, damping / 5, damping * 10), 1e-6, 1e3)
    return parameters
