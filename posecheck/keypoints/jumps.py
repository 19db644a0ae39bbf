"""Landmarks that leave their path for a few frames.

A landmark may lie somewhere else for a frame or for several: on the background, on another limb,
on another player. It is left out where doing without it costs less than the acceleration that its
jumping there and back would take.
"""

from __future__ import annotations

import numpy as np

from posecheck.keypoints.tuning import (
    JUMP_STARTS_COST,
    JUMP_SURPRISE_COST,
    LEAST_STEP_S,
    LEFT_OUT_COST,
    LIMB_MPS2,
    MOST_SHAKE_M,
    TRUNK_MPS2,
)
from posecheck.keypoints.two_states import (
    COMBINATIONS,
    N_BEFORE,
    phases,
    second_state_share,
    triples,
)
from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.pose.skeleton import SKELETON

_ACCELERATION = np.array(
    [LIMB_MPS2.get(name.partition("_")[2], TRUNK_MPS2) for name in SKELETON.names]
)
"""``(33,)`` m/s^2."""


def jumped(t_s: FloatArray, xy_px: FloatArray, px_per_m: FloatArray) -> BoolArray:
    """``(n_frames, 33)`` True where a landmark was read but does not lie on its path.

    Args:
        t_s: ``(n_frames,)`` seconds.
        xy_px: ``(n_frames, 33, 2)`` landmarks, NaN where not read.
        px_per_m: ``(n_frames,)`` scale of the body in the picture.
    """
    out = np.zeros(xy_px.shape[:2], dtype=bool)
    read = np.flatnonzero(np.isfinite(xy_px).all(axis=(1, 2)))
    for phase in phases(t_s[read], LEAST_STEP_S):
        if len(phase) > N_BEFORE:
            frames = read[phase]
            out[frames] = _share(t_s[frames], xy_px[frames], px_per_m[frames]) > 0.5
    return out


def _share(t_s: FloatArray, xy_px: FloatArray, px_per_m: FloatArray) -> FloatArray:
    n, k = xy_px.shape[:2]
    # One scale for the frames that are compared: by one of its own each, a body far from the
    # picture's corner would move whenever the scale does.
    scale = px_per_m[N_BEFORE:, None, None]
    together = np.zeros((n - N_BEFORE, k, len(COMBINATIONS)))
    for triple in triples(t_s):
        off = triple.off_path(*triple.three(xy_px)) / scale
        # A camera that shakes moves all landmarks alike.
        shake = np.median(off, axis=1, keepdims=True)
        off = off - np.clip(shake, -MOST_SHAKE_M, MOST_SHAKE_M)
        cost = (off**2).sum(axis=2) / (2 * triple.variance_m2(_ACCELERATION))
        both_in = (COMBINATIONS[:, list(triple.places)] == 0).all(axis=1)
        together[:, :, both_in] += triple.weight * np.minimum(cost, JUMP_SURPRISE_COST)[:, :, None]
    return second_state_share(np.full((n, k), LEFT_OUT_COST), JUMP_STARTS_COST, together)
