"""How far off metres are through lenses of every kind: from marked points, and from players alone.

Two tables. One needs no film: cameras drawn at random and the marks that somebody would set. The
other takes clips whose landmarks are kept, and sees each rep again through other lenses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from models.data.film import films
from models.data.ground import FROM_PLAYERS, Outcome, measured, sources
from models.data.marked_lens import COUNTS, marked_views, outcome
from models.data.other_lens import draws
from models.recipe import recipe
from models.score.ground import near, off, outcomes_frame
from posecheck.camera.lens import stated_lens
from posecheck.camera.tuning import PHONE_FOCAL
from posecheck.store.keypoints import read_keypoints
from posecheck.video.clip import open_clip

SEED = 5
VIEWS = 200
NINE_IN_TEN = 1.645
FOCALS = ((0.6, 0.9), (0.9, 1.4), (1.4, 2.5))
MARKS = "6 marks"
STATED = "players, lens stated"


def marks_table(views: int = VIEWS, seed: int = SEED) -> pd.DataFrame:
    """Cameras drawn at random, focal length 0.6 to 2.5 of the longer side, 0.5 to 8 m up, 8 to 60 m
    away; clicks off by 0.7 to 1.5 px, points by 1 to 3 cm; by distortion and number of marks.

    Marks on one line, which are refused with that reason, are left out.
    """
    rows = {}
    for name, distorted in (("straight", False), ("bent by up to 3 % at the edge", True)):
        outcomes = [outcome(view) for view in marked_views(views, seed, distorted)]
        for count in COUNTS:
            tried = [
                each
                for each in outcomes
                if each.marks == count and "on one line" not in (each.refused or "")
            ]
            read = pd.DataFrame([vars(each) for each in tried if each.refused is None])
            size = read.length_off.abs()
            rows[name, count] = {
                "tried": len(tried),
                "refused": len(tried) - len(read),
                "length_off": size.median(),
                "within_5": (size <= 0.05).mean(),
                "length_covered": (size <= NINE_IN_TEN * read.length_sd).mean(),
                "focal_off": read.focal_off.abs().median(),
                "focal_covered": (read.focal_off.abs() <= NINE_IN_TEN * read.focal_sd).mean(),
                "end_off_m": read.end_off_m.median(),
            }
    return pd.DataFrame.from_dict(rows, orient="index")


def seen_outcomes(
    folders: Sequence[Path], kept: Path, count: int, distorted: bool
) -> list[tuple[float, Outcome]]:
    """Reps of clips filmed from a tripod, each through other lenses: focal length, and outcome.

    Args:
        folders: of rendered film with its truth.
        kept: folder in which `python -m models read` keeps landmarks.
        count: lenses for each rep.
        distorted: whether they bend straight lines.
    """
    found = []
    ground = recipe().intervals.ground
    for film in (film for folder in folders for film in films(folder.resolve())):
        if film.camera != "tripod" or not film.truth:
            continue
        clip = open_clip(film.path)
        files = sorted((kept / "keypoints").glob(f"{clip.digest[:16]}-*.parquet"))
        if not files:
            continue
        for seen, seen_clip, keypoints in draws(
            film, clip, read_keypoints(files[-1]), count, SEED, distorted
        ):
            for source, practice in sources(seen, seen_clip, ground):
                if source not in (MARKS, *FROM_PLAYERS):
                    continue
                blank = Outcome(film.name, film.collection, "other lens", source, None, 1.0, 1.0)
                focal = seen.draw.focal
                found.append((focal, measured(seen, seen_clip, keypoints, practice, blank)))
                if source == FROM_PLAYERS[1]:
                    said = replace(practice, lens=stated_lens(focal / PHONE_FOCAL))
                    known = measured(seen, seen_clip, keypoints, said, blank)
                    found.append((focal, replace(known, source=STATED)))
    return found


def seen_table(found: Sequence[tuple[float, Outcome]]) -> pd.DataFrame:
    """Closeout speed and arrival by source of metres and focal length."""
    frame = outcomes_frame([each for _, each in found])
    frame["players"] |= frame.source == STATED
    frame["focal"] = [focal for focal, _ in found]
    frame["sd"] = [
        read.sd if (read := each.readings.get("closeout_speed_mps")) else np.nan
        for _, each in found
    ]
    rows = {}
    for source, tried in frame.groupby("source"):
        for least, most in ((0.6, 2.5), *FOCALS):
            chosen = tried[(tried.focal >= least) & (tried.focal < most)]
            read = chosen[chosen.read]
            if not len(read):
                continue
            error = off(read, "closeout_speed_mps")
            share = error.abs() / read["closeout_speed_mps.truth"][error.index]
            rows[source, f"{least} to {most}"] = {
                "tried": len(chosen),
                "n": len(read),
                "speed_off": share.mean(),
                "speed_bias": (error / read["closeout_speed_mps.truth"][error.index]).median(),
                "speed_near": near(read, "closeout_speed_mps").mean(),
                "speed_covered": (error.abs() <= NINE_IN_TEN * read.sd[error.index]).mean(),
                "on_time": (read.arrival_off_s.dropna().abs() <= 2 / 30 + 1e-9).mean(),
                "place_m": read.place_off_m.median(),
            }
    return pd.DataFrame.from_dict(rows, orient="index")
