"""Clips of captured movement: one body runs, walks or jumps as somebody was captured doing it.

Bodies, uniforms and places of the camera at random, none of them anybody's in the film that
anything is fitted on. There is no closeout in them: they are for how well a stance is read on
movement that nobody here made up.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from models.recipe import Recipe
from models.render import truth
from models.render.captured import plan_travelling
from models.render.outfit import Outfit
from models.render.phone import Place, Studio, encode, tripod
from models.render.who import random_body, random_uniform

FPS = 30
MIDDLE_M = (0.0, 9.0)


def render(folder: Path, number: int, recipe: Recipe) -> None:
    """One clip with its truth; skipped when it is there."""
    clips, captured = recipe.clips, recipe.clips.captured
    name = f"captured-{number:03d}"
    truth_file = folder / "truth" / f"{name}.npz"
    if truth_file.exists():
        return
    for each in ("clips", "truth"):
        (folder / each).mkdir(parents=True, exist_ok=True)
    movements = list(captured.cycles)
    who, movement = number // len(movements), movements[number % len(movements)]
    spec = random_body(np.random.default_rng(captured.seed + who))
    rng = np.random.default_rng(captured.seed + 1000 + number)
    heading = float(rng.uniform(0, 2 * np.pi))
    motion = plan_travelling(
        spec, movement, captured.cycles[movement], MIDDLE_M, heading, FPS, captured.seed + number
    )
    azimuth, away = rng.uniform(0, 2 * np.pi), rng.uniform(4.5, 9.0)
    height = float(np.exp(rng.uniform(np.log(1.3), np.log(4.5))))
    centre = np.array(MIDDLE_M) + away * np.array([np.cos(azimuth), np.sin(azimuth)])
    look = np.array(MIDDLE_M) + rng.normal(0, 0.4, 2)
    place = Place(
        (float(centre[0]), float(centre[1]), height),
        (float(look[0]), float(look[1]), 0.85),
        clips.size_px,
        float(rng.uniform(58, 74)),
    )
    track = tripod(place, len(motion.t_s))
    outfit = Outfit(motion, random_uniform(rng), captured.seed + number)
    path = folder / "clips" / f"{name}.mp4"
    encode(path, Studio(track).frames([outfit], FPS), FPS, clips.size_px, clips.bit_rate)
    scene = {"body": who, "movement": movement}
    truth_file.with_suffix(".scene.json").write_text(json.dumps(scene))
    arrays: dict[str, Any] = {
        "t_s": motion.t_s,
        "camera_matrix": track.matrices,
        "camera_rotation": track.rotation,
        "camera_centre_m": np.tile(track.centre, (len(motion.t_s), 1)),
        **truth.stance(motion),
    }
    np.savez_compressed(truth_file, **arrays)
    print(name, movement, flush=True)
