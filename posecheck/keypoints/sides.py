"""Left and right put back where the pose model has exchanged them.

Of two limbs the model may call the left one right, for a frame or for a stretch: both legs of a
runner seen from the side as they pass each other, or the whole body of a far player, seen from
behind as if from in front. For the way from the right landmark to the left one that error is a
change of sign. So for each of three groups of landmarks those signs are sought that make the way
from right to left go on evenly, with few changes of the model's own labels, with groups that hang
together of one mind, and with most frames as the model has them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from posecheck.keypoints.tuning import (
    EXCHANGED_COST,
    LABELS_CHANGE_COST,
    LANDMARK_NOISE_M,
    LEAST_STEP_S,
    LIKE_COST,
    LIMB_TURN_MPS2,
    ROUNDS,
    SAME_PLACE_M,
    SURPRISE_COST,
    TOGETHER_COST,
    TRUNK_TURN_MPS2,
    UNDECIDED,
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
from posecheck.pose.track import PoseTrack


@dataclass(frozen=True)
class Group:
    """Landmarks that the model exchanges together.

    Attributes:
        parts: all of them, without their side.
        judged: those whose movement decides.
        turn_mps2: how fast the way from the right to the left one changes its speed.
    """

    parts: tuple[str, ...]
    judged: tuple[str, ...]
    turn_mps2: float

    def pairs(self, parts: tuple[str, ...]) -> tuple[list[int], list[int]]:
        """Numbers of the left and of the right landmarks."""
        left, right = (
            SKELETON.indices(*(f"{side}_{part}" for part in parts)) for side in ("left", "right")
        )
        return left, right


_FACE = ("eye_inner", "eye", "eye_outer", "ear", "mouth")
_HANDS = ("pinky", "index", "thumb")
GROUPS = (
    Group((*_FACE, "shoulder", "hip"), ("shoulder", "hip"), TRUNK_TURN_MPS2),
    Group(("elbow", "wrist", *_HANDS), ("elbow", "wrist"), LIMB_TURN_MPS2),
    Group(("knee", "ankle", "heel", "foot_index"), ("knee", "ankle"), LIMB_TURN_MPS2),
)
_TRUNK, _ARMS, _LEGS = range(len(GROUPS))
_TOGETHER = ((_TRUNK, _ARMS), (_TRUNK, _LEGS))
_TURNS = ([_TRUNK], [_ARMS, _LEGS])
"""No two of a turn hang together."""


@dataclass(frozen=True)
class Sides:
    """A track with left and right put back.

    Attributes:
        track: the track.
        exchanged: ``(n_frames, 33)`` True where the model had a landmark on the other side.
        undecided: ``(n_frames, 33)`` True where that could not be decided. Neither counts where
            left and right lie in the same place of the picture.
    """

    track: PoseTrack
    exchanged: BoolArray
    undecided: BoolArray


def put_sides_right(
    track: PoseTrack, px_per_m: FloatArray, like_px: FloatArray | None = None
) -> Sides:
    """Exchange left and right where the model has them the wrong way round.

    Depth needs a rule of its own. A body seen the wrong way round is its own mirror image in depth,
    and so are legs that pass each other: what the model says of which side is nearer then stays
    with the sides. Only when the whole body is seen the wrong way round the legs keep their depth:
    which foot is nearer shows in the picture.

    Args:
        track: as read.
        px_per_m: ``(n_frames,)`` scale of the body in the picture.
        like_px: ``(n_frames, 33, 2)`` another reading of the same body with its sides put right,
            NaN where there is none: a short track by itself shows less well which side is which.
    """
    share = exchanged_share(track.t_s, track.xy_px, px_per_m, like_px)
    xy_px, world_m, score = track.xy_px.copy(), track.world_m.copy(), track.score.copy()
    exchanged, undecided = (np.zeros(track.score.shape, dtype=bool) for _ in range(2))
    wrong = share > 0.5
    hips_apart = (_apart_m(track, px_per_m, GROUPS[_TRUNK])[:, -1]) > SAME_PLACE_M
    whole_body = wrong[:, _TRUNK] & hips_apart
    for number, group in enumerate(GROUPS):
        left, right = group.pairs(group.parts)
        at = wrong[:, number, None]
        for values in (xy_px, world_m, score):
            flag = at.reshape(-1, *[1] * (values.ndim - 1))
            values[:, left], values[:, right] = (
                np.where(flag, values[:, right], values[:, left]),
                np.where(flag, values[:, left], values[:, right]),
            )
        depth_stays = at & ~whole_body[:, None] if number == _LEGS else at
        half = (world_m[:, left, 2] - world_m[:, right, 2]) * depth_stays
        world_m[:, left, 2] -= half
        world_m[:, right, 2] += half
        unsure = np.abs(share[:, number, None] - 0.5) < 0.5 - UNDECIDED
        apart = _apart_m(track, px_per_m, group) > SAME_PLACE_M
        for side in (left, right):
            exchanged[:, side] = at & apart
            undecided[:, side] = unsure & apart
    return Sides(PoseTrack(track.t_s, xy_px, world_m, score), exchanged, undecided)


def _apart_m(track: PoseTrack, px_per_m: FloatArray, group: Group) -> FloatArray:
    """``(n_frames, n_pairs)`` how far apart left and right are in the picture."""
    left, right = group.pairs(group.parts)
    apart_px = np.linalg.norm(track.xy_px[:, left] - track.xy_px[:, right], axis=2)
    return np.asarray(apart_px / px_per_m[:, None])


def exchanged_share(
    t_s: FloatArray, xy_px: FloatArray, px_per_m: FloatArray, like_px: FloatArray | None = None
) -> FloatArray:
    """How surely the model has exchanged left and right.

    Args:
        t_s: ``(n_frames,)`` seconds.
        xy_px: ``(n_frames, 33, 2)`` landmarks, NaN where not read.
        px_per_m: ``(n_frames,)`` scale of the body in the picture.
        like_px: ``(n_frames, 33, 2)`` as :func:`put_sides_right` takes it.

    Returns:
        ``(n_frames, 3)`` probability for each of ``GROUPS``; NaN where not read.
    """
    share = np.full((len(t_s), len(GROUPS)), np.nan)
    read = np.flatnonzero(np.isfinite(xy_px).all(axis=(1, 2)))
    share[read] = 0.0
    xy_m = xy_px / px_per_m[:, None, None]
    by_itself = np.full(share.shape, EXCHANGED_COST)
    if like_px is not None:
        by_itself += _unlike(xy_m, like_px / px_per_m[:, None, None])
    for phase in phases(t_s[read], LEAST_STEP_S):
        if len(phase) > N_BEFORE:
            frames = read[phase]
            share[frames] = _share(t_s[frames], xy_m[frames], by_itself[frames])
    return share


def _share(t_s: FloatArray, xy_m: FloatArray, by_itself: FloatArray) -> FloatArray:
    uneven = np.stack([_unevenness(t_s, xy_m, group) for group in GROUPS], axis=1)
    share = np.full(by_itself.shape, 0.5)
    # Each group is judged again with what was found of its neighbours, never two neighbours at
    # once: they would change places for ever.
    for turn in [*_TURNS] * ROUNDS:
        alone = by_itself.copy()
        for one, other in _TOGETHER:
            alone[:, one] += TOGETHER_COST * (1 - 2 * share[:, other])
            alone[:, other] += TOGETHER_COST * (1 - 2 * share[:, one])
        share[:, turn] = second_state_share(alone[:, turn], LABELS_CHANGE_COST, uneven[:, turn])
    return share


def _unlike(xy_m: FloatArray, like_m: FloatArray) -> FloatArray:
    """``(n, 3)`` cost of the exchange of each group for being less like another reading."""
    cost = np.zeros((len(xy_m), len(GROUPS)))
    for number, group in enumerate(GROUPS):
        left, right = group.pairs(group.judged)
        way, like = ((each[:, left] - each[:, right]) / 2 for each in (xy_m, like_m))
        kept, turned = (
            np.minimum(
                ((sign * way - like) ** 2).sum(axis=2) / (4 * LANDMARK_NOISE_M**2), LIKE_COST
            )
            for sign in (1, -1)
        )
        cost[:, number] = np.nan_to_num(turned - kept).sum(axis=1)
    return cost


def _unevenness(t_s: FloatArray, xy_m: FloatArray, group: Group) -> FloatArray:
    """``(n - 4, 32)`` how unevenly the way from right to left goes on, for all signs of five."""
    left, right = group.pairs(group.judged)
    half_way = (xy_m[:, left] - xy_m[:, right]) / 2
    total = np.zeros((len(t_s) - N_BEFORE, len(COMBINATIONS)))
    for triple in triples(t_s):
        first, second, third = triple.three(half_way)
        variance = triple.variance_m2(group.turn_mps2)
        cost = np.empty((len(total), 2, 2))
        for one, three in product((0, 1), repeat=2):
            # Whether the first and the third have their sign changed against the second.
            off = triple.off_path((1 - 2 * one) * first, second, (1 - 2 * three) * third)
            surprise = (off**2).sum(axis=2) / (2 * variance)
            cost[:, one, three] = np.minimum(surprise, SURPRISE_COST).sum(axis=1)
        a, b, c = (COMBINATIONS[:, place] for place in triple.places)
        total += triple.weight * cost[:, a ^ b, c ^ b]
    return total
