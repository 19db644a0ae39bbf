"""Cost of assigning blobs to points: places, sizes, what is missing or unexplained.

A cost is minus a logarithm of likelihood, up to a constant.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.ground.find.candidates import (
    Candidates,
    Optics,
    expected_px,
    expected_sd_px,
    prior_misses,
)
from posecheck.ground.find.tuning import (
    CONE_WIDTH_LOG_SD,
    CONE_WIDTH_M,
    MIN_DEPTH_M,
    MISSING_COST,
    POST_HEIGHT_LOG_SD,
    SAME_WIDTH_LOG_SD,
    SHOWN_MARGIN,
    UNEXPLAINED_COST,
    WIDTH_SD_PX,
)
from posecheck.maths.arrays import BoolArray, FloatArray, IntArray
from posecheck.practice.field import GOAL_HEIGHT_M


@dataclass(frozen=True)
class Assignment:
    """Blobs assigned to points of the layout, and the camera calibrated by them.

    Attributes:
        points: by name, the number of a blob, or of a post after all blobs.
        camera: in pixels of the picture the blobs were found in.
        xy_px: by name, where its middle on the ground is seen.
        cost: minus the logarithm of its likelihood, up to a constant.
        worst_sds: largest reprojection error, in standard deviations.
        n_missing: cones that should be in the picture but have no blob.
    """

    points: dict[str, int]
    camera: Camera
    xy_px: dict[str, tuple[float, float]]
    cost: float
    worst_sds: float
    n_missing: int


def assignment(
    parameters: FloatArray,
    assigned: IntArray,
    candidates: Candidates,
    optics: Optics,
    seen: BoolArray,
) -> Assignment:
    """One assignment with its cost.

    Args:
        parameters: ``(7,)`` of the camera.
        assigned: for each name the candidate it is assigned to, -1 for none.
        candidates: blobs, posts and names.
        optics: of the picture.
        seen: ``(height, width)`` True where the picture shows anything.
    """
    one = parameters[None]
    camera = optics.camera(parameters)
    is_assigned = assigned >= 0
    chosen = assigned[is_assigned]
    rows = np.flatnonzero(is_assigned)
    expected = expected_px(one, candidates, optics)[0, rows, chosen]
    middle, depth = optics.project(one, candidates.xyz_m[None])
    sd = expected_sd_px(one, candidates, optics)[0, rows, chosen]
    off = np.linalg.norm(expected - candidates.xy_px[chosen], axis=1) / sd
    cost = 0.5 * float(np.sum(off**2) + np.sum(prior_misses(one) ** 2))
    cost += _unequal(candidates, chosen, depth[0, rows], camera.focal_px)
    cost += _post_heights(candidates, chosen, rows, camera)
    unexplained = set(range(candidates.n_blobs)) - set(chosen.tolist())
    cost += UNEXPLAINED_COST * len(unexplained)
    n_missing = _missing(candidates, is_assigned, middle[0], depth[0], seen)
    cost += MISSING_COST * n_missing
    base = candidates.xy_px[chosen] - (expected - middle[0, rows])
    names = [candidates.names[row] for row in rows]
    return Assignment(
        points={name: int(candidates.number[i]) for name, i in zip(names, chosen, strict=True)},
        camera=camera,
        xy_px={name: (float(x), float(y)) for name, (x, y) in zip(names, base, strict=True)},
        cost=cost,
        worst_sds=float(off.max()),
        n_missing=n_missing,
    )


def _unequal(candidates: Candidates, chosen: IntArray, depth: FloatArray, focal_px: float) -> float:
    """Cost of these widths: cones of one practice are equally wide, and of a known kind."""
    use = candidates.whole[chosen]
    if not use.any():
        return 0.0
    width_px = candidates.width_px[chosen][use]
    log_width = np.log(width_px * depth[use] / focal_px)
    sd = np.hypot(SAME_WIDTH_LOG_SD, WIDTH_SD_PX / width_px)
    mean = np.average(log_width, weights=1 / sd**2)
    # Soft: a cone half occluded by a foot may degrade one width, not a fit.
    unlike = 2 * (np.sqrt(1 + ((log_width - mean) / sd) ** 2) - 1)
    usual = (mean - np.log(CONE_WIDTH_M)) / CONE_WIDTH_LOG_SD
    return float(0.5 * np.sum(unlike) * 2 + 0.5 * usual**2)


def _post_heights(
    candidates: Candidates, chosen: IntArray, rows: IntArray, camera: Camera
) -> float:
    """Cost of the posts' heights in the picture."""
    cost = 0.0
    for candidate, row in zip(chosen, rows, strict=True):
        if candidate < candidates.n_blobs:
            continue
        top = camera.to_image(candidates.xyz_m[row] + np.array([0, 0, GOAL_HEIGHT_M]))
        tall = candidates.xy_px[candidate, 1] - top[1]
        off = np.log(max(tall, 1) / candidates.height_px[candidate]) / POST_HEIGHT_LOG_SD
        cost += 2 * (np.sqrt(1 + off**2) - 1)
    return float(cost)


def _missing(
    candidates: Candidates,
    is_assigned: BoolArray,
    middle_px: FloatArray,
    depth: FloatArray,
    seen: BoolArray,
) -> int:
    """Number of cones that this camera sees well inside the picture but that have no blob."""
    cone = np.arange(len(is_assigned)) < candidates.n_cones
    inside = [
        bool(d > MIN_DEPTH_M and shown(seen, xy, margin=SHOWN_MARGIN * seen.shape[1]))
        for xy, d in zip(middle_px, depth, strict=True)
    ]
    return int(np.sum(np.array(inside) & cone & ~is_assigned))


def shown(seen: BoolArray, xy_px: FloatArray, margin: float = 0.0) -> bool:
    """Whether the picture shows a place ``(2,)``, with a margin in pixels around it."""
    corners = xy_px + margin * np.array([[0, 0], [-1, 0], [1, 0], [0, -1], [0, 1]])
    if not np.all((corners >= 0) & (corners <= np.array(seen.shape[::-1]) - 1)):
        return False
    columns, rows = corners.astype(int).T
    return bool(seen[rows, columns].all())
