"""The person detector: which regions of a frame to search, and whom it finds there.

A known player is read where he is expected, without a search: the landmark network sees him there
though the detector misses him, beside a taller one, crouching or in the dark, and it costs half as
much. Searching (some 6 ms for a region, and as much again for each person in it) is for those who
are not read so, and for where something moved, on key frames only. Players who stand still show no
motion: for them the whole picture is swept with tiles of two sizes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray, Image, Pixels
from posecheck.maths.boxes import union
from posecheck.maths.homography import mapped
from posecheck.maths.stopwatch import Stage, stage
from posecheck.players.neighbours import alike, near
from posecheck.players.tuning import (
    ABOVE_EYES,
    BELOW_LANDMARKS,
    BESIDE_JOINTS,
    EXPOSED_GRID,
    EXPOSED_TILE_SIDE,
    FINER_TILE_SIDE,
    HISTOGRAM_BLUR_BINS,
    HISTOGRAM_FLOOR,
    HUE_BINS,
    JOINING_PX,
    LEAST_BOX_WIDTH,
    MIN_CHANGE,
    MIN_EXPOSED_SHARE,
    MIN_MOVING_HEIGHT,
    MIN_PERSON_HEIGHT,
    MIN_PERSON_SCORE,
    MOTION_REGION_HALF_WIDTH,
    MOTION_REGION_TIMES,
    PAINT_GREY,
    PAINTED_INSET,
    REGION_HALF_SIDE,
    SATURATION_BINS,
    TILE_OVERLAP,
    TILE_SIDES,
    TRUNK_PATCH_LEAST,
    TRUNK_PATCH_SHARE,
    VALUE_BINS,
)
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PlayerPose


class FindsPeople(Protocol):
    """What the detector needs of the pose model; :class:`PoseReader` provides it."""

    def find_people(self, frame_rgb: Pixels, regions: Sequence[npt.ArrayLike]) -> list[PlayerPose]:
        """Everyone found in any of the regions, each person once."""
        ...

    def person_in(self, frame_rgb: Pixels, box_xyxy: npt.ArrayLike) -> PlayerPose | None:
        """The person who fills a box, None when nobody does."""
        ...


@dataclass(frozen=True, eq=False)
class Person:
    """Somebody found in one frame.

    Attributes:
        box_xyxy: ``(4,)`` pixels, from the top of the head to the soles.
        trunk: ``(4,)`` where the middle of the trunk lies in the box: left, top, right, bottom as
            shares of its sides.
        colours: ``(n,)`` square roots of the shares of the trunk's colours; the dot product of
            two persons' is their Bhattacharyya coefficient, 1 for the same colours.
    """

    box_xyxy: FloatArray
    trunk: FloatArray
    colours: FloatArray


_TRUNK = SKELETON.indices("left_shoulder", "right_shoulder", "left_hip", "right_hip")

_HANDS = ("wrist", "pinky", "thumb", "left_index", "right_index")
_NO_HANDS = [i for i, name in enumerate(SKELETON.names) if not name.endswith(_HANDS)]


def find_people(
    reader: FindsPeople, frame_rgb: Pixels, regions: Sequence[npt.ArrayLike]
) -> list[Person]:
    """Everyone found in any of the regions, each person once.

    Args:
        reader: the pose model.
        frame_rgb: the picture.
        regions: boxes left, top, right, bottom in pixels.
    """
    with stage(Stage.SEARCH):
        poses = reader.find_people(frame_rgb, regions)
    people = [_person(frame_rgb, pose) for pose in poses]
    return [person for person in people if person is not None]


def person_in(reader: FindsPeople, frame_rgb: Pixels, box_xyxy: FloatArray) -> Person | None:
    """The person who fills a box ``(4,)``, None when nobody does.

    Args:
        reader: the pose model.
        frame_rgb: the picture.
        box_xyxy: where a player is expected.
    """
    with stage(Stage.SEARCH):
        pose = reader.person_in(frame_rgb, box_xyxy)
    return None if pose is None else _person(frame_rgb, pose)


def _person(frame_rgb: Pixels, pose: PlayerPose) -> Person | None:
    """Somebody as he was read, None when that is no body large and sure enough."""
    box, least_px = _whole_box(pose), MIN_PERSON_HEIGHT * min(frame_rgb.shape[:2])
    if pose.score < MIN_PERSON_SCORE or box[3] - box[1] < least_px:
        return None
    trunk = (_trunk(pose) - np.tile(box[:2], 2)) / np.tile(box[2:] - box[:2], 2)
    return Person(box, trunk, _colours(_patch(frame_rgb, _trunk(pose))))


def tiles(width_px: int, height_px: int, turn: int) -> list[FloatArray]:
    """Squares that cover the picture.

    Args:
        width_px, height_px: size of the picture.
        turn: number of the sweep. Even ones have tiles of two sizes, odd ones finer tiles, whose
            edges lie elsewhere, since a player cut by a tile's edge is not found.
    """
    shorter = min(width_px, height_px)
    sides = [round(share * shorter) for share in ([FINER_TILE_SIDE] if turn % 2 else TILE_SIDES)]
    return [
        np.array([left, top, left + side - 1, top + side - 1])
        for side in sides
        for top in _starts(height_px, side)
        for left in _starts(width_px, side)
    ]


def exposed_tiles(width_px: int, height_px: int, to_swept: FloatArray) -> list[FloatArray]:
    """Tiles of which a large part was not in the picture at the last sweep.

    Args:
        width_px, height_px: size of the picture.
        to_swept: ``(3, 3)`` homography from the present picture to that of the last sweep.
    """
    side = round(EXPOSED_TILE_SIDE * min(width_px, height_px))
    grid = np.stack(np.meshgrid(*[np.linspace(0.05, 0.95, EXPOSED_GRID)] * 2), axis=-1).reshape(
        -1, 2
    )
    exposed = []
    for top in _starts(height_px, side):
        for left in _starts(width_px, side):
            there = mapped(to_swept, np.array([left, top]) + side * grid)
            outside = np.any((there < 0) | (there > (width_px, height_px)), axis=1)
            if outside.mean() >= MIN_EXPOSED_SHARE:
                exposed.append(np.array([left, top, left + side - 1, top + side - 1]))
    return exposed


def around(box_xyxy: FloatArray, margin_px: float = 0.0) -> FloatArray:
    """The square region to search for a player expected in the box, within ``margin_px``."""
    middle = (box_xyxy[:2] + box_xyxy[2:]) / 2
    half = REGION_HALF_SIDE * max(box_xyxy[2:] - box_xyxy[:2]) + margin_px
    return np.concatenate([middle - half, middle + half])


def around_motion(box_xyxy: FloatArray) -> list[FloatArray]:
    """Square regions to search where something moved.

    The change spans where a player was and where he is, his shadow and whoever moves beside him, or
    is his legs alone; and the detector finds him only where he fills the region well. So there are
    several sizes, the likeliest first.
    """
    wide, high = box_xyxy[2:] - box_xyxy[:2]
    middle = (box_xyxy[:2] + box_xyxy[2:]) / 2
    likeliest = max(REGION_HALF_SIDE * high, MOTION_REGION_HALF_WIDTH * wide)
    halves = [times * likeliest for times in MOTION_REGION_TIMES]
    return [np.concatenate([middle - half, middle + half]) for half in halves]


def at_least(region: FloatArray, side_px: float) -> FloatArray:
    """The region, or a larger one of that side around the same middle."""
    short = max(0.0, (side_px - (region[2] - region[0])) / 2)
    return np.asarray(region + np.array([-short, -short, short, short]))


def regions_for(expected: Sequence[tuple[FloatArray, float]]) -> list[FloatArray]:
    """Regions to search for several players, one for those near each other and alike in size.

    Args:
        expected: for each player the box ``(4,)`` and the pixels by which it may be wrong.
    """
    groups: list[list[tuple[FloatArray, float]]] = []
    for box, margin in expected:
        for group in groups:
            if any(near(box, other) and alike(box, other) for other, _ in group):
                group.append((box, margin))
                break
        else:
            groups.append([(box, margin)])
    return [
        around(union([box for box, _ in group]), max(margin for _, margin in group))
        for group in groups
    ]


def moving_boxes(
    before: Image, now: Image, before_to_now: FloatArray, known_xyxy: Sequence[FloatArray]
) -> list[FloatArray]:
    """Where the picture changed and no known player explains it, largest first.

    Args:
        before: an earlier small picture, uint8.
        now: the present one, of the same size.
        before_to_now: ``(3, 3)`` homography of the background between them.
        known_xyxy: ``(4,)`` each, boxes of known players, then and now.

    Returns:
        Boxes in pixels of the small picture.
    """
    import cv2

    height, width = now.shape
    steadied = cv2.warpPerspective(before, before_to_now, (width, height))
    inside = cv2.warpPerspective(np.full_like(before, 255), before_to_now, (width, height))
    change = cv2.absdiff(cv2.blur(steadied, (3, 3)), cv2.blur(now, (3, 3)))
    # The blur reaches a pixel over the edge of what both pictures show.
    change[cv2.erode(inside, np.ones((5, 5), np.uint8)) < 255] = 0
    for left, top, right, bottom in known_xyxy:
        rows = slice(max(int(top), 0), max(int(bottom) + 1, 0))
        change[rows, max(int(left), 0) : max(int(right) + 1, 0)] = 0
    changed = np.asarray(change > MIN_CHANGE, dtype=np.uint8)
    # Head, trunk and legs of one player come apart, and so do where he was and where he is.
    joined = cv2.morphologyEx(changed, cv2.MORPH_CLOSE, np.ones((JOINING_PX, JOINING_PX), np.uint8))
    n, _, stats, _ = cv2.connectedComponentsWithStats(joined)
    order = sorted(range(1, n), key=lambda part: -stats[part, cv2.CC_STAT_AREA])
    boxes = []
    for part in order:
        left, top, wide, high, _ = stats[part]
        if high >= MIN_MOVING_HEIGHT * min(width, height):
            boxes.append(np.array([left, top, left + wide - 1, top + high - 1], dtype=np.float64))
    return boxes


def _starts(length: int, side: int) -> FloatArray:
    """Left or top edges of tiles that cover a length, evenly spread, overlapping enough."""
    if length <= side:
        return np.array([(length - side) / 2])
    n = int(np.ceil((length - side) / (side * (1 - TILE_OVERLAP)))) + 1
    return np.linspace(0, length - side, n)


def _whole_box(pose: PlayerPose) -> FloatArray:
    """The box of the whole body, from the top of the head to the soles.

    Without the hands: raised ones are no part of his height, and the head of a stick that stands
    over him is often taken for one.
    """
    body = pose.xy_px[_NO_HANDS]
    (left, top), (right, bottom) = body.min(axis=0), body.max(axis=0)
    height = bottom - top
    beside = max(BESIDE_JOINTS * height, (LEAST_BOX_WIDTH * height - (right - left)) / 2)
    above, below = ABOVE_EYES * height, BELOW_LANDMARKS * height
    return np.array([left - beside, top - above, right + beside, bottom + below])


def colours_in(frame_rgb: Pixels, box_xyxy: FloatArray, trunk: FloatArray) -> FloatArray:
    """The colours, as in :class:`Person`, where the trunk is in a player's box."""
    side = np.tile(box_xyxy[2:] - box_xyxy[:2], 2)
    return _colours(_patch(frame_rgb, np.tile(box_xyxy[:2], 2) + trunk * side))


class PaintedOut:
    """A frame without people already found, so that somebody close to them can be found.

    Args:
        frame_rgb: the picture.
        boxes: ``(4,)`` each, where they are.
    """

    def __init__(self, frame_rgb: Pixels, boxes: Sequence[FloatArray]) -> None:
        self._frame = frame_rgb
        self._boxes = [np.round(box).astype(int) for box in boxes]

    @property
    def shape(self) -> tuple[int, ...]:
        """Height, width, 3."""
        return self._frame.shape

    def __getitem__(self, part: tuple[slice, slice]) -> Image:
        rest = np.array(self._frame[part])
        y0, x0 = (of.indices(length)[0] for of, length in zip(part, self.shape, strict=False))
        for left, top, right, bottom in self._boxes:
            # Only the middle of the box: what reaches into its sides may be the other's.
            inset = (right - left) // PAINTED_INSET
            columns = slice(max(left + inset - x0, 0), max(right - inset - x0, 0))
            rest[max(top - y0, 0) : max(bottom - y0, 0), columns] = PAINT_GREY
        return rest


def _trunk(pose: PlayerPose) -> FloatArray:
    """The middle of the trunk, left, top, right, bottom."""
    trunk = pose.xy_px[_TRUNK]
    least = TRUNK_PATCH_LEAST * np.ptp(trunk[:, 1])
    half = np.maximum(TRUNK_PATCH_SHARE * np.ptp(trunk, axis=0), least)
    half = np.maximum(half, 1.0)
    middle = trunk.mean(axis=0)
    return np.concatenate([middle - half, middle + half])


def _patch(frame_rgb: Pixels, box: FloatArray) -> Image:
    """The pixels in a box, one at least."""
    height, width = frame_rgb.shape[:2]
    x0, y0 = np.clip(np.floor(box[:2]), 0, (width - 1, height - 1)).astype(int)
    x1, y1 = np.clip(np.ceil(box[2:]), (x0 + 1, y0 + 1), (width, height)).astype(int)
    return np.ascontiguousarray(frame_rgb[y0:y1, x0:x1])


def _colours(patch: Image) -> FloatArray:
    """Colours as in :class:`Person`."""
    import cv2

    hsv = cv2.cvtColor(patch, cv2.COLOR_RGB2HSV)
    bins = [HUE_BINS, SATURATION_BINS, VALUE_BINS]
    counts = cv2.calcHist([hsv], [0, 1, 2], None, bins, [0, 180, 0, 256, 0, 256])
    blurred = cv2.GaussianBlur(counts.reshape(HUE_BINS, -1), (3, 3), HISTOGRAM_BLUR_BINS)
    smooth = blurred.ravel() + HISTOGRAM_FLOOR
    return np.asarray(np.sqrt(smooth / smooth.sum()), dtype=np.float64)
