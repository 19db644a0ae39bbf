"""Which cone is which: fit coloured things in a picture to a layout, under a phone's camera.

Three things on three points of the layout fix a camera of known focal length up to four ways
(cv2.solveP3P). All ways of naming three are tried; what a phone could not be (upside down, under
the ground, on a tower) and what makes cones of unequal size is dropped; the rest is refined and
weighed. A cost is minus a logarithm of likelihood, up to a constant, so that two fits are compared
by subtraction.
"""

from __future__ import annotations

from itertools import combinations, permutations

import numpy as np
import numpy.typing as npt
from scipy.spatial.transform import Rotation

from posecheck.ground.find.blobs import Spots
from posecheck.ground.find.cost import Naming, weighed
from posecheck.ground.find.things import (
    Optics,
    Things,
    beliefs,
    expected_px,
    expected_sd_px,
    roll_tilt,
)
from posecheck.ground.from_points import FOCAL_PRIOR
from posecheck.maths.arrays import FloatArray, IntArray
from posecheck.practice.layout import Layout

MIN_NAMED = 4
"""Named points that a camera is taken from, as many as marks by hand."""

FOCALS = (0.55, 0.66, 0.78, 0.93, 1.15, 1.5)
"""Focal lengths over the longer side to start from: 84 to 37 degrees across."""

HEIGHT_RANGE_M = (0.5, 10.0)
MAX_ROLL = np.radians(10)
TILT_RANGE = (np.radians(-15), np.radians(60))
MAX_AWAY_M = 60.0

MAX_WIDTH_RATIO = 2.2
"""Between the widest and the narrowest of three cones while a rough camera is tried."""

NEAR = 0.06
"""Of the picture's width: a thing so near to where a rough camera expects a cone may be it."""

SURE_NEAR_SD = 4.0
"""The same for a refined camera, in standard deviations."""

KEPT = 40
"""Fits that are looked at closely."""


def name_spots(
    spots: Spots,
    layout: Layout,
    size_px: tuple[int, int],
    middle_px: FloatArray,
    seen: npt.NDArray[np.bool_],
) -> list[Naming]:
    """The likeliest ways to give names of the layout to things in a picture, best first.

    Args:
        spots: the things.
        layout: the points.
        size_px: width and height of one frame of the film.
        middle_px: ``(2,)`` where the frame's middle is in the picture.
        seen: ``(height, width)`` where the picture shows anything.
    """
    things = Things(spots, layout)
    optics = Optics(max(size_px), middle_px)
    rough = _rough_cameras(things, optics)
    if not len(rough):
        return []
    names = _named(rough, things, optics, NEAR * size_px[0] * np.ones(len(things.xy_px)))
    for last in (False, False, True):
        names, first = np.unique(names, axis=0, return_index=True)
        rough = rough[first]
        enough = (names >= 0).sum(axis=1) >= MIN_NAMED
        names, rough = names[enough], rough[enough]
        if not len(rough):
            return []
        rough = _refined(rough, names, things, optics, 6 if not last else 10)
        good = _possible(rough)
        names, rough = names[good], rough[good]
        if not last:
            names = _named(
                rough, things, optics, SURE_NEAR_SD * expected_sd_px(rough, things, optics)
            )
    namings = [weighed(p, n, things, optics, seen) for p, n in zip(rough, names, strict=True)]
    return sorted(namings, key=lambda naming: naming.cost)[:KEPT]


def _rough_cameras(things: Things, optics: Optics) -> FloatArray:
    """``(n, 7)`` every camera that puts three things on three points."""
    import cv2

    found = []
    for three, names in _triples(things):
        turning = _turning(things.xyz_m[names, :2])
        if abs(turning) < 1.0 or turning * _turning(things.xy_px[three]) > 0:
            # Seen from above, y down: a true picture turns the other way round in pixels.
            continue
        for focal in FOCALS:
            matrix = optics.camera(np.array([np.log(focal), 0, 0, 0, 0, 0, 0])).matrix
            n, turns, shifts = cv2.solveP3P(
                things.xyz_m[names], things.xy_px[three], matrix, None, flags=cv2.SOLVEPNP_P3P
            )
            for turn, shift in zip(turns[:n], shifts[:n], strict=True):
                found.append(
                    np.concatenate([[np.log(focal)], turn.ravel(), shift.ravel(), three, names])
                )
    if not found:
        return np.empty((0, 7))
    table = np.array(found)
    turns = Rotation.from_rotvec(table[:, 1:4])
    table[:, 4:7] = -turns.inv().apply(table[:, 4:7])
    good = _possible(table[:, :7]) & np.isfinite(table).all(axis=1)
    table = table[good]
    three, names = table[:, 7:10].astype(int), table[:, 10:].astype(int)
    _, depth = optics.project(table[:, :7], things.xyz_m[names])
    width = things.width_px[three] * depth
    width[~things.whole[three]] = np.nan
    with np.errstate(invalid="ignore"):
        unequal = np.fmax.reduce(width, axis=1) / np.fmin.reduce(width, axis=1)
    return np.asarray(table[~(unequal > MAX_WIDTH_RATIO), :7])


def _triples(things: Things) -> list[tuple[list[int], list[int]]]:
    """Three things with three names, all ways that kinds allow."""
    spots, posts = range(things.n_spots), range(things.n_spots, len(things.xy_px))
    cones, bars = range(things.n_cones), range(things.n_cones, len(things.names))
    triples = []
    for n_posts in (0, 2):
        for named in combinations(cones, 3 - n_posts):
            for bar in combinations(bars, n_posts):
                for spot in permutations(spots, 3 - n_posts):
                    for post in permutations(posts, n_posts):
                        triples.append(([*spot, *post], [*named, *bar]))
    return triples


def _turning(xy: FloatArray) -> float:
    """Twice the area of a triangle, positive when it turns anticlockwise with y up."""
    a, b = xy[1] - xy[0], xy[2] - xy[0]
    return float(a[0] * b[1] - a[1] * b[0])


def _possible(parameters: FloatArray) -> npt.NDArray[np.bool_]:
    """``(n,)`` whether a phone could be held so."""
    roll, tilt = roll_tilt(parameters)
    height = parameters[:, 6]
    return np.asarray(
        (HEIGHT_RANGE_M[0] <= height)
        & (height <= HEIGHT_RANGE_M[1])
        & (np.abs(roll) <= MAX_ROLL)
        & (TILT_RANGE[0] <= tilt)
        & (tilt <= TILT_RANGE[1])
        & (np.linalg.norm(parameters[:, 4:6], axis=1) <= MAX_AWAY_M)
        & (np.abs(parameters[:, 0] - np.log(FOCAL_PRIOR)) < 1.0)
    )


def _named(
    parameters: FloatArray, things: Things, optics: Optics, within_px: FloatArray
) -> IntArray:
    """``(n, names)`` the thing nearest to where each name is expected, -1 for none.

    Only where each is the other's nearest.
    """
    expected = expected_px(parameters, things, optics)  # (n, names, things, 2)
    away = np.linalg.norm(expected - things.xy_px, axis=-1)
    away[:, ~things.may_be] = np.inf
    away[away > within_px] = np.inf
    nearest = away.argmin(axis=2)
    back = np.take_along_axis(away.argmin(axis=1), nearest, axis=1)
    mutual = back == np.arange(len(things.names))
    some = np.isfinite(np.take_along_axis(away, nearest[..., None], axis=2)[..., 0])
    return np.where(mutual & some, nearest, -1)


def _refined(
    parameters: FloatArray, names: IntArray, things: Things, optics: Optics, steps: int
) -> FloatArray:
    """Gauss-Newton with damping on all cameras at once: named things and beliefs."""
    rows = np.arange(len(parameters))[:, None]
    columns = np.arange(names.shape[1])
    is_named = names >= 0

    def misses(p: FloatArray) -> FloatArray:
        expected = expected_px(p, things, optics)[rows, columns, names]
        sd = expected_sd_px(p, things, optics)[rows, columns, names]
        off = np.where(is_named[..., None], (expected - things.xy_px[names]) / sd[..., None], 0.0)
        return np.column_stack([off.reshape(len(p), -1), beliefs(p)])

    scale = np.array([0.1, 0.05, 0.05, 0.05, 0.5, 0.5, 0.5])
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
