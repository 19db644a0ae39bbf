"""The field as a phone sees it: everything that does not move, rendered once per camera place.

Ground, fence, trees and sky are shaded ray by ray from band-limited noise whose octaves fade out
as they shrink below a pixel, so nothing shimmers. Goal, cones and benches are meshes (props.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from models.render import props
from models.render.appearance import FIRST, Appearance, Ground
from models.render.gbuffer import Rasteriser, dot, merge
from models.render.light import SunMap, linear, shade
from models.render.noise import noise
from models.render.surroundings import enclosure, sky_of, wall_layer

Array = NDArray[Any]

GRASS_DARK = np.array([0.047, 0.070, 0.022], np.float32)
GRASS_MID = np.array([0.085, 0.114, 0.037], np.float32)
GRASS_PALE = np.array([0.165, 0.168, 0.072], np.float32)
EARTH = np.array([0.165, 0.118, 0.072], np.float32)
PAINT = np.array([0.62, 0.64, 0.60], np.float32)
CREASE_RADIUS_M = 2.743  # 9 ft
RESTRAINING_LINE_M = 18.288  # 20 yd
SIDELINE_M = 27.432  # 30 yd
END_LINE_M = -13.716  # 15 yd behind the goal line
STRIPE_M = 3.05  # a gang mower's swath, about 10 ft


def _fade(wavelength: float, footprint: Array) -> Array:
    """1 for waves well above a pixel, 0 below two pixels (sampling limit)."""
    return np.clip(wavelength / (2.2 * footprint) - 0.9, 0, 1)


def _paint_cover(x: Array, y: Array, look: Array, pixel: Array, slant: Array) -> Array:
    """Share of white paint 0..1 at ground points.

    A pixel covers `pixel` across the view and `pixel * slant` along it; each line is averaged over
    the pixel's reach square to the line, so thin far lines grow faint instead of breaking up.
    """
    lx, ly = look[..., 0], look[..., 1]
    radius = np.maximum(np.hypot(x, y), 1e-6)

    def band(distance: Array, half: float, toward: Array) -> Array:
        reach = np.maximum(pixel * np.sqrt(1 + (slant**2 - 1) * toward**2), 0.01)
        overlap = np.minimum(distance + half, reach / 2) - np.maximum(distance - half, -reach / 2)
        return np.asarray(np.clip(overlap, 0, None) / reach)

    inside = np.abs(x) < SIDELINE_M
    depth = (y > END_LINE_M) & (y < RESTRAINING_LINE_M)
    lines = [
        band(radius - CREASE_RADIUS_M, 0.03, (x * lx + y * ly) / radius),
        band(y, 0.03, ly) * (np.abs(x) < CREASE_RADIUS_M),
        band(y - RESTRAINING_LINE_M, 0.05, ly) * inside,
        band(y - END_LINE_M, 0.05, ly) * inside,
        band(np.abs(x) - SIDELINE_M, 0.05, lx) * (y > END_LINE_M),
        band(np.abs(x) - RESTRAINING_LINE_M, 0.05, lx) * depth,
    ]
    return np.asarray(np.maximum.reduce(lines))


def grass_albedo(
    x: Array, y: Array, distance: Array, azimuth: Array, pixel: Array, look: Array, height_m: float
) -> Array:
    """Linear ground albedo (h, w, 3).

    x, y m; distance from the eye m; azimuth of the ray; pixel footprint across the ray m;
    look (h, w, 2) horizontal unit view direction (mown grass is paler when it leans away).
    """
    slant = np.maximum(distance / height_m, 1.0)
    # Grain finer than the slant strictly allows does no harm near by, where it keeps turf crisp.
    along = pixel * np.maximum(0.35 * slant, 1.2)
    shape = np.zeros(x.shape, np.float32)
    for seed, (wave, weight) in enumerate(
        [
            (7.0, 0.28),
            (2.6, 0.22),
            (0.9, 0.20),
            (0.33, 0.24),
            (0.13, 0.36),
            (0.055, 0.6),
            (0.024, 0.8),
        ]
    ):
        shape += weight * noise(seed, x, y, wave) * _fade(wave, along if wave < 1 else pixel)
    tuft = noise(21, azimuth, np.log(distance) * 0.22, 0.0026) * np.clip(1.6 - distance / 14, 0, 1)
    shape += 0.55 * tuft
    lane = np.sin(np.pi * y / STRIPE_M) * 6 + 0.25 * noise(31, x, y, 0.5)
    stripe = np.tanh(lane) * (0.04 + 0.10 * np.abs(look[..., 0]))
    value = 0.42 + 0.22 * shape
    t = np.clip(value, 0, 1)[..., None]
    colour = np.where(
        t < 0.5,
        GRASS_DARK + (GRASS_MID - GRASS_DARK) * (t * 2),
        GRASS_MID + (GRASS_PALE - GRASS_MID) * (t * 2 - 1),
    )
    colour *= (1 + stripe + 0.10 * noise(41, x, y, 5.0))[..., None]
    wear = (
        1.2 * np.exp(-((x / 1.5) ** 2 + ((y - 0.7) / 1.0) ** 2))
        + 0.55 * np.exp(-((x / 0.8) ** 2 + ((y - 3.5) / 0.7) ** 2))
        + 0.10 * noise(51, x, y, 1.1)
        + 0.16 * noise(52, x, y, 0.35) * _fade(0.35, along)
    )
    earth = np.clip((wear - 0.42) * 1.8, 0, 0.85)[..., None]
    grain = 1 + 0.25 * (0.5 * noise(53, x, y, 0.08) * _fade(0.08, along))[..., None]
    colour = colour * (1 - earth) + EARTH * grain * earth
    worn = np.clip(0.86 + 0.13 * noise(61, x, y, 0.4) + 0.16 * shape, 0.25, 1)
    cover = (_paint_cover(x, y, look, pixel, slant) * worn)[..., None]
    return np.asarray(
        (colour * (1 - cover) + PAINT * (1 + 0.06 * shape[..., None]) * cover).astype(np.float32)
    )


@dataclass(frozen=True)
class Plate:
    """The empty field from one camera place, linear light.

    sunlit (h, w, 3): the part a passing shadow takes away (ground only); rest (h, w, 3): all else.
    front (h, w, 3), front_cover (h, w), front_range (h, w) m: goal, net and cones as a layer that
    can stand before a player; range is along the ray. k (3, 3), rotation (3, 3), centre (3,).
    """

    sunlit: Array
    rest: Array
    front: Array
    front_cover: Array
    front_range: Array
    k: Array
    rotation: Array
    centre: Array


def rays(k: Array, rotation: Array, u: Array, v: Array) -> Array:
    """Unit view directions (..., 3) in the ground frame for pixels u, v."""
    local = np.stack([(u - k[0, 2]) / k[0, 0], (v - k[1, 2]) / k[1, 1], np.ones_like(u)], -1)
    world = local.astype(np.float32) @ rotation.astype(np.float32)
    return world / np.sqrt(dot(world, world))[..., None]


def ground_albedo(
    ground: Ground,
    x: Array,
    y: Array,
    distance: Array,
    azimuth: Array,
    pixel: Array,
    look: Array,
    height_m: float,
) -> Array:
    """Linear albedo (h, w, 3) of any ground; arguments as of :func:`grass_albedo`."""
    if ground.kind == "turf":
        turf = grass_albedo(x, y, distance, azimuth, pixel, look, height_m)
        return turf if ground.rgb is None else np.asarray(turf * np.array(ground.rgb, np.float32))
    slant = np.maximum(distance / height_m, 1.0)
    along = pixel * np.maximum(0.35 * slant, 1.2)
    shape = np.zeros(x.shape, np.float32)
    for seed, (wave, weight) in enumerate(ground.grain):
        shape += weight * noise(121 + seed, x, y, wave) * _fade(wave, along if wave < 1 else pixel)
    value: Array = np.clip(1 + shape, 0.15, 2.2)
    if ground.kind == "floor":  # boards, or the seams between sheets
        joint = np.abs((x / ground.board_m) % 1.0 - 0.5) * ground.board_m
        value = value * (1 - 0.35 * (joint > ground.board_m / 2 - 0.006) * _fade(0.05, pixel))
        value = value * (
            1 + 0.10 * np.sin(np.floor(x / ground.board_m) * 12.9898) * _fade(0.3, along)
        )
    colour = value[..., None] * np.array(ground.rgb, np.float32)
    paint = np.array(ground.paint_rgb, np.float32)
    cover = (_paint_cover(x, y, look, pixel, slant) * 0.9)[..., None]
    return np.asarray((colour * (1 - cover) + paint * cover).astype(np.float32))


def _backdrop(
    d: Array, centre: Array, focal: float, sun_maps: list[SunMap], appearance: Appearance
) -> tuple[Array, Array]:
    """Radiance of ground, fence, trees and sky for rays d (h, w, 3): (sunlit part, rest)."""
    lit = appearance.light
    cz = np.float32(centre[2])
    down = d[..., 2] < -1e-4
    t = np.where(down, -cz / np.minimum(d[..., 2], -1e-4), 1e4)
    x, y = centre[0] + t * d[..., 0], centre[1] + t * d[..., 1]
    ground = down & (np.hypot(x, y - 20) < 78)
    x, y = np.where(ground, x, 0), np.where(ground, y, 0)
    tg = np.where(ground, t, 1.0)
    flat = np.hypot(d[..., 0], d[..., 1])[..., None]
    azimuth = np.arctan2(d[..., 0], d[..., 1])
    albedo = ground_albedo(
        appearance.ground, x, y, tg, azimuth, tg / focal, d[..., :2] / flat, float(cz)
    )
    points = np.stack([x, y, np.zeros_like(x)], -1)
    light = np.ones(x.shape, np.float32)
    for sun_map in sun_maps:
        light *= sun_map.on_ground(points)
    sunlit = albedo * lit.sun_rgb * np.float32(lit.to_sun[2]) * light[..., None]
    rest = albedo * (lit.sky_rgb * 0.9 + lit.bounce_rgb * 0.15)
    far = ~ground[..., None]
    sunlit = np.where(far, 0, sunlit)
    rest = np.where(far, sky_of(d, lit), rest)
    wall, cover = wall_layer(d, centre, focal, ground, tg)
    if lit.far != 1.0:
        wall = wall * np.float32(lit.far)
    if appearance.around != "trees":
        sunlit, rest, wall, cover = enclosure(
            d, centre, focal, appearance, sunlit, rest, wall, cover
        )
    keep = 1 - cover[..., None]
    haze = (1 - np.exp(-tg / 900))[..., None] * ground[..., None] * np.float32(lit.far)
    hazed = np.array([0.62, 0.70, 0.78], np.float32) * 0.9
    return sunlit * keep * (1 - haze), (rest * (1 - haze) + hazed * haze) * keep + wall


def make_plate(
    k: Array,
    rotation: Array,
    centre: Array,
    size: tuple[int, int],
    appearance: Appearance = FIRST,
) -> Plate:
    """Render the empty field twice as wide and high and average down. size: width, height."""
    width, height = size
    fine_k = k.astype(np.float64).copy()
    fine_k[:2] *= 2
    fine_k[:2, 2] += 0.5  # pixel centres: u_fine = 2 u + 0.5
    near, far = merge(props.furniture()), merge(props.backdrop())
    maps = []
    for item, where, half in ((near, (0, 4.0, 0.3), 16.0), (far, props.STANDS_CENTRE, 16.0)):
        sun_map = SunMap(4096, 1.5, appearance.light)
        sun_map.look([item], np.array(where), half)
        maps.append(sun_map)
    raster = Rasteriser(width * 2, height * 2)
    raster.perspective(fine_k, rotation, centre)
    layers = []
    for item, sun_map in ((far, maps[1]), (near, maps[0])):
        raster.load([item], [sun_map.on_surface(item.points, 0.05)])
        layers.append(raster.draw())
    halves = [np.empty((height, width, 3), np.float32) for _ in range(3)]
    cover, reach = np.zeros((2, height, width), np.float32)
    for top in range(0, height, 60):
        bottom = min(height, top + 60)
        band = slice(2 * top, 2 * bottom)
        v, u = np.mgrid[2 * top : 2 * bottom, 0 : 2 * width].astype(np.float32)
        d = rays(fine_k, rotation, u, v)
        sunlit, rest = _backdrop(d, centre, float(k[0, 0]), maps, appearance)
        axis = d @ rotation[2].astype(np.float32)
        for index, buffers in enumerate(layers):
            depth = buffers.depth[band]
            flat = np.flatnonzero(np.isfinite(depth))
            albedo, normal, gloss, sun = buffers.surface(flat + band.start * 2 * width)
            colour = np.zeros((depth.size, 3), np.float32)
            toward = -d.reshape(-1, 3)[flat]
            colour[flat] = shade(linear(albedo), normal, gloss, sun, toward, appearance.light)
            colour = colour.reshape(*depth.shape, 3)
            hit = np.isfinite(depth)
            sunlit = sunlit * ~hit[..., None]
            rest = rest * ~hit[..., None] + colour
            if index == 1:
                halves[2][top:bottom] = _down(colour)
                cover[top:bottom] = _down(hit.astype(np.float32))
                distance = np.where(hit, depth / axis, 1e3).astype(np.float32)
                reach[top:bottom] = distance.reshape(bottom - top, 2, width, 2).min((1, 3))
        halves[0][top:bottom], halves[1][top:bottom] = _down(sunlit), _down(rest)
    return Plate(halves[0], halves[1], halves[2], cover, reach, k, rotation, np.asarray(centre))


def _down(image: Array) -> Array:
    h, w = image.shape[:2]
    return cv2.resize(image.astype(np.float32), (w // 2, h // 2), interpolation=cv2.INTER_AREA)
