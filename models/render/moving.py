"""Film for a moving camera: the same reps from the same place, the phone held in several ways.

Each rep is filmed from a tripod, by a phone that turns after the player, by one held in a calm and
in an unsteady hand, and by one that zooms in; so what a moving camera costs is seen by itself.
Bodies and reps are drawn as those of :mod:`models.render.spread`, from seeds of their own.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from models.recipe import Moving, Recipe
from models.render import practice, spread
from models.render.course import smoothstep
from models.render.motion import AttackerSpec, PlayerMotion, plan_attacker, plan_defender
from models.render.phone import Place, Studio, Track, encode, handheld, plate_for, tripod
from models.render.practice import FPS, Shot

HELD = ("tripod", "pan", "hand", "unsteady", "zoom")
"""How the phone is held."""

# By number of the rep: where the phone stands, what it looks at from a tripod, how wide it sees.
PLACES = {
    903: ((8.5, 17.0, 1.8), (0.0, 12.0, 0.8), 66.0),  # top: from the corner
    907: ((-13.5, -2.5, 2.6), (-8.2, 4.2, 0.7), 66.0),  # side-left: end line
    920: ((-6.5, 19.8, 2.4), (-5.0, 8.0, 0.8), 66.0),  # top-left: front
}


def tracks_of(
    place: Place, defender: PlayerMotion, spot: str, seed: int, recipe: Moving
) -> dict[str, Track]:
    """The camera over the clip, however the phone is held, from one place."""
    n = len(defender.t_s)
    fixed = np.tile(place.look_m, (n, 1))
    calm = handheld(place, fixed, FPS, seed)
    grown = smoothstep(defender.t_s, *recipe.zoom_s)
    wide, narrow = recipe.zoom
    return {
        "tripod": tripod(place, n),
        "pan": handheld(place, practice.follow(defender, spot), FPS, seed),
        "hand": calm,
        "unsteady": handheld(place, fixed, FPS, seed, recipe.unsteady_deg),
        "zoom": replace(calm, zoom=wide * (narrow / wide) ** grown),
    }


def together(tracks: list[Track]) -> Track:
    """Cameras of one place as one, so that one empty field serves them all."""
    zooms = [np.ones(len(t.rotation)) if t.zoom is None else t.zoom for t in tracks]
    rotation = np.concatenate([t.rotation for t in tracks])
    return replace(tracks[0], rotation=rotation, still=False, zoom=np.concatenate(zooms))


def render(folder: Path, number: int, recipe: Recipe) -> None:
    """One rep with the phone held in every way, with its truth; skips what is there."""
    moving, clips = recipe.clips.moving, recipe.clips
    truth_folder = folder / "truth"
    missing = [h for h in HELD if not (truth_folder / f"{_name(number, h)}.json").exists()]
    if not missing:
        return
    rep, _, bodies, colours = spread.script(number, recipe)
    run = replace(rep.run, duration_s=moving.duration_s)
    defender = plan_defender(bodies[0], run)
    acts = AttackerSpec(
        run.attacker_m, duration_s=moving.duration_s, jog_s=rep.jog_after_s, seed=500 + number
    )
    attacker = plan_attacker(bodies[1], acts)
    centre, look, hfov_deg = PLACES[number]
    place = Place(centre, look, clips.size_px, hfov_deg)
    tracks = tracks_of(place, defender, rep.spot, number, moving)
    field = plate_for(together(list(tracks.values())))
    (folder / "clips").mkdir(parents=True, exist_ok=True)
    truth_folder.mkdir(exist_ok=True)
    for held in missing:
        filmed = replace(rep, name=_name(number, held), view=held, run=run)
        track = replace(tracks[held], still=False)
        outfits = spread.dress(defender, attacker, colours, number)
        path = folder / "clips" / f"{filmed.name}.mp4"
        frames = Studio(track, field).frames(outfits, FPS)
        encode(path, frames, FPS, clips.size_px, clips.bit_rate)
        spread.write_bodies(truth_folder, filmed, bodies)
        practice.write_truth(truth_folder, filmed, Shot(defender, attacker, None, track), "moving")
        print(filmed.name, rep.kind, rep.spot, flush=True)


def _name(number: int, held: str) -> str:
    return f"moving-{number}-{held}"
