"""How far off speeds, sides and places are, by where metres come from and how the phone is held."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict

import numpy as np
import pandas as pd

from models.data.film import SAMPLE
from models.data.ground import FROM_PLAYERS, MEASURES, Outcome
from models.fit.ground_intervals import (
    SOURCES,
    fit_spread,
    fitted_on,
    left_out_cover,
    sample_of,
)
from models.recipe import GroundIntervals
from models.score.summary import error
from posecheck.measures.intervals import Spread

Spreads = Mapping[str, Mapping[str, Spread]]

FRAME_S = 1 / 30
WHOLE = 0.95
"""A run counts as shown, and a player as followed, in at least this share of its frames."""
SPEEDS = ("closeout_speed_mps", "arrival_speed_mps")
SIDE = "approach_offset_m"
SIDE_FROM_M = 0.3
"""An approach at least so far to one side has a side."""
NEAR_SHARE, NEAR_MPS, PLAYERS_SHARE = 0.05, 0.25, 0.12
"""As near as wanted: within 5 % or 0.25 m/s, whichever is more, of known points; within 12 % from
players alone."""


def outcomes_frame(outcomes: Sequence[Outcome]) -> pd.DataFrame:
    """One row a clip and source of metres; each measure's reading in ``KEY.value`` and so on."""
    rows = []
    for each in outcomes:
        row = {key: value for key, value in asdict(each).items() if key != "readings"}
        row |= {"rep": each.rep, "players": each.from_players}
        for key in MEASURES:
            read = each.readings.get(key)
            row |= {f"{key}.value": np.nan, f"{key}.truth": np.nan}
            if read is not None:
                row |= {f"{key}.value": read.value, f"{key}.truth": read.truth}
        rows.append(row)
    frame = pd.DataFrame(rows)
    frame["fair"] = (frame.shown >= WHOLE) & (frame.followed >= WHOLE)
    frame["read"] = frame.refused.isna()
    number = pd.to_numeric(frame["clip"].str.split("-").str[1], errors="coerce")
    return frame.assign(number=number)


def off(frame: pd.DataFrame, key: str) -> pd.Series:
    """Errors of a measure where it was read, positive when too much is read."""
    return (frame[f"{key}.value"] - frame[f"{key}.truth"]).dropna()


def near(frame: pd.DataFrame, key: str) -> pd.Series:
    """Whether a speed is as near as wanted, where it was read."""
    size, truth = off(frame, key).abs(), frame[f"{key}.truth"]
    allowed = np.maximum(NEAR_SHARE * truth, NEAR_MPS).where(~frame.players, PLAYERS_SHARE * truth)
    return size <= allowed[size.index]


def sides_right(frame: pd.DataFrame) -> tuple[int, int]:
    """Approaches whose side is right, of those that have one."""
    read, truth = frame[f"{SIDE}.value"], frame[f"{SIDE}.truth"]
    sided = frame[(truth.abs() > SIDE_FROM_M) & read.notna()].index
    return int((read[sided] * truth[sided] > 0).sum()), len(sided)


def by_group(groups: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Errors of speeds, sides, arrival and place, a row for each group of clips tried."""
    rows = {}
    for name, tried in groups.items():
        if not len(tried):
            continue
        read = tried[tried.read]
        row: dict[str, float] = {"tried": len(tried), "n": len(read)}
        for key in SPEEDS:
            row |= error(off(read, key), key) | {f"{key}_near": near(read, key).mean()}
        row |= error(off(read, SIDE), SIDE)
        row["right"], row["sided"] = sides_right(read)
        row["on_time"] = (read.arrival_off_s.dropna().abs() <= 2 * FRAME_S).mean()
        row["place_cm"] = 100 * read.place_off_m.median()
        rows[name] = row
    return pd.DataFrame.from_dict(rows, orient="index")


def speeds_against_wanted(frame: pd.DataFrame) -> pd.DataFrame:
    """How many speeds are as near as wanted, by kind of source."""
    read = frame[frame.read]
    kinds = {"points": read[~read.players]}
    kinds |= {source: read[read.source == source] for source in FROM_PLAYERS}
    rows = {}
    for kind, chosen in kinds.items():
        for key in SPEEDS:
            size, truth = off(chosen, key).abs(), chosen[f"{key}.truth"]
            rows[key, kind] = {
                "n": len(size),
                "near": near(chosen, key).mean(),
                "share": (size / truth[size.index]).mean(),
            }
    return pd.DataFrame.from_dict(rows, orient="index")


def coverage_as_shown(outcomes: Sequence[Outcome], spreads: Spreads) -> pd.DataFrame:
    """How often intervals hold, over all measures, by kind of source; a reading each."""
    rows = {}
    for source in SOURCES:
        held = [
            read.covered(spreads[key][source])
            for each in outcomes
            if each.from_players is (source == "players")
            for key, read in each.readings.items()
        ]
        rows[source] = {"n": len(held), "covered": float(np.mean(held)) if held else np.nan}
    return pd.DataFrame.from_dict(rows, orient="index")


def coverage_left_out(
    outcomes: Sequence[Outcome], spreads: Spreads, recipe: GroundIntervals, cover: float
) -> pd.DataFrame:
    """How often intervals fitted on all other reps hold: over all reps, and over kinds of film."""
    film = fitted_on(outcomes, recipe)
    kinds = {
        "whole": {each.rep for each in film if each.shown >= WHOLE},
        "part": {each.rep for each in film if not each.shown >= WHOLE},
        "sample": {each.rep for each in film if each.collection == SAMPLE},
    }
    rows = {}
    for key in MEASURES:
        for source in SOURCES:
            sample = sample_of(film, key, source)
            held = left_out_cover(sample, recipe, cover)
            if not held:
                continue
            spread = spreads[key][source]
            row: dict[str, float] = {
                "reps": len(sample.reps),
                "factor": spread.factor,
                "floor": spread.floor,
            }
            for kind, reps in {"all": set(held), **kinds}.items():
                shares = [share for rep, share in held.items() if rep in reps]
                row |= {f"{kind}_n": len(shares)}
                row |= {kind: float(np.mean(shares)) if shares else np.nan}
            rows[key, source] = row
    return pd.DataFrame.from_dict(rows, orient="index")


def sample_unseen(
    outcomes: Sequence[Outcome], recipe: GroundIntervals, cover: float
) -> dict[str, float]:
    """How often intervals that have seen nothing of the sample practice hold there, by measure."""
    film = fitted_on(outcomes, recipe)
    sample = [each for each in film if each.collection == SAMPLE]
    rest = [each for each in film if each.collection != SAMPLE]
    found = {}
    for key in MEASURES:
        spread = fit_spread(sample_of(rest, key, "marks"), recipe, cover)
        own = sample_of(sample, key, "marks")
        if spread is not None and own.readings:
            found[key] = own.covered(spread)
    return found
