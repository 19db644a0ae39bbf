"""How film looks: its light, the ground, what stands round the field, the shutter, the phone.

FIRST is how all film looked before there was a choice, and "first" film still does. "second" film
is drawn at random: other suns, overcast and floodlit evenings, halls, other grounds and walls,
slower shutters, other tone curves, small pictures scaled up, harsher compression.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from models.render.light import DAY, SKY_RGB, Light

Array = NDArray[Any]

SHUTTER_S = 1 / 240


@dataclass(frozen=True)
class Ground:
    """What one stands on.

    Attributes:
        kind: "turf", "earth", "asphalt" or "floor".
        rgb: linear albedo; for turf a factor on its own colours, or None.
        grain: ``(wavelength m, weight)`` of its unevenness.
        board_m: width of a floor's boards.
        paint_rgb: linear albedo of the lines.
    """

    kind: str = "turf"
    rgb: tuple[float, float, float] | None = None
    grain: tuple[tuple[float, float], ...] = ()
    board_m: float = 1.0
    paint_rgb: tuple[float, float, float] = (0.62, 0.64, 0.60)


@dataclass(frozen=True)
class Processing:
    """What a phone does to a picture after the tone curve.

    Attributes:
        gain_rgb: white balance.
        gamma, contrast, saturation: 1 leaves the picture alone.
        black: display value that black is lifted to.
        grain: standard deviation of noise, display values.
        coarse: the picture is shrunk by this and scaled up again; 1 leaves it alone.
        soft_px: blur before that, standard deviation.
    """

    gain_rgb: tuple[float, float, float] = (1.0, 1.0, 1.0)
    gamma: float = 1.0
    contrast: float = 1.0
    saturation: float = 1.0
    black: float = 0.0
    grain: float = 0.0
    coarse: float = 1.0
    soft_px: float = 0.0

    def of(self, rgb: Array, rng: np.random.Generator) -> Array:
        """The picture (h, w, 3) uint8 after it."""
        shown: Array = rgb.astype(np.float32) * np.array(self.gain_rgb, np.float32)
        shown = 255 * np.power(np.clip(shown / 255, 0, 1), np.float32(self.gamma))
        grey = shown.mean(axis=2, keepdims=True)
        shown = grey + (shown - grey) * np.float32(self.saturation)
        shown = 118 + (shown - 118) * np.float32(self.contrast)
        shown = self.black + shown * np.float32(1 - self.black / 255)
        if self.soft_px:
            shown = cv2.GaussianBlur(shown, (0, 0), self.soft_px)
        if self.coarse < 1:
            height, width = rgb.shape[:2]
            small = (max(round(width * self.coarse), 2), max(round(height * self.coarse), 2))
            shown = cv2.resize(shown, small, interpolation=cv2.INTER_AREA)
            shown = _grained(shown, self.grain, rng)
            shown = cv2.resize(shown, (width, height), interpolation=cv2.INTER_CUBIC)
        else:
            shown = _grained(shown, self.grain, rng)
        return np.asarray(np.clip(shown + 0.5, 0, 255).astype(np.uint8))


def _grained(shown: Array, sd: float, rng: np.random.Generator) -> Array:
    if not sd:
        return shown
    grain = rng.standard_normal((*shown.shape[:2], 1), np.float32)
    colour = rng.standard_normal(shown.shape, np.float32)
    return np.asarray(shown + np.float32(sd) * (0.8 * grain + 0.5 * colour))


@dataclass(frozen=True)
class Appearance:
    """How one film looks.

    Attributes:
        name: of the family, "first" or "second".
        light, ground: of the field.
        around: "trees", "wall", "stands" or "hall".
        walls_m: where walls stand: west, east, south, north.
        wall_height_m, ceiling_m: of them, and of a hall.
        wall_rgb, trim_rgb: linear albedo of walls, and of a hall's lower part.
        shutter_s, moments: how long the shutter is open, and how many moments of that are drawn.
        processing: in the phone.
        quality: of the JPEG pictures that stills are kept as, from and to; None: the usual one.
    """

    name: str = "first"
    light: Light = DAY
    ground: Ground = Ground()
    around: str = "trees"
    walls_m: tuple[float, float, float, float] = (-30.0, 30.0, -14.0, 40.0)
    wall_height_m: float = 4.0
    ceiling_m: float = 10.0
    wall_rgb: tuple[float, float, float] = (0.3, 0.3, 0.3)
    trim_rgb: tuple[float, float, float] = (0.2, 0.2, 0.2)
    shutter_s: float = SHUTTER_S
    moments: int = 3
    processing: Processing | None = None
    quality: tuple[int, int] | None = None


FIRST = Appearance()

_KINDS = ("sun", "low sun", "overcast", "overcast", "floodlit", "hall")


def random_appearance(rng: np.random.Generator) -> Appearance:
    """A second look."""
    kind = str(rng.choice(_KINDS))
    light, ground = _light(kind, rng), _ground(kind, rng)
    # A phone exposes for what it sees, most of which is ground: pale ones a stop darker.
    paleness = float(np.mean(ground.rgb or (1.0, 1.0, 1.0)))
    if ground.kind != "turf":
        paleness /= 0.10  # about the albedo of turf
    light = replace(light, exposure=light.exposure * float(np.clip(paleness**-0.6, 0.45, 1.5)))
    colour = tuple(float(v) for v in rng.uniform(0.08, 0.5, 3) * rng.uniform(0.4, 1.0))
    trim = tuple(float(v) for v in rng.uniform(0.05, 0.5, 3))
    around = "hall" if kind == "hall" else str(rng.choice(["trees", "wall", "wall", "stands"]))
    brick = (0.30, 0.14, 0.10) if rng.uniform() < 0.4 else colour
    far = rng.uniform((34, 26, 14, 28), (46, 44, 30, 60))
    shutter = float(np.exp(rng.uniform(np.log(1 / 200), np.log(1 / 45))))
    if kind in ("floodlit", "hall"):
        shutter = max(shutter, 1 / 100)
    return Appearance(
        name="second",
        light=light,
        ground=ground,
        around=around,
        walls_m=(-float(far[0]), float(far[1]), -float(far[2]), float(far[3])),
        wall_height_m=float(rng.uniform(7, 10) if kind == "hall" else rng.uniform(2.5, 9)),
        ceiling_m=float(rng.uniform(8, 12)),
        wall_rgb=brick if around == "wall" else colour,  # type: ignore[arg-type]
        trim_rgb=trim,  # type: ignore[arg-type]
        shutter_s=shutter,
        moments=5 if shutter > 1 / 120 else 3,
        processing=_processing(kind, rng),
        quality=(18, 60),
    )


def _sun(azimuth: float, elevation_deg: float) -> Array:
    up = np.radians(elevation_deg)
    across = np.array([np.cos(azimuth), np.sin(azimuth)]) * np.cos(up)
    return np.array([across[0], across[1], np.sin(up)])


def _light(kind: str, rng: np.random.Generator) -> Light:
    azimuth = float(rng.uniform(0, 2 * np.pi))

    def rgb(values: Any, low: float, high: float) -> Array:
        return np.array(values, np.float32) * np.float32(rng.uniform(low, high))

    bounce = rgb((0.40, 0.38, 0.32), 0.2, 0.5)
    if kind == "low sun":
        light = Light(
            _sun(azimuth, rng.uniform(20, 34)), rgb((1.0, 0.80, 0.56), 2.2, 3.0),
            rgb((0.58, 0.70, 1.0), 0.6, 1.0), bounce,
        )  # fmt: skip
    elif kind == "overcast":
        light = Light(
            _sun(azimuth, rng.uniform(50, 80)), rgb((1.0, 1.0, 1.0), 0.05, 0.5),
            rgb((0.92, 0.96, 1.0), 1.3, 2.4), bounce, sky="grey",
        )  # fmt: skip
    elif kind == "floodlit":
        light = Light(
            _sun(azimuth, rng.uniform(34, 60)), rgb((0.96, 1.0, 0.94), 1.2, 2.2),
            rgb((0.9, 1.0, 1.0), 0.15, 0.45), bounce * np.float32(0.6), sky="night",
            far=float(rng.uniform(0.03, 0.15)),
        )  # fmt: skip
    elif kind == "hall":
        light = Light(
            _sun(azimuth, rng.uniform(66, 86)), rgb((1.0, 0.96, 0.88), 0.4, 1.2),
            rgb((1.0, 0.97, 0.92), 0.7, 1.3), bounce * np.float32(1.5), sky="grey", far=0.8,
        )  # fmt: skip
    else:
        light = Light(
            _sun(azimuth, rng.uniform(36, 68)), rgb((1.0, 0.95, 0.88), 2.0, 3.0),
            SKY_RGB * np.float32(rng.uniform(0.7, 1.3)), bounce,
        )  # fmt: skip
    # The phone exposes for the light there is, somewhat more or less, at night rather less.
    there = float(light.sun_rgb.mean() * light.to_sun[2] + light.sky_rgb.mean())
    usual = float(DAY.sun_rgb.mean() * DAY.to_sun[2] + DAY.sky_rgb.mean())
    off = float(np.exp(rng.normal(-0.15 if kind == "floodlit" else 0.0, 0.18)))
    return replace(light, exposure=DAY.exposure * usual / there * off)


def _ground(kind: str, rng: np.random.Generator) -> Ground:
    def rgb(values: Any, low: float, high: float) -> tuple[float, float, float]:
        red, green, blue = np.array(values) * rng.uniform(low, high)
        return float(red), float(green), float(blue)

    paint = ((0.62, 0.64, 0.60), (0.60, 0.48, 0.08), (0.55, 0.10, 0.08), (0.08, 0.20, 0.55))[
        int(rng.integers(4)) if rng.uniform() < 0.4 else 0
    ]
    chosen = "floor" if kind == "hall" else str(rng.choice(["turf", "turf", "earth", "asphalt"]))
    if chosen == "turf":
        tint = ((0.55, 0.60, 0.60), (0.75, 1.05, 0.90), (1.7, 1.25, 1.1), (0.8, 1.3, 1.6))
        return Ground("turf", rgb(tint[int(rng.integers(4))], 0.75, 1.15), paint_rgb=paint)
    if chosen == "earth":
        return Ground(
            "earth", rgb((0.22, 0.145, 0.085), 0.5, 1.5),
            ((7.0, 0.12), (1.6, 0.12), (0.33, 0.12), (0.09, 0.20), (0.035, 0.25)), paint_rgb=paint,
        )  # fmt: skip
    if chosen == "asphalt":
        return Ground(
            "asphalt", rgb((0.10, 0.10, 0.105), 0.5, 1.8),
            ((6.0, 0.07), (0.9, 0.06), (0.10, 0.08), (0.03, 0.22)), paint_rgb=paint,
        )  # fmt: skip
    floors = ((0.36, 0.21, 0.10), (0.06, 0.22, 0.13), (0.05, 0.13, 0.30), (0.28, 0.28, 0.28))
    wood = int(rng.integers(4))
    return Ground(
        "floor", rgb(floors[wood], 0.7, 1.3), ((3.0, 0.04), (0.4, 0.03), (0.08, 0.03)),
        board_m=0.12 if wood == 0 else 1.5, paint_rgb=paint,
    )  # fmt: skip


def _processing(kind: str, rng: np.random.Generator) -> Processing:
    dark = kind in ("floodlit", "hall")
    warm, tint = rng.normal(0, 0.07), rng.normal(0, 0.03)
    return Processing(
        gain_rgb=(float(1 + warm), float(1 + tint), float(1 - warm)),
        gamma=float(np.exp(rng.normal(0, 0.14))),
        contrast=float(np.exp(rng.normal(-0.05, 0.14))),
        saturation=float(np.exp(rng.normal(-0.1, 0.3))),
        black=float(rng.uniform(0, 22)) if rng.uniform() < 0.5 else 0.0,
        grain=float(rng.uniform(3, 11) if dark else rng.uniform(0, 5)),
        coarse=float(rng.uniform(0.4, 0.85)) if rng.uniform() < 0.5 else 1.0,
        soft_px=float(rng.uniform(0.4, 1.2)) if rng.uniform() < 0.3 else 0.0,
    )
