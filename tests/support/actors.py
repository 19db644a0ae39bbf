"""Films of upright rectangles made on the fly, and a stand-in for the pose model that sees them.

Each player is a rectangle of texture in two colours, legs and jersey; the stand-in finds jerseys
by their colour in the pixels it is given, so that whoever is hidden is not found. Nothing is known
to it about the film.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import av
import cv2
import numpy as np

from posecheck.maths.boxes import overlap
from posecheck.pose.track import PlayerPose

WIDTH, HEIGHT, RATE = 640, 360, 30
RED, BLUE, YELLOW = (200, 30, 30), (30, 40, 200), (220, 210, 40)


@dataclass(frozen=True)
class Actor:
    """A rectangle on the field.

    Attributes:
        jersey: its colour.
        foot_px: from seconds to the bottom's middle on the field's picture, or None when away.
        height_px: from seconds to its height.
    """

    jersey: tuple[int, int, int]
    foot_px: Callable[[float], tuple[float, float] | None]
    height_px: Callable[[float], float] = lambda t_s: 90.0

    def box(self, t_s: float) -> np.ndarray:
        """Left, top, right, bottom on the field's picture; NaN when away."""
        foot = self.foot_px(t_s)
        if foot is None:
            return np.full(4, np.nan)
        high = self.height_px(t_s)
        return np.array([foot[0] - 0.17 * high, foot[1] - high, foot[0] + 0.17 * high, foot[1]])


def stands(x: float, y: float) -> Callable[[float], tuple[float, float]]:
    return lambda t_s: (x, y)


def runs(
    start: tuple[float, float], end: tuple[float, float], from_s: float, to_s: float
) -> Callable[[float], tuple[float, float]]:
    """Speeds up and brakes smoothly between the two moments, stands before and after."""

    def foot(t_s: float) -> tuple[float, float]:
        s = np.clip((t_s - from_s) / (to_s - from_s), 0, 1)
        s = s * s * (3 - 2 * s)
        return tuple(np.add(start, s * np.subtract(end, start)))

    return foot


def field(width: int = WIDTH, height: int = HEIGHT) -> np.ndarray:
    """Grass of no colour that any jersey has, with blobs to hold on to."""
    rng = np.random.default_rng(5)
    blobs = cv2.GaussianBlur(rng.normal(0, 60, (height, width)).astype(np.float32), (0, 0), 2.0)
    grey = np.clip(110 + 3 * blobs, 40, 180)
    return np.stack([0.8 * grey, grey, 0.8 * grey], axis=-1).astype(np.uint8)


def write_film(
    path: Path,
    actors: Sequence[Actor],
    seconds: float,
    pan_px: Callable[[float], float] = lambda t_s: 0.0,
    wall: tuple[int, int] | None = None,
) -> None:
    """Later actors stand in front of earlier ones; the wall (left, right) in front of all.

    Under a pan, a point of the field at x shows at x - pan_px(t).
    """
    wide = field(3 * WIDTH)
    rng = np.random.default_rng(6)
    looks = [_texture(rng, actor.jersey) for actor in actors]
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=RATE, options={"crf": "16", "preset": "ultrafast"})
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        for number in range(round(seconds * RATE)):
            t_s = number / RATE
            move = np.array([[1, 0, -WIDTH - pan_px(t_s)], [0, 1, 0.0]])
            picture = cv2.warpAffine(wide, move, (WIDTH, HEIGHT))
            for actor, look in zip(actors, looks, strict=True):
                box = actor.box(t_s)
                if np.isfinite(box[0]):
                    _paint(picture, look, box - (pan_px(t_s), 0, pan_px(t_s), 0))
            if wall is not None:
                picture[:, wall[0] : wall[1]] = 128
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def truth(actor: Actor, t_s: np.ndarray, pan_px: Callable[[float], float] = lambda t: 0.0):
    """``(n, 4)`` the actor's boxes in the film's pixels."""
    return np.array([actor.box(t) - (pan_px(t), 0, pan_px(t), 0) for t in t_s])


class SeesJerseys:
    """Finds whole rectangles of the known jerseys inside the regions it is given."""

    def __init__(self, *jerseys: tuple[int, int, int]) -> None:
        self._jerseys = jerseys
        self.n_regions = 0
        self.n_boxes = 0

    def find_people(self, frame_rgb: np.ndarray, regions: Sequence[np.ndarray]) -> list[PlayerPose]:
        self.n_regions += len(regions)
        people: list[PlayerPose] = []
        for region in regions:
            left, top = np.clip(np.floor(region[:2]), 0, None).astype(int)
            right, bottom = np.ceil(region[2:]).astype(int) + 1
            part = frame_rgb[top:bottom, left:right]
            if part.size == 0:
                continue
            for jersey in self._jerseys:
                for pose in _poses(part, jersey, (left, top), max(right - left, bottom - top)):
                    if all(np.abs(pose.xy_px - p.xy_px).max() > 12 for p in people):
                        people.append(pose)
        return people

    def person_in(self, frame_rgb: np.ndarray, box_xyxy: np.ndarray) -> PlayerPose | None:
        """Whoever fills the box, among those seen around it."""
        self.n_boxes += 1
        seen = SeesJerseys(*self._jerseys).find_people(frame_rgb, [box_xyxy + MARGIN_PX])
        return filling(seen, box_xyxy)


MARGIN_PX = np.array([-30, -30, 30, 30])


def filling(people: Sequence[PlayerPose], box_xyxy: np.ndarray) -> PlayerPose | None:
    """The one whose landmarks fill most of a box, if they fill a third of it."""
    best = max(people, key=lambda pose: overlap(pose.box_xyxy, box_xyxy), default=None)
    return best if best is not None and overlap(best.box_xyxy, box_xyxy) > 0.3 else None


_JERSEY = (0.16, 0.55)
"""The jersey's top and bottom as shares of the height."""


def _texture(rng: np.random.Generator, jersey: tuple[int, int, int]) -> np.ndarray:
    look = np.empty((60, 20, 3), np.float32)
    look[:] = (70, 60, 55)
    top, bottom = round(_JERSEY[0] * 60), round(_JERSEY[1] * 60)
    look[top:bottom] = jersey
    shade = cv2.resize(rng.uniform(0.75, 1.25, (15, 5)).astype(np.float32), (20, 60))
    return np.clip(look * shade[..., None], 0, 255).astype(np.uint8)


def _paint(picture: np.ndarray, look: np.ndarray, box: np.ndarray) -> None:
    """Lay the look over the box, to a fraction of a pixel."""
    scale = (box[2:] - box[:2]) / (look.shape[1], look.shape[0])
    place = np.array([[scale[0], 0, box[0]], [0, scale[1], box[1]]])
    size = (picture.shape[1], picture.shape[0])
    laid = cv2.warpAffine(look, place, size)
    mask = cv2.warpAffine(np.ones(look.shape[:2], np.float32), place, size)
    picture[:] = (laid * mask[..., None] + picture * (1 - mask[..., None])).astype(np.uint8)


def _poses(
    part: np.ndarray, jersey: tuple[int, int, int], corner: tuple[int, int], side: int
) -> list[PlayerPose]:
    unit = part / np.maximum(np.linalg.norm(part, axis=-1, keepdims=True), 1)
    wanted = np.array(jersey) / np.linalg.norm(jersey)
    mask = ((unit @ wanted > 0.97) & (part.max(axis=-1) > 110)).astype(np.uint8)
    n, _, stats, _ = cv2.connectedComponentsWithStats(mask)
    poses = []
    for x, y, wide, high, area in stats[1:n]:
        # A jersey cut off or half hidden is no longer as tall and as wide as it should be.
        if high < 0.08 * side or not 0.6 < (wide / high) / (0.34 / 0.39) < 1.6 or area < 80:
            continue
        tall = high / (_JERSEY[1] - _JERSEY[0])
        box = np.array([x, y - _JERSEY[0] * tall, x + wide, y + (1 - _JERSEY[0]) * tall])
        poses.append(standing_pose(box + np.tile(corner, 2)))
    return poses


def standing_pose(box: np.ndarray) -> PlayerPose:
    """Landmarks of an upright body that fills the box from the head's top to the soles."""
    down = np.full(33, 0.08)
    for numbers, share in (
        ((11, 12), 0.2), ((13, 14), 0.36), ((15, 16, 17, 18, 19, 20, 21, 22), 0.5),
        ((23, 24), 0.52), ((25, 26), 0.75), ((27, 28), 0.95), ((29, 30, 31, 32), 0.98),
    ):  # fmt: skip
        down[list(numbers)] = share
    across = np.where(np.arange(33) % 2 == 1, 0.0, 1.0)
    across[:11] = 0.5
    # Joints lie inside the outline.
    left, right = box[0] + 0.06 * (box[3] - box[1]), box[2] - 0.06 * (box[3] - box[1])
    xy = np.stack([left + across * (right - left), box[1] + down * (box[3] - box[1])], -1)
    sure = np.full(33, 0.9)
    world = np.concatenate([(xy - xy[[23, 24]].mean(axis=0)) / (box[3] - box[1]) * 1.75,
                            np.zeros((33, 1))], axis=1)  # fmt: skip
    return PlayerPose(xy, world, sure)
