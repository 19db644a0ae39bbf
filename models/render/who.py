"""Who is rendered: bodies and uniforms drawn at random."""

from __future__ import annotations

from typing import Literal

import numpy as np

from models.render.body import BodySpec
from models.render.outfit import Uniform


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
