"""The net that reads from a body how high the lines of sight to his feet pass below the hips."""

from __future__ import annotations

import numpy as np

from models.data.stills import Cast
from models.fit.folds import Kind, mirrored
from models.recipe import Fit
from posecheck.body.foot_sight import OUTPUTS, FootSight, features
from posecheck.ground.readings import Sight
from posecheck.maths.arrays import FloatArray


def feet_kind(fit: Fit) -> Kind:
    """What the feet's heights are read from, and how the net is fitted."""
    return Kind("feet", OUTPUTS, features, fit.feet, _rows)


def _rows(cast: Cast) -> tuple[FloatArray, FloatArray]:
    """Features and truth of a body and its mirror image."""
    truth = feet_truth(cast)[0]
    return (
        np.concatenate([features(view) for view in (cast.view, cast.view.mirrored)]),
        np.concatenate([truth, mirrored(truth, OUTPUTS)]),
    )


def sight(cast: Cast, i: int, feet: FootSight) -> Sight:
    """One picture's player as seen from the camera, with heights ``(1, 2)`` of his feet."""
    xy_px = cast.xy_px[i : i + 1]
    return Sight.of(np.zeros(1), cast.cameras[i], xy_px, np.ones(xy_px.shape[:2]), feet)


def feet_truth(cast: Cast) -> tuple[FloatArray, FloatArray]:
    """How high the lines of sight pass where the hips are ``(n, 2 feet)``, and the hips' range."""
    unknown = FootSight(np.full((1, 2), np.nan), np.full((1, 2), np.nan))
    heights, ranges = [], []
    for i, camera in enumerate(cast.cameras):
        seen = sight(cast, i, unknown)
        away = seen.reach(cast.ground_m[i : i + 1])
        heights.append(camera.centre_m[2] - away[:, None] * seen.dip)
        ranges.append(away)
    return np.concatenate(heights), np.concatenate(ranges)
