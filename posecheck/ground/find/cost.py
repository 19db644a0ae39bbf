"""How much speaks against a way of naming things: places, sizes, what is missing or strange."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.camera.pinhole import Camera
from posecheck.ground.find.things import Optics, Things, beliefs, expected_px, expected_sd_px
from posecheck.maths.arrays import FloatArray, IntArray
from posecheck.practice.field import GOAL_HEIGHT_M

Mask = npt.NDArray[np.bool_]

CONE_WIDTH_M, CONE_WIDTH_SD_LOG = 0.20, 0.5
"""From a beaker to a traffic cone. Common practice, no source."""

SAME_WIDTH_SD = 0.12
"""Cones of one practice look this equal in width, besides what pixels and edges hide."""

WIDTH_SD_PX = 2.0

MISSING_COST = 4.0
"""A cone that should be in the picture but is not: somebody stands before it, or it was not laid
out."""

STRANGE_COST = 5.0
"""A coloured thing that is no cone of the layout: chance puts few of them anywhere, and hardly
ever one where a cone is expected."""

MIN_DEPTH_M = 0.5


@dataclass(frozen=True)
class Naming:
    """Things given names of the layout, and the camera that follows.

    Attributes:
        points: by name, which thing: the number of a spot, or of a post after all spots.
        camera: in pixels of the picture the spots were found in.
        xy_px: by name, where its middle on the ground is seen.
        cost: how much speaks against it.
        worst_sd: how far off the worst thing is, in standard deviations.
        n_missing: cones that should be in the picture.
    """

    points: dict[str, int]
    camera: Camera
    xy_px: dict[str, tuple[float, float]]
    cost: float
    worst_sd: float
    n_missing: int


def weighed(
    parameters: FloatArray,
    names: IntArray,
    things: Things,
    optics: Optics,
    seen: Mask,
) -> Naming:
    """Weigh one fit.

    Args:
        parameters: ``(7,)`` of the camera.
        names: for each name the thing it was given to, -1 for none.
        things: all there are.
        optics: of the picture.
        seen: ``(height, width)`` where the picture shows anything.
    """
    one = parameters[None]
    camera = optics.camera(parameters)
    is_named = names >= 0
    chosen = names[is_named]
    rows = np.flatnonzero(is_named)
    expected = expected_px(one, things, optics)[0, rows, chosen]
    middle, depth = optics.project(one, things.xyz_m[None])
    sd = expected_sd_px(one, things, optics)[0, rows, chosen]
    off = np.linalg.norm(expected - things.xy_px[chosen], axis=1) / sd
    cost = 0.5 * float(np.sum(off**2) + np.sum(beliefs(one) ** 2))
    cost += _unequal(things, chosen, depth[0, rows], camera.focal_px)
    cost += _post_heights(things, chosen, rows, camera)
    unnamed_spots = set(range(things.n_spots)) - set(chosen.tolist())
    cost += STRANGE_COST * len(unnamed_spots)
    n_missing = _missing(things, is_named, middle[0], depth[0], seen)
    cost += MISSING_COST * n_missing
    base = things.xy_px[chosen] - (expected - middle[0, rows])
    called = [things.names[row] for row in rows]
    return Naming(
        points={name: int(things.number[i]) for name, i in zip(called, chosen, strict=True)},
        camera=camera,
        xy_px={name: (float(x), float(y)) for name, (x, y) in zip(called, base, strict=True)},
        cost=cost,
        worst_sd=float(off.max()),
        n_missing=n_missing,
    )


def _unequal(things: Things, chosen: IntArray, depth: FloatArray, focal_px: float) -> float:
    """What speaks against these widths: cones of one practice are alike, and of a known kind."""
    use = things.whole[chosen]
    if not use.any():
        return 0.0
    width_px = things.width_px[chosen][use]
    log_width = np.log(width_px * depth[use] / focal_px)
    sd = np.hypot(SAME_WIDTH_SD, WIDTH_SD_PX / width_px)
    mean = np.average(log_width, weights=1 / sd**2)
    # Soft: a cone half hidden by a foot may spoil one width, not a fit.
    unlike = 2 * (np.sqrt(1 + ((log_width - mean) / sd) ** 2) - 1)
    belief = (mean - np.log(CONE_WIDTH_M)) / CONE_WIDTH_SD_LOG
    return float(0.5 * np.sum(unlike) * 2 + 0.5 * belief**2)


def _post_heights(things: Things, chosen: IntArray, rows: IntArray, camera: Camera) -> float:
    cost = 0.0
    for thing, row in zip(chosen, rows, strict=True):
        if thing < things.n_spots:
            continue
        top = camera.to_image(things.xyz_m[row] + np.array([0, 0, GOAL_HEIGHT_M]))
        tall = things.xy_px[thing, 1] - top[1]
        cost += 2 * (np.sqrt(1 + (np.log(max(tall, 1) / things.height_px[thing]) / 0.08) ** 2) - 1)
    return float(cost)


def _missing(
    things: Things, is_named: Mask, middle_px: FloatArray, depth: FloatArray, seen: Mask
) -> int:
    """Cones that are well inside the picture by this camera but have no thing to them."""
    cone = np.arange(len(is_named)) < things.n_cones
    inside = [
        bool(d > MIN_DEPTH_M and shown(seen, xy, margin=0.02 * seen.shape[1]))
        for xy, d in zip(middle_px, depth, strict=True)
    ]
    return int(np.sum(np.array(inside) & cone & ~is_named))


def shown(seen: Mask, xy_px: FloatArray, margin: float = 0.0) -> bool:
    """Whether the picture shows a place, and so much around it."""
    corners = xy_px + margin * np.array([[0, 0], [-1, 0], [1, 0], [0, -1], [0, 1]])
    if not np.all((corners >= 0) & (corners <= np.array(seen.shape[::-1]) - 1)):
        return False
    columns, rows = corners.astype(int).T
    return bool(seen[rows, columns].all())
