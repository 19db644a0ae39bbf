"""Clips of captured movement: one body runs, walks or jumps as somebody was captured doing it.

`python -m models.render.captured_film FOLDER --clips 27` renders what is missing: bodies,
kits and places of the camera by chance, none of them anybody's in the film that anything is fitted
on. There is no closeout in them: they are for how well a stance is read on movement that nobody
here made up.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from . import truth as told
from .captured import Name, plan_travelling
from .film import Place, Studio, encode, tripod
from .many import render_many
from .outfit import Outfit
from .poses import body, kit
from .spread import BIT_RATE, SIZE

SEED = 60_000
FPS = 30
CYCLES: dict[Name, int] = {"run": 2, "walk": 2, "jump": 1}
MIDDLE_M = (0.0, 9.0)


def render(folder: Path, number: int) -> None:
    """One clip with its truth; skipped when it is there. Three clips in a row are of one body."""
    name = f"captured-{number:03d}"
    truth = folder / "truth" / f"{name}.npz"
    if truth.exists():
        return
    for each in ("clips", "truth"):
        (folder / each).mkdir(parents=True, exist_ok=True)
    who, movement = number // len(CYCLES), list(CYCLES)[number % len(CYCLES)]
    spec = body(np.random.default_rng(SEED + who))
    rng = np.random.default_rng(SEED + 1000 + number)
    heading = float(rng.uniform(0, 2 * np.pi))
    motion = plan_travelling(
        spec, movement, CYCLES[movement], MIDDLE_M, heading, FPS, SEED + number
    )
    azimuth, away = rng.uniform(0, 2 * np.pi), rng.uniform(4.5, 9.0)
    height = float(np.exp(rng.uniform(np.log(1.3), np.log(4.5))))
    centre = np.array(MIDDLE_M) + away * np.array([np.cos(azimuth), np.sin(azimuth)])
    look = np.array(MIDDLE_M) + rng.normal(0, 0.4, 2)
    place = Place(
        (float(centre[0]), float(centre[1]), height), (float(look[0]), float(look[1]), 0.85), SIZE,
        float(rng.uniform(58, 74)),
    )  # fmt: skip
    track = tripod(place, len(motion.t_s))
    outfit = Outfit(motion, kit(rng), SEED + number)
    clip = folder / "clips" / f"{name}.mp4"
    encode(clip, Studio(track).frames([outfit], FPS), FPS, SIZE, BIT_RATE)
    np.savez_compressed(
        truth,
        t_s=motion.t_s,
        camera_matrix=track.matrices,
        camera_rotation=track.rotation,
        camera_centre_m=np.tile(track.centre, (len(motion.t_s), 1)),
        **told.stance(motion),
    )
    story = {"body": who, "movement": movement}
    truth.with_suffix(".scene.json").write_text(json.dumps(story))
    print(name, movement, flush=True)


if __name__ == "__main__":
    render_many("python -m models.render.captured_film", __doc__, render, 27)
