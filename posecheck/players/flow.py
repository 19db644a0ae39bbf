"""How players' own pixels moved between two pictures: sparse optical flow on their trunks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray, Image
from posecheck.maths.boxes import union
from posecheck.players.tuning import (
    FLOW_CORNER_QUALITY,
    FLOW_CORNER_SPACING_PX,
    FLOW_LEVELS,
    FLOW_MARGIN_PX,
    FLOW_POINTS,
    FLOW_TRUNK,
    FLOW_WINDOW_PX,
    LEAST_RATIO,
    MAX_RETURN_PX,
    MIN_FLOW_POINTS,
    MIN_GROWTH_PX,
    MOST_FLOW_BOX,
)


@dataclass(frozen=True)
class Motion:
    """One player's motion between two pictures.

    Attributes:
        before_xy, after_xy: ``(k, 2)`` points of the player, pixels of each picture.
        growth: size after over size before.
        growth_sd: standard deviation of its logarithm, by how little the points agree on it.
    """

    before_xy: FloatArray
    after_xy: FloatArray
    growth: float
    growth_sd: float


def player_motion(
    before: Image,
    after: Image,
    boxes: Sequence[FloatArray],
    guesses: Sequence[FloatArray],
    trunks: Sequence[FloatArray] | None = None,
) -> list[Motion | None]:
    """Follow each player's trunk from one picture to the next.

    Points that lie in another player's box as well are left out, since they may be the other's.

    Args:
        before, after: small pictures of the same size, uint8.
        boxes: ``(4,)`` each, where the players were, pixels of the first picture.
        guesses: ``(4,)`` each, where they are expected in the second.
        trunks: ``(4,)`` each, where the middle of the trunk lies in the box, as shares of its
            sides; without them it is taken to be in the middle of the box.

    Returns:
        One motion per box; None where too few points could be followed.
    """
    import cv2

    before, after, corner = _cropped(before, after, [*boxes, *guesses])
    boxes = [box - np.tile(corner, 2) for box in boxes]
    guesses = [box - np.tile(corner, 2) for box in guesses]
    starts, owners = [], []
    for number, box in enumerate(boxes):
        others = [other for other in boxes if other is not box]
        points = _trunk_points(before, box, others, None if trunks is None else trunks[number])
        starts.append(points)
        owners += [number] * len(points)
    start = np.concatenate(starts) if starts else np.empty((0, 2), np.float32)
    if not len(start):
        return [None] * len(boxes)
    owner = np.array(owners)
    shift = np.array(
        [
            (there[:2] + there[2:] - here[:2] - here[2:]) / 2
            for here, there in zip(boxes, guesses, strict=True)
        ]
    )
    follow = partial(
        cv2.calcOpticalFlowPyrLK,
        winSize=FLOW_WINDOW_PX,
        maxLevel=FLOW_LEVELS,
        flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
    )
    guess = (start + shift[owner]).astype(np.float32)
    end, there_ok, _ = follow(before, after, start, guess)
    back, back_ok, _ = follow(after, before, end, start.copy())
    good = (there_ok.ravel() == 1) & (back_ok.ravel() == 1)
    good &= np.linalg.norm(back - start, axis=1) < MAX_RETURN_PX
    motions: list[Motion | None] = []
    for number in range(len(boxes)):
        mine = good & (owner == number)
        if mine.sum() < MIN_FLOW_POINTS:
            motions.append(None)
            continue
        here, there = start[mine].astype(np.float64), end[mine].astype(np.float64)
        motions.append(Motion(here + corner, there + corner, *_growth(here, there)))
    return motions


def _cropped(
    before: Image, after: Image, boxes: Sequence[FloatArray]
) -> tuple[Image, Image, FloatArray]:
    """The part of both pictures that holds all boxes, and ``(2,)`` where its corner was."""
    whole = union(boxes)
    height, width = before.shape
    x0, y0 = np.clip(np.floor(whole[:2]) - FLOW_MARGIN_PX, 0, (width - 1, height - 1)).astype(int)
    x1, y1 = np.clip(np.ceil(whole[2:]) + FLOW_MARGIN_PX, (x0 + 1, y0 + 1), (width, height)).astype(
        int
    )
    part = np.s_[y0:y1, x0:x1]
    corner = np.array([x0, y0], dtype=np.float64)
    return np.ascontiguousarray(before[part]), np.ascontiguousarray(after[part]), corner


def _trunk_points(
    grey: Image, box: FloatArray, others: Sequence[FloatArray], trunk: FloatArray | None
) -> npt.NDArray[np.float32]:
    """``(k, 2)`` corners on a player's trunk, outside the other players' boxes."""
    import cv2

    height, width = grey.shape
    side = np.tile(box[2:] - box[:2], 2)
    shares = FLOW_TRUNK.copy()
    narrow = MOST_FLOW_BOX * side[1] / side[0]
    if trunk is not None and narrow < 1:
        # An arm or a stride makes a box wide: much of its middle is grass, the trunk aside.
        shares[[0, 2]] = (trunk[0] + trunk[2]) / 2 + narrow * (shares[[0, 2]] - 0.5)
    low_high = np.tile(box[:2], 2) + shares * side
    x0, y0 = np.clip(np.floor(low_high[:2]), 0, (width, height)).astype(int)
    x1, y1 = np.clip(np.ceil(low_high[2:]) + 1, 0, (width, height)).astype(int)
    if x1 - x0 < 4 or y1 - y0 < 4:
        return np.empty((0, 2), np.float32)
    mask = np.full((y1 - y0, x1 - x0), 255, np.uint8)
    for other in others:
        left, top, right, bottom = np.round(other).astype(int) - (x0, y0, x0, y0)
        mask[max(top, 0) : max(bottom + 1, 0), max(left, 0) : max(right + 1, 0)] = 0
    corners = cv2.goodFeaturesToTrack(
        np.ascontiguousarray(grey[y0:y1, x0:x1]),
        FLOW_POINTS,
        qualityLevel=FLOW_CORNER_QUALITY,
        minDistance=FLOW_CORNER_SPACING_PX,
        mask=mask,
        blockSize=3,
    )
    if corners is None:
        return np.empty((0, 2), np.float32)
    return np.asarray(corners.reshape(-1, 2) + np.array([x0, y0]), dtype=np.float32)


def _growth(before: FloatArray, after: FloatArray) -> tuple[float, float]:
    """Median ratio of the distances between points, and the standard deviation of its logarithm.

    Kalal, Mikolajczyk and Matas, Forward-backward error, 2010.
    """
    one, other = np.triu_indices(len(before), 1)
    was = np.linalg.norm(before[one] - before[other], axis=1)
    now = np.linalg.norm(after[one] - after[other], axis=1)
    apart = was > MIN_GROWTH_PX
    if not apart.any():
        return 1.0, np.inf
    ratio = now[apart] / was[apart]
    logs = np.log(np.maximum(ratio, LEAST_RATIO))
    # 1.48 median absolute deviations are one standard deviation of a normal distribution; of k
    # points k - 1 distances are independent.
    spread = 1.48 * np.median(np.abs(logs - np.median(logs)))
    return float(np.median(ratio)), float(spread / np.sqrt(len(before) - 1))
