"""What lies beyond the field: a chain-link fence, a row of trees, sky and clouds."""

from __future__ import annotations

from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from models.render.appearance import Appearance
from models.render.light import Light, linear
from models.render.noise import noise, noise_tile

Array = NDArray[Any]

TREES_CENTRE = np.array([0.0, 20.0], np.float32)
TREES_RADIUS_M = 78.0
TREES_M_PER_PX = 0.045
TREES_HEIGHT_M = 15.0
FENCE_X_M, FENCE_Y_M, FENCE_HEIGHT_M = 36.0, (-24.0, 96.0), 2.4


def sky_radiance(d: Array) -> Array:
    """Late-summer sky with fair-weather clouds for unit directions d (..., 3)."""
    up = np.clip(d[..., 2], 0.0, 1)
    t = np.power(up, 0.5)[..., None]
    horizon, zenith = np.array([1.12, 1.38, 1.75]), np.array([0.10, 0.30, 0.88])
    blue = horizon * (1 - t) + zenith * t
    scale = 1 / (up + 0.10)
    x, y = d[..., 0] * scale, d[..., 1] * scale
    puffs = sum(
        w * noise(70 + i, x, y, wave)
        for i, (wave, w) in enumerate(
            [(2.4, 1.0), (1.1, 0.55), (0.5, 0.3), (0.22, 0.18), (0.1, 0.10)]
        )
    )
    thick = np.clip((puffs - 0.25) * 0.75, 0, 1) * np.clip(up * 14, 0, 1)
    thick = (thick * thick * (3 - 2 * thick))[..., None]
    cloud = np.array([2.9, 2.9, 2.95]) * (1 - 0.45 * thick)
    return np.asarray((blue * (1 - 0.85 * thick) + cloud * 0.85 * thick).astype(np.float32))


def sky_of(d: Array, light: Light) -> Array:
    """The sky of this light, or what is overhead in its place."""
    if light.sky == "clear":
        sky = sky_radiance(d)
        return sky if light.far == 1.0 else np.asarray(sky * np.float32(light.far))
    up = np.clip(d[..., 2], 0.0, 1)
    if light.sky == "grey":
        scale = 1 / (up + 0.15)
        cloud = 0.10 * noise(75, d[..., 0] * scale, d[..., 1] * scale, 1.3)
        grey = np.array([0.93, 0.97, 1.0]) * 2.0 * light.far
        return np.asarray((grey * (0.85 + 0.35 * up + cloud)[..., None]).astype(np.float32))
    dark = np.array([0.010, 0.012, 0.020])
    return np.asarray((dark * (1.5 - up)[..., None]).astype(np.float32))


def enclosure(
    d: Array,
    centre: Array,
    focal: float,
    appearance: Appearance,
    sunlit: Array,
    rest: Array,
    wall: Array,
    cover: Array,
) -> tuple[Array, Array, Array, Array]:
    """Walls, empty stands or a hall round the field, over what is seen without them.

    The last four arrays are what :func:`models.render.scene._backdrop` puts together: the sunlit
    ground and the rest (h, w, 3), and fence over trees, premultiplied (h, w, 3) and (h, w). A near
    wall, seen from outside, is left out, as in a house cut open.
    """
    light, around = appearance.light, appearance
    gone = np.zeros(d.shape[:2], bool)
    colour = np.zeros(d.shape, np.float32)
    if around.around == "hall":
        up = np.maximum(d[..., 2], 1e-4)
        s = (around.ceiling_m - centre[2]) / up
        x, y = centre[0] + s * d[..., 0], centre[1] + s * d[..., 1]
        seen = d[..., 2] > 1e-3
        beam = 0.35 + 0.65 * ((np.abs(y) % 6.0) > 0.5)
        lamp = ((np.abs(x) % 8.0) < 0.7) & ((np.abs(y + 2) % 6.0) < 2.2)
        roof = np.where(lamp[..., None], 2.2, (0.28 * beam)[..., None] * light.sky_rgb)
        colour, gone = np.where(seen[..., None], roof, colour).astype(np.float32), seen
    nearest = np.full(d.shape[:2], np.inf, np.float32)
    west, east, south, north = around.walls_m
    for axis, plane, sign in ((0, west, -1), (0, east, 1), (1, south, -1), (1, north, 1)):
        across = d[..., axis] * sign
        s = (plane - centre[axis]) / np.where(across > 1e-5, d[..., axis], 1e-5 * sign)
        along, high = centre[1 - axis] + s * d[..., 1 - axis], centre[2] + s * d[..., 2]
        low, top = (south, north) if axis == 0 else (west, east)
        hit = (across > 1e-5) & (s > 0) & (along > low) & (along < top) & (s < nearest)
        hit &= (high > 0) & (high < around.wall_height_m)
        facing = max(float(-sign * light.to_sun[axis]), 0.0)
        glow = light.sun_rgb * facing + 0.5 * light.sky_rgb + 0.5 * light.bounce_rgb
        glow = np.maximum(glow, 0.25 * light.sun_rgb) * np.float32(max(light.far, 0.3))
        shown = _wall_albedo(around, along, high, np.maximum(s / focal, 1e-3)) * glow
        colour = np.where(hit[..., None], shown, colour).astype(np.float32)
        nearest = np.where(hit, s, nearest)
        gone = gone | hit
    keep = ~gone[..., None]
    return (
        sunlit * keep,
        np.where(keep, rest, colour),
        np.asarray(wall * keep, np.float32),
        np.asarray(cover * ~gone, np.float32),
    )


def _wall_albedo(around: Appearance, along: Array, high: Array, pixel: Array) -> Array:
    """Linear albedo (h, w, 3) of a wall at so many metres along it and up."""

    def line(value: Array, every: float, thick: float) -> Array:
        """How much of a pixel lies on lines of this spacing and thickness, m."""
        off = np.abs((value / every) % 1.0 - 0.5) * every
        inside = np.clip((off - (every - thick) / 2) / pixel + 0.5, 0, 1)
        plain = thick / every
        fine = np.clip(every / (2.2 * pixel) - 0.9, 0, 1)
        return np.asarray(plain + (inside - plain) * fine)

    rgb = np.array(around.wall_rgb, np.float32)
    stain = 0.16 * noise(91, along, high, 2.5) + 0.08 * noise(92, along, high, 0.5)
    if around.around == "stands":
        step = line(high, 0.42, 0.10)
        seat = line(along, 0.50, 0.12)
        value = (1 - 0.75 * step) * (1 - 0.45 * seat) * (1 + stain)
        aisle = (np.abs(along % 9.0) < 1.2)[..., None]
        grey = np.array([0.30, 0.30, 0.29], np.float32) * (1 - 0.6 * step)[..., None]
        return np.asarray(np.where(aisle, grey, rgb * np.clip(value, 0.05, 2)[..., None]))
    if around.around == "hall":
        rib = line(along, 0.35, 0.05)
        value = (1 - 0.4 * rib) * (1 + 0.5 * stain)
        lower = (high < 2.2)[..., None]
        skirting = np.array(around.trim_rgb, np.float32)
        return np.asarray(np.where(lower, skirting, rgb) * np.clip(value, 0.05, 2)[..., None])
    course = np.floor(high / 0.20)
    joint = np.maximum(line(high, 0.20, 0.015), line(along + 0.2 * (course % 2), 0.40, 0.015))
    brick = 0.22 * np.sin(course * 78.2 + np.floor((along + 0.2 * (course % 2)) / 0.40) * 12.99)
    brick = brick * np.clip(0.4 / (2.2 * pixel) - 0.9, 0, 1)
    value = np.clip((1 + brick + stain) * (1 - 0.35 * joint), 0.05, 2)
    return np.asarray(rgb * value[..., None])


@cache
def tree_band() -> tuple[Array, Array]:
    """Trees unrolled on a cylinder: colour (h, w, 3) linear and cover (h, w), top row highest."""
    rng = np.random.default_rng(4)
    w = int(2 * np.pi * TREES_RADIUS_M / TREES_M_PER_PX)
    h = int(TREES_HEIGHT_M / TREES_M_PER_PX)
    shade, hue = np.zeros((h, w), np.float32), np.zeros((h, w), np.float32)
    cover = np.zeros((h, w), np.float32)
    for row, (count, tall, dim) in enumerate([(120, 11.5, 0.55), (130, 8.5, 0.8), (170, 5.0, 1.0)]):
        for _ in range(count):
            foot = rng.uniform(0, w)
            size = tall * rng.uniform(0.65, 1.2)
            broad = size * rng.uniform(0.26, 0.42)
            tint = rng.normal(0, 0.5) + 0.2 * row
            bare = 0.04 if row == 2 else 0.16
            for blob in range(150):
                # Clumps fill an egg-shaped crown; the later ones sit nearer the viewer.
                angle, r = rng.uniform(0, 2 * np.pi), np.sqrt(rng.uniform(0, 1))
                px = broad * r * np.cos(angle)
                pz = size * (bare + (1 - bare) * (0.5 + 0.5 * r * np.sin(angle)))
                radius = max(2, int(rng.uniform(0.18, 0.55) * (size / 9) / TREES_M_PER_PX))
                bright = dim * (
                    0.30
                    + 0.34 * pz / size
                    + 0.22 * (px / broad)
                    + 0.16 * blob / 150
                    + rng.normal(0, 0.09)
                )
                centre = (int(foot + px / TREES_M_PER_PX), int(h - pz / TREES_M_PER_PX))
                for lift, gain in ((0, 0.8), (radius // 3, 1.1)):
                    at = (centre[0] + lift // 2, centre[1] - lift)
                    cv2.circle(shade, at, max(1, radius - lift), float(bright * gain), -1)
                cv2.circle(hue, centre, radius, float(tint), -1)
                cv2.circle(cover, centre, radius, 1.0, -1)
    for trunk in rng.uniform(0, w, 140):
        wide = int(rng.uniform(0.12, 0.3) / TREES_M_PER_PX)
        column = slice(int(trunk), int(trunk) + max(2, wide))
        bare = cover[:, column] == 0
        bare[: h - int(4.0 / TREES_M_PER_PX)] = False
        shade[:, column][bare], hue[:, column][bare], cover[:, column][bare] = 0.16, 2.0, 1.0
    # A hedge along the foot of the trees closes the gaps.
    top = np.interp(np.arange(w), np.linspace(0, w, 200), rng.uniform(1.2, 2.6, 200))
    hedge = (h - np.arange(h))[:, None] * TREES_M_PER_PX < top
    gap = hedge & (cover == 0)
    shade[gap], cover[gap] = 0.22, 1.0
    ys, xs = np.mgrid[0:h, 0:w].astype(np.float32)

    def leaves(seed: int, scale: float) -> Array:
        return cv2.remap(
            noise_tile(seed),
            (xs * scale) % 512,
            (ys * scale) % 512,
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_WRAP,
        )

    # Pull the round clumps about so that their outlines turn ragged.
    du = 4.5 * leaves(84, 0.45) + 3.0 * leaves(85, 1.1) + 1.6 * leaves(86, 2.5)
    dv = 4.5 * leaves(87, 0.45) + 3.0 * leaves(88, 1.1) + 1.6 * leaves(89, 2.5)
    shade, hue, cover = (
        np.asarray(
            cv2.remap(a, xs + du, ys + dv, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE),
            np.float32,
        )
        for a in (shade, hue, cover)
    )
    leaf = 0.5 * leaves(81, 3.2) + 0.5 * leaves(82, 1.4) + 0.35 * leaves(83, 0.55)
    cover = np.where(hedge & (ys > h - 25), 1.0, np.clip((cover + 0.10 * leaf - 0.4) * 4, 0, 1))
    value = np.clip(shade * (1 + 0.38 * leaf) + 0.05 * leaf, 0.03, 1.3)[..., None]
    green, olive = np.array([0.055, 0.115, 0.030]), np.array([0.150, 0.150, 0.040])
    blend = np.clip(0.4 + 0.3 * hue, 0, 1)[..., None]
    colour = (green * (1 - blend) + olive * blend) * value * 2.2
    air = np.array([0.50, 0.60, 0.72]) * 0.12  # haze over 80 m
    return (colour * 0.88 + air).astype(np.float32), cover.astype(np.float32)


def _cylinder(d: Array, centre: Array) -> Array:
    """Distance along the ray to the tree cylinder (from inside)."""
    ox, oy = centre[0] - TREES_CENTRE[0], centre[1] - TREES_CENTRE[1]
    a = d[..., 0] ** 2 + d[..., 1] ** 2
    b = ox * d[..., 0] + oy * d[..., 1]
    c = ox * ox + oy * oy - TREES_RADIUS_M**2
    return np.asarray((-b + np.sqrt(b * b - a * c)) / np.maximum(a, 1e-6))


def wall_layer(
    d: Array, centre: Array, focal: float, ground: Array, tg: Array
) -> tuple[Array, Array]:
    """Fence over trees: premultiplied radiance (h, w, 3) and cover (h, w)."""
    t = _cylinder(d, centre)
    x, y, z = (centre[i] + t * d[..., i] for i in range(3))
    colour, alpha = tree_band()
    u = (np.arctan2(y - TREES_CENTRE[1], x - TREES_CENTRE[0]) * TREES_RADIUS_M) / TREES_M_PER_PX
    v = (TREES_HEIGHT_M - z) / TREES_M_PER_PX
    u, v = (u % colour.shape[1]).astype(np.float32), v.astype(np.float32)
    seen = ~ground & (z > -0.5) & (z < TREES_HEIGHT_M)
    # The picture's pixel covers about as much as a texel at this range: plain bilinear is enough.
    v = np.minimum(v, colour.shape[0] - 1)
    trees = cv2.remap(colour, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    cover = cv2.remap(alpha, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE) * seen
    out = trees * cover[..., None]
    steel = linear(np.array([0.62, 0.64, 0.66])) * 1.6
    for axis, plane in ((0, -FENCE_X_M), (0, FENCE_X_M), (1, FENCE_Y_M[0]), (1, FENCE_Y_M[1])):
        other = 1 - axis
        across = d[..., axis]
        s = (plane - centre[axis]) / np.where(np.abs(across) < 1e-6, 1e-6, across)
        along, high = centre[other] + s * d[..., other], centre[2] + s * d[..., 2]
        limits = FENCE_Y_M if axis == 0 else (-FENCE_X_M, FENCE_X_M)
        on = (
            (s > 0)
            & (high > 0)
            & (high < FENCE_HEIGHT_M)
            & (along > limits[0])
            & (along < limits[1])
        )
        on &= ~(ground & (tg < s))
        px = np.maximum(s / focal, 1e-3)
        post = np.clip((0.035 - np.abs((along % 3.0) - 1.5)) / px + 0.5, 0, 1)
        rail = np.clip((0.03 - np.abs(high - FENCE_HEIGHT_M + 0.05)) / px + 0.5, 0, 1)
        veil = np.maximum(np.maximum(post, rail) * 0.9, 0.16) * on
        out = out * (1 - veil[..., None]) + steel.astype(np.float32) * veil[..., None]
        cover = cover * (1 - veil) + veil
    return out.astype(np.float32), cover.astype(np.float32)
