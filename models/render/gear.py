"""Rigid gear, in the frame of the part that carries it: helmet with cage, stick with pocket."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.render.gbuffer import Mesh, merge, mesh
from models.render.props import bar

Array = NDArray[Any]
HEAD_LENGTH_M = 0.26  # the stick's head, throat to scoop
BUTT_M = 0.07  # shaft below the lower hand


def helmet(low: Array, high: Array, rgb: Any, trim: Any) -> Mesh:
    """Helmet around a head whose box is low..high (3,) in the head frame (x right, y forward)."""
    top = high[2]
    centre = np.array([0.0, (low[1] + high[1]) / 2 - 0.005, top - 0.115])
    radii = np.array([(high[0] - low[0]) / 2 * 0.9 + 0.022, (high[1] - low[1]) / 2 + 0.014, 0.136])
    na, ne = 72, 40
    azimuth = np.linspace(-np.pi, np.pi, na, endpoint=False)
    height = np.linspace(np.radians(-52), np.pi / 2 - 0.01, ne)
    a, e = np.meshgrid(azimuth, height)

    def at(a: Array, e: Array, out: float = 0.0) -> Array:
        """Points of the shell; a 0 straight ahead. The jaw line runs down, not in."""
        r = np.cos(np.maximum(e, np.radians(-18))) ** 0.85
        p = np.stack([np.sin(a) * r, np.cos(a) * r, np.sin(e)], -1)
        return centre + p * (radii + out)

    # A ridge along the middle and grooves beside it: the look of a moulded shell.
    groove = 0.004 * np.cos(6 * a) * np.clip(np.sin(e) * 1.3, 0, 1)
    points = at(a, e) * 1.0
    points += (
        (points - centre)
        / np.linalg.norm(points - centre, axis=-1, keepdims=True)
        * groove[..., None]
    )
    index = np.arange(na * ne).reshape(ne, na)
    q = np.stack([index[:-1], np.roll(index, -1, 1)[:-1], np.roll(index, -1, 1)[1:], index[1:]], -1)
    mid_a, mid_e = a[:-1] + np.pi / na, e[:-1]
    opening = (np.abs(mid_a) < np.radians(62)) & (mid_e < np.radians(20))
    throat = mid_e < np.radians(
        -30 - 22 * np.exp(-(((np.abs(mid_a) - np.radians(85)) / 0.55) ** 2))
    )
    q = q[~(opening | throat)]
    faces = np.concatenate([q[:, [0, 2, 1]], q[:, [0, 3, 2]]])
    colour = np.tile(np.array(rgb, np.float32), (na * ne, 1))
    vent = (np.abs(np.abs(a) - np.radians(108)) < np.radians(13)) & (
        np.abs(e - np.radians(12)) < np.radians(6)
    )
    vent |= (np.abs(np.abs(a) - np.radians(150)) < np.radians(12)) & (
        np.abs(e - np.radians(30)) < np.radians(5)
    )
    ear = (np.abs(a) - np.radians(92)) ** 2 + (e + np.radians(20)) ** 2 < np.radians(9) ** 2
    colour[(vent | ear).ravel()] = (0.05, 0.05, 0.06)
    stripe = (np.abs(np.abs(a) - np.radians(24)) < np.radians(5)) & (e > np.radians(28))
    colour[stripe.ravel()] = trim
    shell = mesh(points.reshape(-1, 3), faces, colour, 0.8)

    # Peak: a curved shelf over the brow.
    pa = np.linspace(np.radians(-66), np.radians(66), 25)
    inner = at(pa, np.full(25, np.radians(21)))
    tip = at(pa, np.full(25, np.radians(13)))
    tip = tip + np.stack([np.sin(pa) * 0.01, np.cos(pa) ** 1.5 * 0.055, np.zeros(25)], -1)
    under = tip - (0, 0, 0.010)
    strip = np.concatenate([inner, tip, under, inner - (0, 0, 0.02)])
    peak = mesh(strip, _strips(4, 25), trim, 0.6)

    steel = (0.80, 0.81, 0.82)
    bars = []
    for e_deg, wide, out in ((4, 62, 0.030), (-10, 63, 0.036), (-24, 63, 0.040), (-38, 62, 0.040)):
        arc = np.linspace(np.radians(-wide), np.radians(wide), 25)
        line = at(arc, np.full(25, np.radians(e_deg)), 0.006)
        line[:, 1] += out * np.cos(arc)
        bars.append(bar(line, 0.0036, steel, 0.6, 6))
    for a_deg in (-22, 22):
        rise = np.radians(np.linspace(-38, 12, 12))
        line = at(np.full(12, np.radians(a_deg)), rise, 0.006)
        line[:, 1] += np.interp(np.degrees(rise), [-38, -24, 12], [0.040, 0.040, 0.026])
        bars.append(bar(line, 0.0034, steel, 0.6, 6))
    arc = np.linspace(np.radians(-72), np.radians(72), 25)
    chin = at(arc, np.full(25, np.radians(-49)), 0.004)
    chin[:, 1] += 0.036 * np.cos(arc)
    bars.append(bar(chin, 0.011, trim, 0.5, 8))
    return merge([shell, peak, *bars])


def shoe(foot: Array, ankle_z: float, rgb: Any) -> Mesh:
    """A cleated shoe around a rest foot (m, 3), low at the toes, up to the ankle at the heel."""
    heel, toe = foot[:, 1].min(), foot[:, 1].max()
    stations = np.linspace(0.0, 1.0, 16)
    upper, sole = [], []
    angle = np.linspace(0, np.pi, 13)
    for s in stations:
        y = heel + s * (toe - heel)
        near = foot[np.abs(foot[:, 1] - y) < 0.016]
        low = near[near[:, 2] < ankle_z]
        middle = (low[:, 0].min() + low[:, 0].max()) / 2
        half = (low[:, 0].max() - low[:, 0].min()) / 2 + 0.006
        rise = min(near[:, 2].max(), ankle_z + 0.012) + 0.006
        round_off = 0.75 + 0.25 * min(1.0, 6 * s, 8 * (1 - s))
        push = y + (0.008 if s == 1 else -0.008 if s == 0 else 0.0)
        x = middle + half * round_off * np.cos(angle)
        z = rise * np.sin(angle) ** 0.75
        upper.append(np.column_stack([x, np.full(13, push), z]))
        edge = half * round_off + 0.004
        sole.append(
            [
                (middle + k * edge, push + (0.003 if s == 1 else 0), z)
                for k, z in (
                    (1, 0.010),
                    (1, -0.006),
                    (0.8, -0.018),
                    (-0.8, -0.018),
                    (-1, -0.006),
                    (-1, 0.010),
                )
            ]
        )
    parts = []
    for rows, colour, gloss in ((upper, rgb, 0.3), (sole, (0.78, 0.78, 0.76), 0.2)):
        grid = np.array(rows)
        ends = np.stack([np.repeat(grid[k].mean(0)[None], grid.shape[1], 0) for k in (0, -1)])
        grid = np.concatenate([ends[:1], grid, ends[1:]])
        parts.append(mesh(grid.reshape(-1, 3), _strips(*grid.shape[:2])[:, ::-1], colour, gloss))
    return merge(parts)


def _strips(rows: int, cols: int) -> Array:
    faces = []
    for r in range(rows - 1):
        for c in range(cols - 1):
            p, q = r * cols + c, (r + 1) * cols + c
            faces += [(p, p + 1, q), (p + 1, q + 1, q)]
    return np.array(faces)


def stick(length_m: float, shaft_rgb: Any, trim: Any) -> Mesh:
    """A stick along z from the butt at 0 to the scoop at length_m, pocket bulging to -y."""
    neck = length_m - HEAD_LENGTH_M
    z = np.linspace(0, neck + 0.03, 12)
    shaft = bar(np.column_stack([z * 0, z * 0, z]), 0.0135, shaft_rgb, 0.6, 8)
    butt = bar([(0, 0, -0.005), (0, 0, 0.03)], 0.017, (0.05, 0.05, 0.05), 0.2, 8)
    tape = bar([(0, 0, 0.05), (0, 0, 0.22)], 0.0148, trim, 0.1, 8)
    s = np.linspace(0, 1, 16)
    half = 0.016 + 0.064 * np.clip(s * 1.15, 0, 1) ** 0.8
    half[-3:] *= (0.93, 0.72, 0.0)
    bend = 0.020 * np.sin(np.pi * s)
    plastic = (0.93, 0.93, 0.90)
    rail = [np.column_stack([k * half, bend, neck + HEAD_LENGTH_M * s]) for k in (-1, 1)]
    parts = [shaft, butt, tape, *(bar(r, 0.0065, plastic, 0.4, 6) for r in rail)]
    t = np.linspace(-1, 1, 9)
    sag = 0.055 * np.sin(np.pi * np.clip(s, 0, 1) ** 0.8)
    net = np.stack(
        [
            half[:, None] * t[None, :],
            bend[:, None] - sag[:, None] * (1 - t[None, :] ** 2),
            np.broadcast_to((neck + HEAD_LENGTH_M * s)[:, None], (16, 9)),
        ],
        -1,
    )
    cord = (0.88, 0.88, 0.84)
    parts += [bar(row, 0.0022, cord, 0.05, 4) for row in net[1:-1]]
    parts += [bar(net[:, j], 0.0022, cord, 0.05, 4) for j in range(1, 8)]
    return merge(parts)


def grip(left: Array, right: Array, length_m: float) -> Array:
    """Pose (4, 4) of the stick held by one hand or two (4, 4 each); z runs to the stick's head."""
    offset = left[:3, 3] - right[:3, 3]
    away = [np.linalg.norm(offset - (offset @ h[:3, 2]) * h[:3, 2]) for h in (right, left)]
    two_handed = min(away) < 0.06
    lead = right if away[0] <= away[1] else left
    axis = lead[:3, 2]
    if two_handed:
        low, high = sorted((left, right), key=lambda h: h[:3, 3] @ axis)
        axis = high[:3, 3] - low[:3, 3]
        axis = axis / np.linalg.norm(axis)
        butt = low[:3, 3] - axis * BUTT_M
    else:
        butt = right[:3, 3] - right[:3, 2] * min(0.35, length_m * 0.3)
        axis = right[:3, 2]
    y = lead[:3, 1] - (lead[:3, 1] @ axis) * axis
    y = y / np.linalg.norm(y)
    pose = np.eye(4)
    pose[:3, 0], pose[:3, 1], pose[:3, 2], pose[:3, 3] = np.cross(y, axis), y, axis, butt
    return pose
