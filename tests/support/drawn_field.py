"""A field drawn by hand: grass, cones, crease and goal as a known camera sees them."""

from __future__ import annotations

from collections.abc import Iterable

import cv2
import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.ground.find.background import FieldPicture
from posecheck.maths.arrays import FloatArray
from posecheck.practice.field import GOAL_HEIGHT_M
from posecheck.practice.layout import Layout, Point

SIZE = (1920, 1080)
GRASS, SKY = (86, 120, 58), (196, 208, 224)
ORANGE, YELLOW, BLUE, PAINT = (245, 105, 20), (235, 220, 30), (30, 60, 235), (225, 228, 222)


def draw_field(
    camera: Camera,
    layout: Layout,
    rng: np.random.Generator,
    *,
    colour: tuple[int, int, int] = ORANGE,
    cone_m: tuple[float, float] = (0.20, 0.23),
    paint: bool = True,
    goal: bool = True,
    hidden: Iterable[str] = (),
    strange_m: Iterable[Point] = (),
) -> FieldPicture:
    """Draw what a camera sees.

    Args:
        camera: for a picture of SIZE.
        layout: what stands where.
        rng: for the grass.
        colour, cone_m: of the cones; width and height.
        paint: whether the crease is painted.
        goal: whether the goal stands there, when the layout has one.
        hidden: cones that somebody stands before.
        strange_m: places of coloured boxes that are no cones.
    """
    width, height = SIZE
    rows, columns = np.mgrid[0 : height // 4, 0 : width // 4].astype(np.float64) * 4
    below = np.isfinite(camera.to_ground(np.stack([columns, rows], axis=-1))[..., 0])
    small = np.where(below[..., None], GRASS, SKY).astype(np.float32)
    patches = cv2.resize(rng.normal(0, 1, (9, 16)).astype(np.float32), (width, height))
    rgb = cv2.resize(small, SIZE, interpolation=cv2.INTER_LINEAR)
    rgb += (7 * patches + rng.normal(0, 5, (height, width)))[..., None].astype(np.float32)
    canvas = np.clip(rgb, 0, 255).astype(np.uint8)
    if layout.goal and paint:
        angle = np.linspace(0, 2 * np.pi, 361)
        radius = layout.points["crease-top"][1] + np.array([[-0.025], [0.025]])
        ring = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=-1)
        for i in range(360):
            quad = np.concatenate([ring[:, i], ring[::-1, i + 1]])
            _fill(canvas, camera, np.column_stack([quad, np.zeros(4)]), PAINT)
    if layout.goal and goal:
        half = layout.points["goal-right"][0]
        for x in (-half, half):
            post = [(x - 0.025, 0, 0), (x + 0.025, 0, 0)]
            post += [(x + 0.025, 0, GOAL_HEIGHT_M), (x - 0.025, 0, GOAL_HEIGHT_M)]
            _fill(canvas, camera, np.array(post), ORANGE)
    for name in layout.cones:
        if name not in hidden:
            _cone(canvas, camera, layout.points[name], *cone_m, colour)
    for place in strange_m:
        _cone(canvas, camera, place, 0.5, 0.45, BLUE)
    return FieldPicture(canvas, np.ones((height, width), bool), np.zeros(2), 1.0, SIZE)


def _cone(
    canvas: np.ndarray,
    camera: Camera,
    at: Point,
    width_m: float,
    height_m: float,
    colour: tuple[int, int, int],
) -> None:
    """A round foot and a triangle on it that faces the camera."""
    away = np.array(at) - camera.centre_m[:2]
    side = np.array([-away[1], away[0]]) / np.linalg.norm(away) * width_m / 2
    angle = np.linspace(0, 2 * np.pi, 25)
    foot = np.array(at) + width_m / 2 * np.column_stack([np.cos(angle), np.sin(angle)])
    _fill(canvas, camera, np.column_stack([foot, np.zeros(25)]), colour)
    top = np.array([*at, height_m])
    _fill(canvas, camera, np.array([[*(at - side), 0], [*(at + side), 0], top]), colour)


def _fill(
    canvas: np.ndarray, camera: Camera, corners_m: FloatArray, colour: tuple[int, int, int]
) -> None:
    xy = camera.to_image(np.asarray(corners_m, dtype=np.float64))
    if np.isfinite(xy).all() and np.abs(xy).max() < 20000:
        fixed = np.round(xy * 16).astype(np.int32)
        cv2.fillConvexPoly(canvas, fixed, colour, lineType=cv2.LINE_AA, shift=4)
