"""Who is rendered: bodies and uniforms drawn at random."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from models.render.body import BodySpec
from models.render.outfit import RGB, Street, Uniform


def random_body(rng: np.random.Generator) -> BodySpec:
    """From ten years on, both sexes, slight to strong, light to heavy, all skin tones."""
    sex: Literal["male", "female"] = "male" if rng.uniform() < 0.6 else "female"
    age = float(rng.uniform(10, 32))
    grown = min((age - 12) / 5, 1.0)
    tall, short = (1.78, 1.53) if sex == "male" else (1.66, 1.51)
    height = short + (tall - short) * grown + float(rng.normal(0, 0.065))
    light, dark = np.array([0.87, 0.68, 0.57]), np.array([0.22, 0.14, 0.10])
    skin = light + (dark - light) * rng.uniform(0, 1)
    red, green, blue = skin.round(3)
    return BodySpec(
        sex, age, round(float(np.clip(height, 1.32, 2.0)), 3),
        float(rng.uniform(0.3, 0.9)), float(rng.uniform(0.25, 0.8)),
        (float(red), float(green), float(blue)),
    )  # fmt: skip


def random_uniform(rng: np.random.Generator) -> Uniform:
    """Any colours, a short stick or a long one."""

    def colour() -> tuple[float, float, float]:
        hue = rng.uniform(0.02, 0.9, 3)
        return tuple(float(v) for v in hue * rng.uniform(0.3, 1.0))  # type: ignore[return-value]

    return Uniform(
        int(rng.integers(1, 99)), colour(), colour(), colour(), colour(), colour(), colour(),
        (0.9, 0.9, 0.9) if rng.uniform() < 0.6 else colour(),
        stick_m=float(rng.choice([1.05, 1.55])),
    )  # fmt: skip


def random_body_wide(rng: np.random.Generator) -> BodySpec:
    """From children of eight to men of two metres, both sexes alike, any build, any skin."""
    sex: Literal["male", "female"] = "male" if rng.uniform() < 0.5 else "female"
    age = float(rng.uniform(8, 17) if rng.uniform() < 0.35 else rng.uniform(17, 45))
    # Usual heights at 8, 12, 15 and 18 years. Source: growth charts, from memory.
    usual = (1.28, 1.49, 1.69, 1.77) if sex == "male" else (1.27, 1.51, 1.61, 1.64)
    spread = 0.055 if age < 12 else 0.085
    height = float(np.interp(age, [8, 12, 15, 18], usual)) + float(rng.normal(0, spread))
    light, dark = np.array([0.90, 0.72, 0.62]), np.array([0.20, 0.13, 0.09])
    red, green, blue = (light + (dark - light) * rng.uniform(0, 1)).round(3)
    return BodySpec(
        sex, age, round(float(np.clip(height, 1.16, 2.06)), 3),
        float(rng.uniform(0.15, 0.95)), float(rng.uniform(0.15, 0.95)),
        (float(red), float(green), float(blue)),
    )  # fmt: skip


def random_dress(rng: np.random.Generator, *, street: bool) -> Uniform:
    """A uniform of the sport, or any T-shirt, shirt, shorts and trousers, tight or loose.

    Who holds a stick does so in either.
    """
    worn = random_uniform(rng)
    if not street:
        return replace(worn, trousers=bool(rng.uniform() < 0.25))
    jersey, shorts = _cloth(rng), _cloth(rng)
    trousers = bool(rng.uniform() < 0.45)
    if rng.uniform() < 0.1:
        shorts = jersey  # one piece, or a tracksuit
    sleeve = rng.choice([0.3, 0.55, 0.72, 0.9, 1.5, 1.93], p=[0.1, 0.25, 0.25, 0.1, 0.05, 0.25])
    leg = 1.93 if trousers else rng.choice([0.45, 0.65, 0.85, 1.2], p=[0.2, 0.3, 0.35, 0.15])
    hair = _HAIR[int(rng.integers(len(_HAIR)))]
    wear = Street(
        top=float(np.exp(rng.uniform(np.log(0.35), np.log(2.6)))),
        bottom=float(np.exp(rng.uniform(np.log(0.3), np.log(2.2)))),
        sleeve=float(sleeve),
        hem_m=float(rng.uniform(0.0, 0.16)),
        leg=float(leg),
        sock=float(rng.choice([0.05, 0.15, 0.3, 0.6])),
        hair=hair,
        hair_m=float(rng.choice([0.0, 0.006, 0.014, 0.028], p=[0.08, 0.3, 0.37, 0.25])),
        long_hair=bool(rng.uniform() < 0.35),
        tucked=bool(rng.uniform() < 0.2),
    )
    return replace(
        worn, number=0, jersey=jersey, trim=jersey, shorts=shorts, trousers=trousers,
        shoes=_cloth(rng), socks=_cloth(rng), street=wear,
    )  # fmt: skip


_HAIR: tuple[RGB, ...] = (
    (0.05, 0.04, 0.04), (0.12, 0.08, 0.06), (0.25, 0.16, 0.10), (0.45, 0.30, 0.16),
    (0.70, 0.55, 0.32), (0.38, 0.16, 0.08), (0.55, 0.54, 0.53),
)  # fmt: skip


def _cloth(rng: np.random.Generator) -> RGB:
    """White, black, grey or denim as often as any colour."""
    if rng.uniform() < 0.5:
        grey = float(rng.choice([0.92, 0.08, 0.45, 0.2]))
        blue = float(rng.uniform(0, 0.12))
        return grey * (1 - blue), grey * (1 - blue / 2), min(grey + blue, 1.0)
    red, green, blue = (float(v) for v in rng.uniform(0.03, 0.95, 3))
    return red, green, blue
