"""Left and right as one phone names them against another: exchanged limbs are given their names.

The pose model exchanges left and right for stretches of a film, the legs more often than the arms.
From one place nothing shows it; from two the lines of sight to "the left ankle" do not meet.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from posecheck.maths.arrays import BoolArray, FloatArray, IntArray, finite_median
from posecheck.multiview.phone import Phone, between
from posecheck.multiview.rig import Rig
from posecheck.multiview.triangulate import triangulate
from posecheck.multiview.tuning import (
    LANDMARK_SD_M,
    MAX_VIEWS_SWAPPED,
    SWAP_GAIN,
    SWAP_LEAST_M,
)
from posecheck.pose.skeleton import SKELETON

_GROUPS = tuple(
    SKELETON.indices(*(f"{side}_{part}" for part in parts for side in ("left", "right")))
    for parts in (
        ("hip", "knee", "ankle", "heel", "foot_index"),
        ("shoulder", "elbow", "wrist", "pinky", "index", "thumb"),
    )
)


def with_names_mended(phones: Sequence[Phone], rig: Rig) -> tuple[tuple[Phone, ...], int]:
    """The films with exchanged legs and arms named as the other phones and the frames around say.

    Returns:
        The films, and in how many frames of one film limbs were exchanged, all told.
    """
    mended, count = list(phones), 0
    for player in range(len(phones[0].players)):
        for group in _GROUPS:
            wrong = _swapped(mended, rig, player, group)
            for number, frames in enumerate(wrong):
                if frames.any():
                    mended[number] = mended[number].renamed(player, frames, group)
                    count += int(frames.sum())
    return tuple(mended), count


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
    flips = [
        (False, *rest)
        for rest in product((False, True), repeat=len(phones) - 1)
        if sum(rest) <= MAX_VIEWS_SWAPPED
    ]
    off, points = [], []
    for flip in flips:
        named = np.stack(
            [view[:, order] if f else view for view, f in zip(xy_px, flip, strict=True)]
        )
        made = triangulate(rig.cameras, named, sd_px)
        miss = np.linalg.norm(made.miss, axis=-1) * LANDMARK_SD_M
        seen = np.isfinite(miss)
        total, count = np.where(seen, miss, 0.0).sum(axis=(0, 2)), seen.sum(axis=(0, 2))
        off.append(np.where(count > 0, total / np.maximum(count, 1), np.inf))
        points.append(made.xyz_m)
    cost = np.stack(off)
    best = cost.argmin(axis=0)
    frame = np.arange(len(t_s))
    better = (cost[best, frame] < SWAP_GAIN * cost[0]) & (cost[0] > SWAP_LEAST_M)
    better &= np.isfinite(cost[0])
    chosen = np.where(better, best, 0)
    relation = np.array(flips)[chosen].T  # (v, n)
    body = np.stack(points)[chosen, frame]
    known = np.isfinite(body).all(axis=2, keepdims=True)
    middle = np.where(known, body, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    body = body - middle[:, None]
    whole = _other_way_round(body, better, order)
    wrong = relation ^ whole
    return [
        np.asarray(wrong[number][np.abs((t_s + late)[None] - phone.t_s[:, None]).argmin(axis=1)])
        & _within(phone.t_s, t_s + late)
        for number, (phone, late) in enumerate(zip(phones, rig.later_s, strict=True))
    ]


def _within(t_s: FloatArray, other_s: FloatArray) -> BoolArray:
    return np.asarray((t_s >= other_s[0] - 1e-9) & (t_s <= other_s[-1] + 1e-9))


def _other_way_round(body: FloatArray, unsure: BoolArray, order: IntArray) -> BoolArray:
    """``(n,)`` True where all films together have it the wrong way round.

    Where the films agree as they are named they are taken at their word; in the other frames the
    names are those that go on from the frames before and after.

    Args:
        body: ``(n, k, 3)`` points in space about their middle.
        unsure: ``(n,)`` True where the films do not agree as they are named.
        order: ``(k,)`` exchanges left and right.
    """
    n = len(body)
    vote = np.zeros(n)
    for steps in (range(n), range(n - 1, -1, -1)):
        last: FloatArray | None = None
        for i in steps:
            seen = np.isfinite(body[i]).all(axis=1)
            if seen.sum() < 4:
                continue
            here = body[i]
            if unsure[i] and last is not None:
                apart = [
                    finite_median(np.linalg.norm(each - last, axis=1))
                    for each in (here, here[order])
                ]
                vote[i] += np.nan_to_num(apart[0] - apart[1])
                here = here if apart[0] <= apart[1] else here[order]
            last = here
    return np.asarray(vote > 0)
