"""The body in metres: across the view from the picture, along it from the model.

The pose model gives each landmark twice, in the picture and as a body in metres. The two disagree:
its body is nearer to a typical pose than what it marks in the picture, legs straighter above all.
Seen along the line of sight there is nothing but the model; across it the picture is the better
witness, so it is believed there.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from posecheck.keypoints.skeleton import SKELETON
from posecheck.keypoints.smooth import smooth

FloatArray = npt.NDArray[np.float64]

DISTANCE_CUTOFF_HZ = 1.0
"""A player's distance from the camera changes more slowly than anything else about him."""

_FROM_NECK_DOWN = slice(SKELETON.index("left_shoulder"), None)
_HIPS = SKELETON.indices("left_hip", "right_hip")


def body_m(t_s: FloatArray, sight_xy: FloatArray, model_m: FloatArray) -> FloatArray:
    """Join the picture's landmarks with the model's depth.

    Args:
        t_s: ``(n_frames,)`` seconds.
        sight_xy: ``(n_frames, 33, 2)`` where each landmark is seen: x / z and y / z of its line of
            sight, on axes whose z is the line of sight to the middle of the hips.
        model_m: ``(n_frames, 33, 3)`` the model's body on the same axes, metres from the middle
            of the hips.

    Returns:
        ``(n_frames, 33, 3)`` metres from the middle of the hips, same axes, at the model's scale;
        NaN where either is.
    """
    depth_m = model_m[..., 2:]
    # How far away the model's body fills as much of the view as the landmarks do. A landmark that
    # is nearer than the hips looks larger, which is taken out first.
    flat_m = model_m[..., :2] - sight_xy * depth_m
    both = np.isfinite(flat_m).all(axis=2, keepdims=True)
    distance_m = _spread(np.where(both, flat_m, np.nan)) / _spread(np.where(both, sight_xy, np.nan))
    distance_m = smooth(t_s, distance_m[:, None], DISTANCE_CUTOFF_HZ)[:, :, None]
    across_m = sight_xy * (distance_m + depth_m)
    joined = np.concatenate([across_m, np.broadcast_to(depth_m, (*across_m.shape[:2], 1))], axis=2)
    return np.asarray(joined - joined[:, _HIPS].mean(axis=1, keepdims=True))


def _spread(xy: FloatArray) -> FloatArray:
    """``(n_frames,)`` root mean square distance of the body's landmarks from their middle.

    Landmarks not seen are left out; NaN for frames without any.
    """
    spread = np.full(len(xy), np.nan)
    body = xy[:, _FROM_NECK_DOWN]
    seen = np.isfinite(body).any(axis=(1, 2))
    spread[seen] = np.sqrt(np.nanvar(body[seen], axis=1).sum(axis=1))
    return spread
