"""Cameras of every lens that look at a field, and the marks somebody would set in their pictures.

No film: a camera drawn at random, the points of the closeout layout that it shows, each placed a
little off on the ground and clicked a little off in the picture.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from models.data.other_lens import bent
from posecheck.camera.lens import USUAL_LENS, Lens
from posecheck.camera.pinhole import Camera
from posecheck.errors import SettingsError
from posecheck.ground.from_points import ground_from_marks
from posecheck.maths.arrays import FloatArray
from posecheck.practice.field import closeout_layout
from posecheck.practice.layout import Layout, Point
from posecheck.practice.notes import View

COUNTS = (4, 5, 6, 8)
SIZE_PX = (1920, 1080)
AIM_M = (0.0, 8.0, 0.5)
"""Where cameras look: the middle of a closeout."""
EDGE_PX = 8
RUN_M = 8.0
"""Length of the run whose length is checked."""
STEEPEST_DEG = 45.0


@dataclass(frozen=True)
class MarkedView:
    """A known camera, and a view of a layout marked in its picture.

    Attributes:
        camera: the pinhole, without the distortion.
        focal: over the longer side.
        edge_share: how far distortion moves a point at the edge of the longer side, as a share.
        layout: as the practice says it is.
        view: marks.
        run_m: ``(2, 3)`` ends of a run on the ground.
        run_px: ``(2, 2)`` where they are seen.
    """

    camera: Camera
    focal: float
    edge_share: float
    layout: Layout
    view: View
    run_m: FloatArray
    run_px: FloatArray


@dataclass(frozen=True)
class MarkedOutcome:
    """What was made of a marked view.

    Attributes:
        marks: number of them.
        focal, edge_share: of the true lens.
        refused: why, None when not.
        focal_off: logarithm of the focal length found over the true one.
        focal_sd: the standard deviation given for it.
        length_off: share by which the run's length is off.
        length_sd: the standard deviation given for it.
        end_off_m: how far off the run's far end is.
    """

    marks: int
    focal: float
    edge_share: float
    refused: str | None
    focal_off: float = np.nan
    focal_sd: float = np.nan
    length_off: float = np.nan
    length_sd: float = np.nan
    end_off_m: float = np.nan


def marked_views(count: int, seed: int, distorted: bool) -> Iterator[MarkedView]:
    """So many views, of 4, 5, 6 and 8 marks in turn."""
    rng = np.random.default_rng(seed)
    made = 0
    while made < count:
        drawn = _marked_view(COUNTS[made % len(COUNTS)], rng, distorted)
        if drawn is not None:
            made += 1
            yield drawn


def _marked_view(n_marks: int, rng: np.random.Generator, distorted: bool) -> MarkedView | None:
    focal = float(np.exp(rng.uniform(np.log(0.6), np.log(2.5))))
    height = float(np.exp(rng.uniform(np.log(0.5), np.log(8.0))))
    distance = float(np.exp(rng.uniform(np.log(8.0), np.log(60.0))))
    if height > np.tan(np.radians(STEEPEST_DEG)) * distance:
        return None
    side = rng.uniform(0, 2 * np.pi)
    aim = np.array(AIM_M)
    aim[:2] += rng.normal(0, 1.0, 2)
    centre = np.array(
        [AIM_M[0] + distance * np.cos(side), AIM_M[1] + distance * np.sin(side), height]
    )
    camera = _looking(centre, aim, float(np.radians(rng.normal(0, 1.5))), focal)
    edge_share = float(rng.uniform(-0.03, 0.015)) if distorted else 0.0
    k1 = edge_share * (2 * focal) ** 2
    layout = closeout_layout()
    seen: dict[str, FloatArray] = {}
    place_sd, click_sd = rng.uniform(0.01, 0.03), rng.uniform(0.7, 1.5)
    for name, xy in layout.points.items():
        there = np.array([*(np.array(xy) + rng.normal(0, place_sd, 2)), 0.0])
        at = bent(camera.to_image(there), camera, k1) + rng.normal(0, click_sd, 2)
        if np.all((at >= EDGE_PX) & (at <= np.array(SIZE_PX) - 1 - EDGE_PX)):
            seen[name] = at
    if len(seen) < n_marks:
        return None
    names = rng.choice(sorted(seen), n_marks, replace=False)
    marks: dict[str, Point] = {
        str(name): (float(seen[name][0]), float(seen[name][1])) for name in names
    }
    heading = rng.uniform(0, 2 * np.pi)
    half = RUN_M / 2 * np.array([np.cos(heading), np.sin(heading), 0.0])
    middle = np.array([AIM_M[0], AIM_M[1], 0.0])
    run = np.stack([middle - half, middle + half])
    run_px = bent(camera.to_image(run), camera, k1)
    if not np.all((run_px >= 0) & (run_px <= np.array(SIZE_PX) - 1)):
        return None
    return MarkedView(
        camera, focal, edge_share, layout, View("drawn", SIZE_PX, 0.0, marks), run, run_px
    )


def _looking(centre_m: FloatArray, aim_m: FloatArray, roll: float, focal: float) -> Camera:
    forward = (aim_m - centre_m) / np.linalg.norm(aim_m - centre_m)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    turned = np.stack(
        [
            np.cos(roll) * right + np.sin(roll) * down,
            np.cos(roll) * down - np.sin(roll) * right,
            forward,
        ]
    )
    focal_px = focal * max(SIZE_PX)
    matrix = np.array(
        [[focal_px, 0, (SIZE_PX[0] - 1) / 2], [0, focal_px, (SIZE_PX[1] - 1) / 2], [0, 0, 1]]
    )
    return Camera(matrix, turned, centre_m)


def outcome(drawn: MarkedView, lens: Lens = USUAL_LENS) -> MarkedOutcome:
    """Fit the ground to the marks of one view, and measure a run on it."""
    blank = (len(drawn.view.marks), drawn.focal, drawn.edge_share)
    try:
        ground = ground_from_marks(drawn.view, drawn.layout, SIZE_PX, lens)
    except SettingsError as error:
        return MarkedOutcome(*blank, str(error))
    ends = ground.camera.to_ground(drawn.run_px)
    way = ends[1] - ends[0]
    if not np.isfinite(way).all():
        return MarkedOutcome(*blank, "the run is above the horizon")
    assert ground.lens is not None
    length_sd = float(ground.relative_sd(ends.mean(axis=0), way))
    away = np.linalg.norm(ends - drawn.run_m[:, :2], axis=1)
    return MarkedOutcome(
        *blank,
        None,
        float(np.log(ground.lens.focal / drawn.focal)),
        ground.lens.log_sd,
        float(np.linalg.norm(way) / RUN_M - 1),
        length_sd,
        float(away.max()),
    )
