"""Film for a moving camera: the same reps from the same place, filmed in several ways.

`python -m models.render.moving FOLDER` renders what is missing. Each rep is filmed from a
tripod, by a phone that turns after the player, by one held in a calm and in an unsteady hand, and
by one that zooms in; so what a moving camera costs is seen by itself. Bodies and reps are drawn as
those for calibration (`spread`), from seeds of their own.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

import numpy as np

from . import practice, spread
from .course import smoothstep
from .film import Place, Studio, Track, encode, handheld, plate_for, tripod
from .motion import AttackerSpec, PlayerMotion, plan_attacker, plan_defender
from .practice import FPS, Shot

WAYS = ("tripod", "pan", "hand", "unsteady", "zoom")
SECONDS = 4.2
UNSTEADY_DEG = 0.6  # sway of an arm stretched out, or of any hand in wind
ZOOM = (0.75, 1.1)  # over the tripod's focal length, at the film's beginning and end
ZOOM_S = (0.8, 2.8)

# By number of the rep: where the phone stands, what it looks at from a tripod, how wide it sees.
PLACES = {
    903: Place((8.5, 17.0, 1.8), (0.0, 12.0, 0.8), spread.SIZE, 66.0),  # top: from the corner
    907: Place((-13.5, -2.5, 2.6), (-8.2, 4.2, 0.7), spread.SIZE, 66.0),  # side-left: end line
    915: Place((-6.5, 19.8, 2.4), (-5.0, 8.0, 0.8), spread.SIZE, 66.0),  # top-left: front
}


def ways(place: Place, defender: PlayerMotion, spot: str, seed: int) -> dict[str, Track]:
    """The camera over the clip for every way to film a rep from one place."""
    n = len(defender.t_s)
    fixed = np.tile(place.look_m, (n, 1))
    calm = handheld(place, fixed, FPS, seed)
    grown = smoothstep(defender.t_s, *ZOOM_S)
    return {
        "tripod": tripod(place, n),
        "pan": handheld(place, practice.follow(defender, spot), FPS, seed),
        "hand": calm,
        "unsteady": handheld(place, fixed, FPS, seed, UNSTEADY_DEG),
        "zoom": replace(calm, zoom=ZOOM[0] * (ZOOM[1] / ZOOM[0]) ** grown),
    }


def together(tracks: list[Track]) -> Track:
    """Cameras of one place as one, so that one empty field serves them all."""
    zooms = [np.ones(len(t.rotation)) if t.zoom is None else t.zoom for t in tracks]
    rotation = np.concatenate([t.rotation for t in tracks])
    return replace(tracks[0], rotation=rotation, still=False, zoom=np.concatenate(zooms))


def render(folder: Path, number: int) -> None:
    """One rep in every way, with its truth; skips what is there."""
    truth = folder / "truth"
    missing = [w for w in WAYS if not (truth / f"{_name(number, w)}.json").exists()]
    if not missing:
        return
    rep, _, bodies, colours = spread.script(number)
    run = replace(rep.run, duration_s=SECONDS)
    defender = plan_defender(bodies[0], run)
    attacker = plan_attacker(
        bodies[1],
        AttackerSpec(run.attacker_m, duration_s=SECONDS, jog_s=rep.jog_after_s, seed=500 + number),
    )
    tracks = ways(PLACES[number], defender, rep.spot, number)
    field = plate_for(together(list(tracks.values())))
    (folder / "clips").mkdir(parents=True, exist_ok=True)
    for way in missing:
        filmed = replace(rep, name=_name(number, way), view=way, run=run)
        track = replace(tracks[way], still=False)
        outfits = spread.dress(defender, attacker, colours, number)
        path = folder / "clips" / f"{filmed.name}.mp4"
        encode(path, Studio(track, field).frames(outfits, FPS), FPS, spread.SIZE, spread.BIT_RATE)
        practice.write_truth(truth, filmed, Shot(defender, attacker, None, track), "moving")
        spread.write_bodies(truth, filmed, bodies)
        print(filmed.name, rep.kind, rep.spot, flush=True)


def _name(number: int, way: str) -> str:
    return f"moving-{number}-{way}"


def main() -> None:
    """Read the command line and render what is missing, in one process."""
    import cv2
    import torch

    parser = argparse.ArgumentParser(prog="python -m models.render.moving", description=__doc__)
    parser.add_argument("folder", type=Path)
    given = parser.parse_args()
    cv2.setNumThreads(1)
    torch.set_num_threads(1)
    for number in PLACES:
        render(given.folder, number)


if __name__ == "__main__":
    main()
