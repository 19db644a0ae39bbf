"""Sun, sky and tone: how attributes become light, and light becomes a picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from models.render.gbuffer import Mesh, Rasteriser, dot

Array = NDArray[Any]

TO_SUN = np.array([0.52, 0.38, 0.72]) / np.linalg.norm([0.52, 0.38, 0.72])
SUN_RGB = np.array([1.00, 0.93, 0.82], np.float32) * 2.6
SKY_RGB = np.array([0.62, 0.76, 1.00], np.float32) * 1.0
BOUNCE_RGB = np.array([0.42, 0.50, 0.26], np.float32) * 0.34  # light thrown up by the grass


@dataclass(frozen=True, eq=False)
class Light:
    """Where light comes from, and how the camera exposes for it.

    Attributes:
        to_sun: ``(3,)`` unit vector toward the sun, or toward the strongest lamp.
        sun_rgb, sky_rgb, bounce_rgb: ``(3,)`` linear irradiance, from above and from the ground.
        sky: what is overhead in the picture.
        far: share of daylight that falls on trees and walls beyond the field.
        exposure: factor from radiance to the tone curve's input.
    """

    to_sun: Array
    sun_rgb: Array
    sky_rgb: Array
    bounce_rgb: Array
    sky: str = "clear"
    far: float = 1.0
    exposure: float = 0.70


DAY = Light(TO_SUN, SUN_RGB, SKY_RGB, BOUNCE_RGB)
"""A late-summer afternoon, the light of all film before there was a choice."""


def linear(srgb: Array) -> Array:
    """sRGB 0..1 to linear, plain power law (2.2)."""
    return np.asarray(np.power(np.clip(srgb, 0, 1), 2.2, dtype=np.float32))


def shade(
    albedo: Array,
    normal: Array,
    gloss: Array,
    sun: Array,
    toward_eye: Array,
    light: Light = DAY,
) -> Array:
    """Radiance (..., 3): Lambert under sun and a two-tone sky, and a Blinn highlight.

    albedo is linear; sun 0 in shade .. 1 in full sunlight; toward_eye unit vectors.
    """
    to_sun = light.to_sun.astype(np.float32)
    facing = np.clip(normal @ to_sun, 0, 1)
    up = (normal[..., 2:] * 0.5 + 0.5).astype(np.float32)
    sky = light.sky_rgb * up + light.bounce_rgb * (1 - up)
    out = albedo * ((facing * sun)[..., None] * light.sun_rgb + sky)
    half = toward_eye + to_sun
    half /= np.sqrt(dot(half, half))[..., None]
    cosine = np.clip(dot(normal, half), 0, 1)
    power = 8 + 180 * gloss
    spot = np.power(cosine, power) * (facing > 0) * sun * gloss * (power + 8) / 60
    rim = (1 - np.clip(dot(normal, toward_eye), 0, 1)) ** 5 * (0.04 + 0.3 * gloss)
    return np.asarray(out + spot[..., None] * light.sun_rgb * 0.35 + rim[..., None] * sky)


class SunMap:
    """Depth of a few meshes seen from the sun: who is in whose shadow."""

    def __init__(self, size: int = 640, soft_px: float = 1.6, light: Light = DAY) -> None:
        self.raster = Rasteriser(size, size)
        self.size, self.soft = size, soft_px
        z = -light.to_sun
        x = np.cross(z, [0, 0, 1.0])
        x /= np.linalg.norm(x)
        self.rotation = np.stack([x, np.cross(z, x), z])

    def look(self, meshes: list[Mesh], centre: Array, half_m: float) -> None:
        """Draw the meshes around `centre` within half_m."""
        self.half, self.reach = half_m, 4 * half_m + 20
        self.eye = np.asarray(centre) - self.rotation[2] * self.reach / 2
        self.raster.parallel(self.rotation, self.eye, half_m, self.reach)
        self.raster.load(meshes)
        self.depth = self.raster.draw_depth() * self.reach
        shade = (self.depth < self.reach * 0.9999).astype(np.float32)
        self.cover = cv2.GaussianBlur(shade, (0, 0), self.soft)

    def _where(self, points: Array) -> tuple[Array, Array, Array]:
        local = (points - self.eye.astype(np.float32)) @ self.rotation.T.astype(np.float32)
        scale = self.size / (2 * self.half)
        middle = (self.size - 1) / 2
        return local[..., 0] * scale + middle, local[..., 1] * scale + middle, local[..., 2]

    def on_ground(self, points: Array) -> Array:
        """Sunlight 0..1 at ground points (h, w, 3): everything on the map stands above them."""
        u, v, _ = self._where(points.astype(np.float32))
        return 1 - cv2.remap(self.cover, u, v, cv2.INTER_LINEAR, borderValue=0)

    def on_surface(self, points: Array, bias_m: float = 0.025) -> Array:
        """Sunlight 0..1 at surface points (V, 3): nine taps, each in front or behind."""
        u, v, w = self._where(points.astype(np.float32))
        lit = np.zeros(len(points), np.float32)
        step = max(1.0, 0.012 * self.size / (2 * self.half))
        for dx in (-step, 0, step):
            for dy in (-step, 0, step):
                i = np.clip(np.rint(v + dy), 0, self.size - 1).astype(int)
                j = np.clip(np.rint(u + dx), 0, self.size - 1).astype(int)
                lit += self.depth[i, j] > w - bias_m
        return lit / 9


def tone(radiance: Array, exposure: float = 0.70) -> Array:
    """Linear radiance to display values 0..255 (float32): a phone's contrasty curve."""
    grey = dot(radiance, np.array([0.21, 0.72, 0.07], np.float32))[..., None]
    x = np.maximum(radiance * 0.88 + grey * 0.12, 0) * np.float32(exposure)
    # Filmic shoulder (rational fit by Narkowicz, 2015, from memory), then display gamma.
    y = (x * (2.51 * x + 0.03)) / (x * (2.43 * x + 0.59) + 0.14)
    return np.power(np.clip(y, 0, 1), 1 / 2.2, dtype=np.float32) * 255
