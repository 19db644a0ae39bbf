"""Knee bend in swing: it shows within a step or two whether a player runs or walks.

A knee bends to about 60° in the swing of a walk, to 90° and more in that of a run (Novacheck, The
biomechanics of running, Gait and Posture 7, 1998; from memory). So a runner's shank is brought
level, its ankle nearly as high as its knee, and a walker's is not. That is seen best from where
least else is: from straight ahead, or from behind.
"""

from __future__ import annotations

import numpy as np

from posecheck.body.tuning import (
    LEAST_SWING_FRAMES,
    LEAVING_SHARE,
    LEVEL_LEAVING,
    LEVEL_NEARING,
    LEVEL_SHARE,
)
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import in_window
from posecheck.pose.skeleton import SKELETON

_ANKLES = SKELETON.indices("left_ankle", "right_ankle")
_KNEES = SKELETON.indices("left_knee", "right_knee")
_SHOULDERS = SKELETON.indices("left_shoulder", "right_shoulder")
_HIPS = SKELETON.indices("left_hip", "right_hip")


def swings_as_in_a_run(
    t_s: FloatArray, steady_px: FloatArray, during_s: tuple[float, float]
) -> bool:
    """Whether a player's shanks come as near to level as those of a runner do.

    For players running straight at the camera or away from it. A camera looks down at them, so the
    ankle of the leg behind lies higher in the picture while a player comes nearer than while he
    goes away: each way has its own limit, and growing or shrinking in the picture shows the way.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        steady_px: ``(n, 33, 2)`` landmarks in the steadied picture, NaN where not seen.
        during_s: from when to when.

    Returns:
        False too when he is seen for too short a time.
    """
    part = in_window(t_s, *during_s)
    t, xy = t_s[part], steady_px[part]
    trunk_px = np.linalg.norm(xy[:, _SHOULDERS].mean(axis=1) - xy[:, _HIPS].mean(axis=1), axis=1)
    # Of either leg, by height in the picture: which is the left one does not matter.
    drop = (xy[:, _ANKLES, 1] - xy[:, _KNEES, 1]).min(axis=1)
    seen = np.isfinite(drop) & np.isfinite(trunk_px)
    if seen.sum() < LEAST_SWING_FRAMES:
        return False
    usual_px = float(np.median(trunk_px[seen]))
    grows_px = np.polyfit(t[seen], trunk_px[seen], 1)[0] * np.ptp(t[seen])
    leaves = grows_px < -LEAVING_SHARE * usual_px
    level = np.quantile(drop[seen], LEVEL_SHARE) / usual_px
    return bool(level < (LEVEL_LEAVING if leaves else LEVEL_NEARING))
