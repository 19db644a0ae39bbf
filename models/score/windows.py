"""How often the stance's intervals hold over windows of clips."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict

import numpy as np
import pandas as pd

from models.data.windows import Window
from models.fit.stance_intervals import Factors, half_width, inside, left_out_inside
from models.score.summary import Chosen, by_condition, heights, ranges, views
from posecheck.body.stance_track import STANCE
from posecheck.filming.conditions import Group

HEIGHTS_PX: tuple[tuple[float, float], ...] = ((130, 200), (200, 300), (300, np.inf))
BENDS_DEG: tuple[tuple[float, float], ...] = ((0, 25), (25, 45), (45, np.inf))
AllFactors = Mapping[str, Mapping[Group, Factors]]


def windows_frame(windows: Sequence[Window]) -> pd.DataFrame:
    """One row a window and measure; ``off`` is positive when too much is read."""
    frame = pd.DataFrame([asdict(each) for each in windows])
    frame["off"] = frame.value - frame.truth
    return frame


def left_out_frame(windows: Sequence[Window], factors: AllFactors, cover: float) -> pd.DataFrame:
    """With half the interval, and whether intervals fitted on all other bodies hold the truth."""
    frames = []
    for key in STANCE:
        own = [each for each in windows if each.measure == key]
        frame = windows_frame(own)
        frame["half"] = [half_width(each, factors[key][each.group]) for each in own]
        frame["covered"] = left_out_inside(own, cover)
        frames.append(frame)
    return pd.concat(frames, ignore_index=True)


def as_shown_frame(windows: Sequence[Window], factors: AllFactors) -> pd.DataFrame:
    """With whether the intervals that a page would show hold the truth."""
    frame = windows_frame(windows)
    frame["covered"] = [inside(each, factors[each.measure][each.group]) for each in windows]
    return frame


def by_measure(frame: pd.DataFrame) -> pd.DataFrame:
    """Errors, half of the usual interval, and coverage, of all and of bent windows."""
    chosen: Chosen = {key: frame.measure == key for key in STANCE}
    found = by_condition(frame, chosen, {"off": frame.off})
    found["half"] = [frame.half[chosen[key]].median() for key in found.index]
    return _with_coverage(frame, chosen, found)


def knees_by_condition(frame: pd.DataFrame) -> pd.DataFrame:
    """The knee bend's errors and coverage by what film and body are like."""
    knees = frame[frame.measure == "knee_bend_deg"]
    chosen: Chosen = {
        **dict(views(knees)),
        **dict(heights(knees, HEIGHTS_PX)),
        **dict(ranges(knees.truth, BENDS_DEG, "knee bend ", "°")),
        **{name: knees.collection == name for name in sorted(knees.collection.unique())},
    }
    return _with_coverage(knees, chosen, by_condition(knees, chosen, {"off": knees.off}))


def _with_coverage(frame: pd.DataFrame, chosen: Chosen, found: pd.DataFrame) -> pd.DataFrame:
    found["covered"] = [frame.covered[chosen[name]].mean() for name in found.index]
    found["bent_covered"] = [
        frame.covered[chosen[name] & frame.bent].mean() for name in found.index
    ]
    return found


def by_movement(frame: pd.DataFrame, keys: Sequence[str]) -> pd.DataFrame:
    """Errors and coverage of some measures by captured movement, and of all."""
    rows = {}
    for name in [*frame.movement.unique(), "all"]:
        own = frame if name == "all" else frame[frame.movement == name]
        row: dict[str, float] = {"n": int((own.measure == keys[0]).sum())}
        for key in keys:
            read = own[own.measure == key]
            row |= {
                f"{key}_error": read.off.abs().mean(),
                f"{key}_bias": read.off.mean(),
                f"{key}_covered": read.covered.mean(),
            }
        rows[name] = row
    return pd.DataFrame.from_dict(rows, orient="index")
