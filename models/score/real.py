"""Real film beside what is known of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from models.data.real import MEASURES, NoRep, RealReading
from models.score.foreign import Asked, correlation, slope
from models.score.summary import error

NAMES = {
    "left_knee_deg": "left knee",
    "right_knee_deg": "right knee",
    "knee_bend_deg": "knee bend of the straighter leg",
    "trunk_lean_deg": "trunk lean",
}
TRUTH_DEG = 4.0
"""The truth of a knee is known to this."""
LIMITS_DEG = (35.0, 40.0)
STANDING_DEG = 10.0


def real_frame(windows: Sequence[RealReading]) -> pd.DataFrame:
    """One row a window and measure."""
    frame = pd.DataFrame([vars(each) for each in windows])
    frame["off"] = frame.value - frame.truth
    return frame


def by_measure(windows: Sequence[RealReading]) -> pd.DataFrame:
    """Errors by measure and camera, of film with truth."""
    frame = real_frame(windows)
    rows = {}
    for camera in ("known", "estimated"):
        for measure in MEASURES:
            own = frame[(frame.camera == camera) & (frame.measure == measure) & frame.truth.notna()]
            if not len(own):
                continue
            rows[f"{NAMES[measure]}, camera {camera}"] = {
                "n": len(own),
                "slope": slope(own.value, own.truth),
                "r": correlation(own.value, own.truth),
                "guess": float((own.truth - own.truth.median()).abs().mean()),
                "covered": float(((own.truth >= own.low) & (own.truth <= own.high)).mean()),
                **error(own.off, "off"),
                **error(own.model - own.truth, "model"),
            }
    return pd.DataFrame.from_dict(rows, orient="index")


def asked(windows: Sequence[RealReading], no_reps: Sequence[NoRep]) -> list[Asked]:
    """What is asked of real film, with the camera known."""
    frame = real_frame(windows)
    known = frame[(frame.camera == "known") & frame.truth.notna()]
    knees = known[known.measure.isin(MEASURES[:2])]
    bend, lean = known[known.measure == "knee_bend_deg"], known[known.measure == "trunk_lean_deg"]
    guess = float((knees.truth - knees.truth.median()).abs().mean())
    size = float(knees.off.abs().mean())
    wrong = sum(
        int(((bend.low > limit) & (bend.truth < limit - TRUTH_DEG)).sum())
        + int(((bend.high < limit) & (bend.truth > limit + TRUTH_DEG)).sum())
        for limit in LIMITS_DEG
    )
    standing = frame[frame.standing & frame.measure.isin(MEASURES[:2])]
    most = float(standing.value.max()) if len(standing) else np.nan
    steep = slope(knees.value, knees.truth)
    off_lean = float(lean.off.abs().mean())
    return [
        Asked("A man on a beam, each knee: slope", len(knees), f"{steep:.2f}", "at least 0.6",
              steep >= 0.6),
        Asked("the same: mean error", len(knees), f"{size:.1f}°",
              f"better than guessing his median, {guess:.1f}°", size < guess),
        Asked("the same: trunk lean, mean error", len(lean), f"{off_lean:.1f}°", "at most 3.5°",
              off_lean <= 3.5),
        Asked("the same: windows surely wrong at a limit of 35° or 40°", 2 * len(bend),
              str(wrong), "none", wrong == 0),
        Asked("A man standing straight: the most that a knee is read", len(standing),
              f"{most:.1f}°", "under 10°", most < STANDING_DEG),
        Asked("Reps found in real film without any", len(no_reps),
              str(sum(each.reps for each in no_reps)), "none",
              not any(each.reps for each in no_reps)),
    ]  # fmt: skip
