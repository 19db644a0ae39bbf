"""Left and right as one phone names them against another: exchanged limbs are given their names.

The pose model exchanges left and right for stretches of a film, the legs more often than the arms.
From one place nothing shows it; from two the lines of sight to "the left ankle" do not meet.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from posecheck.maths.arrays import BoolArray, FloatArray, IntArray
from posecheck.maths.timeline import in_window
from posecheck.multiview.phone import Phone, between
from posecheck.multiview.rig import Rig
from posecheck.multiview.triangulate import triangulate
from posecheck.multiview.tuning import (
    LANDMARK_SD_M,
    LIMB_SPEED_MPS,
    MOST_SQUARES,
    SWAP_COST,
)
from posecheck.pose.skeleton import SKELETON

_GROUPS = tuple(
    SKELETON.indices(*(f"{side}_{part}" for part in parts for side in ("left", "right")))
    for parts in (
        ("hip", "knee", "ankle", "heel", "foot_index"),
        ("shoulder", "elbow", "wrist", "pinky", "index", "thumb"),
    )
)


def with_names_corrected(phones: Sequence[Phone], rig: Rig) -> tuple[tuple[Phone, ...], int]:
    """The films with exchanged legs and arms named as the other phones and the frames around say.

    Returns:
        The films, and in how many frames of one film limbs were exchanged, in total.
    """
    corrected, count = list(phones), 0
    for player in range(len(phones[0].players)):
        for group in _GROUPS:
            wrong = _swapped(corrected, rig, player, group)
            for number, frames in enumerate(wrong):
                if frames.any():
                    corrected[number] = corrected[number].renamed(player, frames, group)
                    count += int(frames.sum())
    return tuple(corrected), count


def _swapped(phones: Sequence[Phone], rig: Rig, player: int, group: list[int]) -> list[BoolArray]:
    """By phone ``(frames,)`` True where it names this group of landmarks the wrong way round."""
    t_s = phones[0].t_s
    views = []
    scales = []
    for phone, late in zip(phones, rig.later_s, strict=True):
        track = phone.players[player]
        nearest = np.abs(track.t_s[None] - (t_s + late)[:, None]).argmin(axis=1)
        # Not across frames, since names may change from one to the next.
        drift = between(track.t_s, track.xy_px[:, group].mean(axis=1), t_s + late)
        here = track.xy_px[nearest][:, group]
        views.append(here + np.nan_to_num(drift - here.mean(axis=1))[:, None])
        scales.append(phone.at(player, t_s + late).px_per_m)
    xy_px = np.stack(views)
    sd_px = np.broadcast_to(LANDMARK_SD_M * np.stack(scales)[..., None], xy_px.shape[:-1])
    order = np.arange(len(group), dtype=np.int64).reshape(-1, 2)[:, ::-1].ravel()
    namings = np.array(list(product((False, True), repeat=len(phones))))
    unlikely, bodies = [], []
    for naming in namings:
        named = np.stack(
            [view[:, order] if swap else view for view, swap in zip(xy_px, naming, strict=True)]
        )
        made = triangulate(rig.cameras, named, sd_px)
        squares = np.nansum(np.minimum(made.miss**2, MOST_SQUARES), axis=(0, 2, 3))
        unlikely.append(squares / 2 + SWAP_COST * naming.sum())
        bodies.append(made.xyz_m - _middle(made.xyz_m))
    chosen = _likeliest(np.stack(unlikely), np.stack(bodies), t_s)
    wrong = namings[chosen].T
    return [
        np.asarray(wrong[number][np.abs((t_s + late)[None] - phone.t_s[:, None]).argmin(axis=1)])
        & in_window(phone.t_s, t_s[0] + late, t_s[-1] + late)
        for number, (phone, late) in enumerate(zip(phones, rig.later_s, strict=True))
    ]


def _middle(xyz_m: FloatArray) -> FloatArray:
    """``(n, 1, 3)`` mean of the points that are known."""
    known = np.isfinite(xyz_m).all(axis=2, keepdims=True)
    total = np.where(known, xyz_m, 0.0).sum(axis=1, keepdims=True)
    return np.asarray(total / np.maximum(known.sum(axis=1, keepdims=True), 1))


def _likeliest(unlikely: FloatArray, bodies: FloatArray, t_s: FloatArray) -> IntArray:
    """``(n,)`` the naming of each frame that together are likeliest, by dynamic programming.

    What counts is how far the lines of sight miss each other, and how far limbs would have to move
    from frame to frame. Where one leg is behind the other on the line between the phones, only the
    second shows which is which.

    Args:
        unlikely: ``(h, n)`` cost of each naming in each frame.
        bodies: ``(h, n, k, 3)`` the points in space that it gives, about their middle.
        t_s: ``(n,)`` seconds.
    """
    n = unlikely.shape[1]
    cost = unlikely[:, 0]
    came_from = np.zeros((n, len(unlikely)), dtype=np.int64)
    for i in range(1, n):
        moved = np.linalg.norm(bodies[None, :, i] - bodies[:, None, i - 1], axis=-1)
        squares = (moved / (LIMB_SPEED_MPS * (t_s[i] - t_s[i - 1]))) ** 2
        steps = np.nansum(np.minimum(squares, MOST_SQUARES), axis=-1) / 2
        total = cost[:, None] + steps
        came_from[i] = total.argmin(axis=0)
        cost = total.min(axis=0) + unlikely[:, i]
    path = np.zeros(n, dtype=np.int64)
    path[-1] = int(cost.argmin())
    for i in range(n - 1, 0, -1):
        path[i - 1] = came_from[i, path[i]]
    return path
