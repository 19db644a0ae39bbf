"""Film for calibration: many short reps over a spread of bodies, places of the camera and stances.

Nothing of the sample practice is in it: other bodies, other seeds, other places of the camera, so
the sample practice stays unseen by whatever is fitted on these clips.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import numpy as np

from models.recipe import Recipe, Spread
from models.render import practice, truth
from models.render.motion import (
    AttackerSpec,
    BodySpec,
    PlayerMotion,
    RepSpec,
    Stance,
    plan_attacker,
    plan_defender,
)
from models.render.outfit import Outfit, Uniform
from models.render.phone import Place, Studio, encode, tripod
from models.render.practice import FPS, Shot
from models.render.props import CONES
from models.render.script import Rep
from models.render.who import random_body

SPOTS = ("top", "top-left", "top-right", "side-left", "side-right")
COLOURS = (
    (0.07, 0.15, 0.30), (0.86, 0.87, 0.87), (0.50, 0.08, 0.10), (0.10, 0.35, 0.18),
    (0.90, 0.75, 0.20), (0.15, 0.15, 0.16),
)  # fmt: skip


def body(number: int, recipe: Spread) -> BodySpec:
    """One of the bodies: teenagers and adults, both sexes, slight to strong, all skin tones."""
    rng = np.random.default_rng(recipe.seed + number)
    if number >= recipe.bodies + recipe.attackers:
        return random_body(rng)
    sex: Literal["male", "female"] = "male" if number % 3 else "female"
    age = float(rng.uniform(13, 24))
    grown = min((age - 13) / 4, 1.0)
    tall, short = (1.78, 1.60) if sex == "male" else (1.67, 1.57)
    height = short + (tall - short) * grown + float(rng.normal(0, 0.05))
    light, dark = np.array([0.85, 0.67, 0.56]), np.array([0.25, 0.16, 0.12])
    skin = light + (dark - light) * rng.uniform(0, 1)
    red, green, blue = skin.round(3)
    return BodySpec(
        sex, age, round(height, 3), float(rng.uniform(0.4, 0.8)), float(rng.uniform(0.3, 0.65)),
        (float(red), float(green), float(blue)),
    )  # fmt: skip


def script(
    number: int, recipe: Recipe
) -> tuple[Rep, Place, tuple[BodySpec, BodySpec], tuple[Any, Any]]:
    """One clip: the rep, the phone's place, the two bodies and the two jersey colours."""
    spread = recipe.clips.spread
    seed = spread.seed + number
    rng = np.random.default_rng(spread.seed + 100 + number)
    spot = SPOTS[int(rng.integers(len(SPOTS)))]
    cone, start = np.array(CONES[spot]), np.array(CONES["inside"])
    outward = (cone - start) / np.linalg.norm(cone - start)
    x, y = np.round(cone + outward * 0.45, 3)
    upright = rng.uniform() < 0.35
    stance = None
    if not upright:
        stance = Stance(
            float(rng.uniform(30, 80)), float(rng.uniform(15, 48)), float(rng.uniform(1.1, 2.3)),
            float(rng.uniform(0.3, 0.65)), float(rng.uniform(0.3, 0.6)),
        )  # fmt: skip
    run = RepSpec(
        attacker_m=(float(x), float(y)),
        stance=stance,
        duration_s=4.6,
        peak_speed_mps=float(rng.uniform(4.3, 6.4)),
        braking_distance_m=float(rng.uniform(1.2, 2.0) if upright else rng.uniform(2.2, 3.8)),
        past_m=float(rng.uniform(1.2, 2.4) if upright else rng.uniform(-1.5, -1.1)),
        side_offset_m=float(rng.choice([-1, 1]) * rng.uniform(0.5, 1.1)),
        bow_m=float(rng.choice([0.0, 0.0, 0.8, -0.8])),
        settled_before_arrival_s=float(rng.choice([0.2, 0.2, 0.2, -0.5])),
        seed=seed,
    )
    if number >= spread.weighed_from:
        weighed = np.random.default_rng(seed).uniform(*recipe.stills.poses.weighed)
        run = replace(run, weighed=float(weighed))
    # All round the place of arrival, at a phone's usual heights and ranges, the run in view.
    azimuth = 2 * np.pi * (number % 16 + rng.uniform(0, 1)) / 16
    wider = number >= spread.wider_from
    away = float(rng.uniform(4.5, 11.0 if wider else 8.5))
    height = float(np.exp(rng.uniform(np.log(1.3), np.log(4.5))))
    look = cone - outward * float(rng.uniform(1.0, 2.5))
    centre = cone - outward * 1.0 + away * np.array([np.cos(azimuth), np.sin(azimuth)])
    place = Place(
        (float(centre[0]), float(centre[1]), height),
        (float(look[0]), float(look[1]), 0.85),
        recipe.clips.size_px,
        float(rng.uniform(58, 74)),
    )
    kind = "upright" if upright else "stance"
    defender = number % spread.bodies
    if wider:
        defender = spread.bodies + spread.attackers + number % spread.wider_bodies
    rep = Rep(
        f"spread-{number:03d}", kind, spot, f"spread-{number:03d}", defender, 7, kind, run,
        number, 3.0 if upright else None,
    )  # fmt: skip
    attacker_number = spread.bodies + int(rng.integers(spread.attackers))
    bodies = body(defender, spread), body(attacker_number, spread)
    first, second = rng.choice(len(COLOURS), 2, replace=False)
    return rep, place, bodies, (COLOURS[first], COLOURS[second])


def render(folder: Path, number: int, recipe: Recipe) -> None:
    """One clip with its truth; skipped when it is there."""
    rep, place, bodies, colours = script(number, recipe)
    truth_folder = folder / "truth"
    if (truth_folder / f"{rep.name}.json").exists():
        return
    (folder / "clips").mkdir(parents=True, exist_ok=True)
    truth_folder.mkdir(exist_ok=True)
    seconds = rep.run.duration_s
    defender = plan_defender(bodies[0], rep.run)
    acts = AttackerSpec(
        rep.run.attacker_m,
        duration_s=seconds,
        jog_s=rep.jog_after_s,
        seed=recipe.clips.spread.seed + 500 + number,
    )
    attacker = plan_attacker(bodies[1], acts)
    shot = Shot(defender, attacker, None, tripod(place, len(attacker.t_s)))
    outfits = dress(defender, attacker, colours, number)
    path = folder / "clips" / f"{rep.name}.mp4"
    frames = Studio(shot.track).frames(outfits, FPS)
    encode(path, frames, FPS, recipe.clips.size_px, recipe.clips.bit_rate)
    stance: dict[str, Any] = {"t_s": defender.t_s, **truth.stance(defender)}
    np.savez_compressed(truth_folder / f"{rep.name}.stance.npz", **stance)
    write_bodies(truth_folder, rep, bodies)
    practice.write_truth(truth_folder, rep, shot, "spread")
    print(rep.name, rep.kind, rep.spot, flush=True)


def dress(
    defender: PlayerMotion, attacker: PlayerMotion, colours: tuple[Any, Any], number: int
) -> list[Outfit]:
    """Outfits of the two: a long pole and a short stick."""
    return [
        Outfit(motion, Uniform(n, jersey, colours[0], colours[1], (0.9, 0.9, 0.9), colours[1],
                           stick_m=stick), number)
        for motion, n, jersey, stick in (
            (defender, 10 + number % 40, colours[0], 1.55), (attacker, 50, colours[1], 1.05))
    ]  # fmt: skip


def write_bodies(folder: Path, rep: Rep, bodies: tuple[BodySpec, BodySpec]) -> None:
    """NAME.scene.json: the defender's body by number, and how tall both are."""
    story = {"body": rep.defender, "heights_m": [each.height_m for each in bodies]}
    (folder / f"{rep.name}.scene.json").write_text(json.dumps(story))
