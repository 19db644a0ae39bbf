"""Things standing on the field, as meshes: goal and net, cones, benches, low stands."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.render.gbuffer import Mesh, mesh

Array = NDArray[Any]

CONES = {
    "inside": (0.0, 3.5),
    "top": (0.0, 15.0),
    "top-left": (-8.0, 12.5),
    "top-right": (8.0, 12.5),
    "side-left": (-11.5, 4.5),
    "side-right": (11.5, 4.5),
}
CONE_HEIGHT_M = 0.23
GOAL_HALF_M = 0.914  # 6 ft between the posts
GOAL_HEIGHT_M = 1.829
GOAL_DEPTH_M = 2.134  # 7 ft from the goal line to the net's apex
STANDS_CENTRE = (-31.0, 9.0, 0.8)


def tube(path: Any, radius: Any, sides: int = 10, closed: bool = False) -> tuple[Array, Array]:
    """A round bar along a polyline (n, 3): points and faces. radius m, one or per point."""
    path = np.asarray(path, float)
    ahead = np.roll(path, -1, 0) - np.roll(path, 1, 0)
    if not closed:
        ahead[0], ahead[-1] = path[1] - path[0], path[-1] - path[-2]
    ahead /= np.maximum(np.linalg.norm(ahead, axis=1, keepdims=True), 1e-9)
    helper = np.eye(3)[np.argmin(np.abs(ahead).mean(0))]
    side = np.cross(ahead, helper)
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    other = np.cross(ahead, side)
    a = np.arange(sides) * 2 * np.pi / sides
    ring = np.cos(a)[None, :, None] * side[:, None] + np.sin(a)[None, :, None] * other[:, None]
    points = (
        path[:, None] + ring * np.broadcast_to(np.asarray(radius, float), len(path))[:, None, None]
    )
    faces = []
    n = len(path)
    for i in range(n if closed else n - 1):
        p, q = i * sides, ((i + 1) % n) * sides
        for j in range(sides):
            k = (j + 1) % sides
            faces += [(p + j, p + k, q + j), (p + k, q + k, q + j)]
    return points.reshape(-1, 3), np.array(faces)


def bar(path: Any, radius: Any, rgb: Any, gloss: float = 0.3, sides: int = 10) -> Mesh:
    """A round bar along a polyline as a mesh; see `tube`."""
    return mesh(*tube(path, radius, sides), rgb, gloss)


def box(low: Any, high: Any, rgb: Any, gloss: float = 0.15) -> Mesh:
    """An axis-aligned box with hard edges (corners are not shared between sides)."""
    low, high = np.asarray(low, float), np.asarray(high, float)
    points: list[Array] = []
    faces: list[tuple[int, int, int]] = []
    for axis in range(3):
        for end in (0, 1):
            u, v = (axis + 1) % 3, (axis + 2) % 3
            corners = np.zeros((4, 3))
            corners[:, axis] = (low, high)[end][axis]
            corners[:, u] = np.array([low[u], high[u], high[u], low[u]])
            corners[:, v] = np.array([low[v], low[v], high[v], high[v]])
            s = len(points) * 4
            faces += (
                [(s, s + 1, s + 2), (s, s + 2, s + 3)]
                if end
                else [(s, s + 2, s + 1), (s, s + 3, s + 2)]
            )
            points.append(corners)
    return mesh(np.concatenate(points), np.array(faces), rgb, gloss)


def cone(x: float, y: float) -> list[Mesh]:
    """A practice cone on its square foot."""
    orange = (0.98, 0.36, 0.05)
    heights = np.array([0.02, 0.06, 0.12, 0.18, CONE_HEIGHT_M - 0.002, CONE_HEIGHT_M])
    radii = np.array([0.078, 0.064, 0.046, 0.030, 0.017, 0.001])
    path = np.column_stack([np.full(6, x), np.full(6, y), heights])
    return [
        bar(path, radii, orange, 0.25, 24),
        box((x - 0.10, y - 0.10, 0), (x + 0.10, y + 0.10, 0.02), orange),
    ]


def goal() -> list[Mesh]:
    """Posts and crossbar on the goal line, ground bars to an apex behind, a slack cord net."""
    h, w, z = GOAL_HALF_M, GOAL_HEIGHT_M, 0.03
    paint, cord = (0.92, 0.33, 0.10), (0.93, 0.93, 0.90)
    apex = np.array([0.0, -GOAL_DEPTH_M, z])
    frame = [
        bar([(-h, 0, 0), (-h, 0, w)], 0.025, paint, 0.45),
        bar([(h, 0, 0), (h, 0, w)], 0.025, paint, 0.45),
        bar([(-h - 0.025, 0, w), (h + 0.025, 0, w)], 0.025, paint, 0.45),
        bar([(-h, 0, z), apex], 0.022, paint, 0.45),
        bar([(h, 0, z), apex], 0.022, paint, 0.45),
    ]
    top = np.array([0.0, -0.25, w])
    net = []
    for side in (-1.0, 1.0):
        # One panel a side: from the post and half the crossbar down and back to the apex.
        steps = 26
        s = np.linspace(0, 1, steps)
        post = np.column_stack([np.full(steps, side * h), np.zeros(steps), z + (w - z) * s])
        spine = apex + (top - apex) * s[:, None] ** np.array([1, 0.8, 1])
        t = np.linspace(0, 1, 24)
        grid = post[:, None] * (1 - t)[None, :, None] + spine[:, None] * t[None, :, None]
        sag = 0.10 * np.sin(np.pi * t)[None, :] * np.sin(np.pi * s)[:, None]
        grid[..., 0] += side * sag * 0.6
        grid[..., 1] -= sag * 0.3
        net += [bar(line, 0.0028, cord, 0.05, 4) for line in grid[1:]]
        net += [bar(grid[:, j], 0.0028, cord, 0.05, 4) for j in range(1, 24)]
    return frame + net


def furniture() -> list[Mesh]:
    """What players can pass behind: goal and cones."""
    return goal() + [part for x, y in CONES.values() for part in cone(x, y)]


def backdrop() -> list[Mesh]:
    """What players never pass behind: low stands, team bench, bags, a drinks cooler."""
    alloy, frame = (0.70, 0.71, 0.72), (0.40, 0.42, 0.44)
    parts = []
    for row in range(5):
        x, z = -28.5 - 0.75 * row, 0.45 + 0.33 * row
        parts.append(box((x - 0.28, -3, z), (x, 21, z + 0.045), alloy, 0.4))
        parts.append(box((x - 0.72, -3, z - 0.36), (x - 0.40, 21, z - 0.32), alloy, 0.4))
        for y in np.arange(-3, 21.1, 3.0):
            parts.append(box((x - 0.2, y - 0.03, 0), (x - 0.14, y + 0.03, z), frame))
    parts.append(box((-21.8, 4, 0.42), (-21.4, 8.5, 0.46), alloy, 0.4))
    parts += [box((-21.65, y, 0), (-21.55, y + 0.05, 0.42), frame) for y in (4.3, 6.2, 8.1)]
    rng = np.random.default_rng(5)
    for y in (3.2, 4.6, 5.1, 6.9, 9.2, 10.1):
        x, size = -21.6 + rng.uniform(-0.6, 0.6), rng.uniform(0.2, 0.34)
        shade = [(0.10, 0.13, 0.24), (0.12, 0.12, 0.13), (0.40, 0.09, 0.10)][rng.integers(3)]
        parts.append(box((x, y, 0), (x + size, y + 2.2 * size, size), shade))
    parts.append(box((-21.5, 11.2, 0), (-21.1, 11.6, 0.55), (0.95, 0.42, 0.05), 0.5))
    parts.append(box((-21.52, 11.18, 0.55), (-21.08, 11.62, 0.62), (0.93, 0.93, 0.93), 0.5))
    return parts
