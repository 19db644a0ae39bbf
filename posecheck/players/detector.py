"""Find people in single frames: where to look, and what was found there.

Looking is dear (some 10 ms for an empty region, 20 more for each person in it), so it is done on
key frames only, and there mostly where a known player must be or where something moved. Players
who stand still show no motion: for them the whole picture is swept with tiles of two sizes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray
from posecheck.maths.boxes import alike, mapped, near, union
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PlayerPose

Grey = npt.NDArray[np.uint8]
Rgb = npt.NDArray[np.uint8]


class FindsPeople(Protocol):
    """What is asked of the pose model here; :class:`PoseReader` does it."""

    def find_people(self, frame_rgb: Rgb, regions: Sequence[npt.ArrayLike]) -> list[PlayerPose]:
        """Everyone found in any of the regions, each person once."""
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
        jersey_rgb: ``(3,)`` median colour of the trunk, 0 to 255.
    """

    box_xyxy: FloatArray
    trunk: FloatArray
    colours: FloatArray
    jersey_rgb: FloatArray


TILES = (1.0, 0.6)
"""Sides of the tiles of a sweep over the shorter side of the picture. The person detector finds
players from a fifth of its region's side on: 130 px in the 648 px tiles at 1080p."""
FINER_TILE = 0.45
"""The same for sweeps that look for smaller players."""

_EXPOSED = 0.3
"""Share of a tile that makes it worth another look: wider than a player of the least height."""

SMALLEST_REGION = 0.4
"""Side of the smallest region looked at, over the shorter side of the picture."""

_TILE_OVERLAP = 0.25
"""The width and most of the height of a player who only just shows in the tile."""

_MIN_SCORE = 0.5
_MIN_HEIGHT = 0.04
"""Over the shorter side of the picture. Smaller ones cannot be measured anyway."""

_HEAD_ROOM = 0.09
"""From the highest landmark (eyes, ears) to the top of the head, over the landmarks' height.
From memory of body proportions: eye height is 0.93 to 0.94 of standing height."""
_SOLE_ROOM = 0.02
_SIDE_ROOM = 0.06
"""Landmarks are joints; hips and shoulders reach so much farther out."""
_LEAST_WIDTH = 0.35
"""Of a box over its height: in mid-stride, or seen from the side, landmarks alone make a player so
narrow that his own hips may lie outside the box a moment later."""

_TRUNK = SKELETON.indices("left_shoulder", "right_shoulder", "left_hip", "right_hip")


def find_people(
    reader: FindsPeople, frame_rgb: Rgb, regions: Sequence[npt.ArrayLike]
) -> list[Person]:
    """Everyone found in any of the regions, each person once.

    Args:
        reader: the pose model.
        frame_rgb: ``(height, width, 3)`` uint8.
        regions: boxes left, top, right, bottom in pixels.
    """
    people = []
    for pose in reader.find_people(frame_rgb, regions):
        box = _whole_box(pose)
        if pose.score >= _MIN_SCORE and box[3] - box[1] >= _MIN_HEIGHT * min(frame_rgb.shape[:2]):
            trunk = (_trunk(pose) - np.tile(box[:2], 2)) / np.tile(box[2:] - box[:2], 2)
            patch = _patch(frame_rgb, _trunk(pose))
            jersey_rgb = np.median(patch.reshape(-1, 3), axis=0).astype(np.float64)
            people.append(Person(box, trunk, _colours(patch), jersey_rgb))
    return people


def tiles(width_px: int, height_px: int, turn: int) -> list[FloatArray]:
    """Squares that cover the picture.

    Args:
        width_px, height_px: size of the picture.
        turn: number of the sweep. Even ones have tiles of two sizes, odd ones finer tiles, whose
            edges lie elsewhere, as a player cut by a tile's edge is not found.
    """
    shorter = min(width_px, height_px)
    sides = [round(share * shorter) for share in ([FINER_TILE] if turn % 2 else TILES)]
    return [
        np.array([left, top, left + side - 1, top + side - 1])
        for side in sides
        for top in _starts(height_px, side)
        for left in _starts(width_px, side)
    ]


def exposed_tiles(width_px: int, height_px: int, to_swept: FloatArray) -> list[FloatArray]:
    """Tiles of which a good part was not in the picture at the last sweep.

    Args:
        width_px, height_px: size of the picture.
        to_swept: ``(3, 3)`` homography from the present picture to that of the last sweep.
    """
    side = round(TILES[-1] * min(width_px, height_px))
    grid = np.stack(np.meshgrid(*[np.linspace(0.05, 0.95, 10)] * 2), axis=-1).reshape(-1, 2)
    exposed = []
    for top in _starts(height_px, side):
        for left in _starts(width_px, side):
            there = mapped(to_swept, np.array([left, top]) + side * grid)
            outside = np.any((there < 0) | (there > (width_px, height_px)), axis=1)
            if outside.mean() >= _EXPOSED:
                exposed.append(np.array([left, top, left + side - 1, top + side - 1]))
    return exposed


def around(box_xyxy: FloatArray, room_px: float = 0.0) -> FloatArray:
    """The square region to look in for who is expected in the box, give or take ``room_px``."""
    middle = (box_xyxy[:2] + box_xyxy[2:]) / 2
    half = 0.9 * max(box_xyxy[2:] - box_xyxy[:2]) + room_px
    return np.concatenate([middle - half, middle + half])


def around_motion(box_xyxy: FloatArray) -> FloatArray:
    """The square region to look in where something moved.

    As high as for a player, but no wider than the change, which spans where he was and where he
    is: in too large a region the detector misses him.
    """
    wide, high = box_xyxy[2:] - box_xyxy[:2]
    middle = (box_xyxy[:2] + box_xyxy[2:]) / 2
    half = max(0.9 * high, 0.55 * wide)
    return np.concatenate([middle - half, middle + half])


def at_least(region: FloatArray, side_px: float) -> FloatArray:
    """The region, or a larger one of that side around the same middle."""
    short = max(0.0, (side_px - (region[2] - region[0])) / 2)
    return np.asarray(region + np.array([-short, -short, short, short]))


def regions_for(expected: Sequence[tuple[FloatArray, float]]) -> list[FloatArray]:
    """Regions to look in for several players, one for those near each other and alike in size.

    Args:
        expected: for each player the box ``(4,)`` and by how many pixels it may be off.
    """
    groups: list[list[tuple[FloatArray, float]]] = []
    for box, room in expected:
        for group in groups:
            if any(near(box, other) and alike(box, other) for other, _ in group):
                group.append((box, room))
                break
        else:
            groups.append([(box, room)])
    return [
        around(union([box for box, _ in group]), max(room for _, room in group)) for group in groups
    ]


def moving_boxes(
    before: Grey, now: Grey, before_to_now: FloatArray, known_xyxy: Sequence[FloatArray]
) -> list[FloatArray]:
    """Where the picture changed and no known player accounts for it, largest first.

    Args:
        before: an earlier small picture, uint8.
        now: the present one, of the same size.
        before_to_now: ``(3, 3)`` homography of the background between them.
        known_xyxy: boxes of known players, then and now.

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
    changed = np.asarray(change > _CHANGE, dtype=np.uint8)
    # Head, trunk and legs of one player come apart, and so do where he was and where he is.
    joined = cv2.morphologyEx(changed, cv2.MORPH_CLOSE, np.ones((15, 15), np.uint8))
    n, _, stats, _ = cv2.connectedComponentsWithStats(joined)
    order = sorted(range(1, n), key=lambda part: -stats[part, cv2.CC_STAT_AREA])
    boxes = []
    for part in order:
        left, top, wide, high, _ = stats[part]
        if high >= _MIN_MOVING_HEIGHT * min(width, height):
            boxes.append(np.array([left, top, left + wide - 1, top + high - 1], dtype=np.float64))
    return boxes


_CHANGE = 18
"""Grey levels: above noise and compression, below a player before grass."""
_MIN_MOVING_HEIGHT = 0.06


def _starts(length: int, side: int) -> FloatArray:
    """Left or top edges of tiles that cover a length, evenly spread, overlapping enough."""
    if length <= side:
        return np.array([(length - side) / 2])
    n = int(np.ceil((length - side) / (side * (1 - _TILE_OVERLAP)))) + 1
    return np.linspace(0, length - side, n)


def _whole_box(pose: PlayerPose) -> FloatArray:
    left, top, right, bottom = pose.box_xyxy
    height = bottom - top
    room = max(_SIDE_ROOM * height, (_LEAST_WIDTH * height - (right - left)) / 2)
    return np.array(
        [left - room, top - _HEAD_ROOM * height, right + room, bottom + _SOLE_ROOM * height]
    )


_PAINT = 128
_HUES, _SATURATIONS, _VALUES = 12, 4, 4


def colours_in(frame_rgb: Rgb, box_xyxy: FloatArray, trunk: FloatArray) -> FloatArray:
    """The colours, as in :class:`Person`, where the trunk is in a player's box."""
    side = np.tile(box_xyxy[2:] - box_xyxy[:2], 2)
    return _colours(_patch(frame_rgb, np.tile(box_xyxy[:2], 2) + trunk * side))


def painted_out(frame_rgb: Rgb, people: Sequence[Person]) -> Rgb:
    """The frame without people already found, for somebody close to them to be found."""
    rest = frame_rgb.copy()
    for person in people:
        left, top, right, bottom = np.round(person.box_xyxy).astype(int)
        # Only the middle of the box: what reaches into its sides may be the other's.
        inset = (right - left) // 6
        columns = slice(max(left + inset, 0), max(right - inset, 0))
        rest[max(top, 0) : max(bottom, 0), columns] = _PAINT
    return rest


def _trunk(pose: PlayerPose) -> FloatArray:
    """The middle of the trunk, left, top, right, bottom."""
    trunk = pose.xy_px[_TRUNK]
    # A player seen from the side has a trunk of no width between the landmarks.
    half = np.maximum(0.35 * np.ptp(trunk, axis=0), 0.15 * np.ptp(trunk[:, 1]))
    half = np.maximum(half, 1.0)
    middle = trunk.mean(axis=0)
    return np.concatenate([middle - half, middle + half])


def _patch(frame_rgb: Rgb, box: FloatArray) -> Rgb:
    """The pixels in a box, one at least."""
    height, width = frame_rgb.shape[:2]
    x0, y0 = np.clip(np.floor(box[:2]), 0, (width - 1, height - 1)).astype(int)
    x1, y1 = np.clip(np.ceil(box[2:]), (x0 + 1, y0 + 1), (width, height)).astype(int)
    return np.ascontiguousarray(frame_rgb[y0:y1, x0:x1])


def _colours(patch: Rgb) -> FloatArray:
    import cv2

    hsv = cv2.cvtColor(patch, cv2.COLOR_RGB2HSV)
    counts = cv2.calcHist(
        [hsv], [0, 1, 2], None, [_HUES, _SATURATIONS, _VALUES], [0, 180, 0, 256, 0, 256]
    ).ravel()
    # Neighbouring bins share a little, so that a small change of light is not another colour.
    smooth = cv2.GaussianBlur(counts.reshape(_HUES, -1), (3, 3), 0.6).ravel() + 1e-3
    return np.asarray(np.sqrt(smooth / smooth.sum()), dtype=np.float64)
