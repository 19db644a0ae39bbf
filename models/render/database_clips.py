"""Clips of movement from a motion database: a body moves over the field as somebody was captured.

Bodies, clothes and places of the camera at random, hands empty. There is no closeout in them: they
are for how well a stance is read on movement, and on bodies, that nobody here made up.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from models.recipe import Database, Recipe
from models.render import truth
from models.render.database import SOURCE_FPS, Piece, motion_file, plan_piece, read_pieces
from models.render.motion import PlayerMotion
from models.render.outfit import Outfit
from models.render.phone import Place, Studio, encode, tripod
from models.render.who import random_body_wide, random_dress

FPS = 30
MIDDLE_M = (0.0, 9.0)
TRIES = 8
"""So many pieces are drawn and the one with the widest spread of knee flexion is kept."""


def plan(number: int, database: Database, pieces: tuple[Piece, ...]) -> tuple[Piece, PlayerMotion]:
    """Which part of which piece a clip shows, by which body.

    Raises:
        ValueError: no piece is of the kind.
    """
    kind = database.kinds[number]
    rng = np.random.default_rng(database.seed + number)
    having = [piece for piece in pieces if piece.kind == kind]
    if not having:
        raise ValueError(f"no captured motion shows {kind!r}")
    seconds = float(rng.uniform(*database.piece_s))
    parts: list[tuple[float, int, Piece, int]] = []
    for _ in range(TRIES):
        piece = having[int(rng.integers(len(having)))]
        first = int(rng.integers(0, max(1, len(piece) - round(seconds * SOURCE_FPS))))
        knees = piece.knee_flexion_rad[first : first + round(seconds * SOURCE_FPS)].min(axis=1)
        parts.append((float(np.ptp(knees)), len(parts), piece, first))
    *_, piece, first = max(parts)
    heading = float(rng.uniform(0, 2 * np.pi))
    spec = random_body_wide(rng)
    return piece, plan_piece(spec, piece, first, seconds, MIDDLE_M, heading)


def render(folder: Path, number: int, recipe: Recipe) -> None:
    """One clip with its truth; skipped when it is there."""
    database = recipe.clips.database
    name = f"database-{number:03d}"
    truth_file = folder / "truth" / f"{name}.npz"
    if truth_file.exists():
        return
    for each in ("clips", "truth"):
        (folder / each).mkdir(parents=True, exist_ok=True)
    pieces = read_pieces(motion_file(), recipe.stills.poses.database_sha256)
    piece, motion = plan(number, database, pieces)
    rng = np.random.default_rng(database.seed + 1000 + number)
    # As far off as keeps the whole path in the picture, about.
    reach = float(np.ptp(truth.ground_track(motion.joints_m), axis=0).max()) / 2
    azimuth, away = rng.uniform(0, 2 * np.pi), rng.uniform(3.4, 6.0) + 1.2 * reach
    height = float(np.exp(rng.uniform(np.log(1.0), np.log(4.5))))
    centre = np.array(MIDDLE_M) + away * np.array([np.cos(azimuth), np.sin(azimuth)])
    look = np.array(MIDDLE_M) + rng.normal(0, 0.25, 2)
    place = Place(
        (float(centre[0]), float(centre[1]), height),
        (float(look[0]), float(look[1]), 0.85),
        recipe.clips.size_px,
        float(rng.uniform(50, 74)),
    )
    track = tripod(place, len(motion.t_s))
    worn = random_dress(rng, street=bool(rng.uniform() < 0.7))
    outfit = Outfit(motion, worn, database.seed + number)
    path = folder / "clips" / f"{name}.mp4"
    encode(
        path, Studio(track).frames([outfit], FPS), FPS, recipe.clips.size_px, recipe.clips.bit_rate
    )
    scene = {"body": number, "movement": piece.kind, "piece": piece.name}
    truth_file.with_suffix(".scene.json").write_text(json.dumps(scene))
    arrays: dict[str, Any] = {
        "t_s": motion.t_s,
        "camera_matrix": track.matrices,
        "camera_rotation": track.rotation,
        "camera_centre_m": np.tile(track.centre, (len(motion.t_s), 1)),
        "knee_flexion_deg": truth.knee_flexion_deg(motion),
        **truth.stance(motion),
    }
    np.savez_compressed(truth_file, **arrays)
    print(name, piece.name, flush=True)
