"""What degraded film costs, by how it was degraded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

import pandas as pd

from models.data.film_limits import AS_FILMED, Arrival


def by_degradation(arrivals: Sequence[Arrival]) -> pd.DataFrame:
    """Errors, shift against the film as it is, and what the film's quality is measured as."""
    frame = pd.DataFrame([asdict(each) for each in arrivals])
    first = frame[frame.degraded == AS_FILMED].set_index("clip").knee_off_deg
    frame["moved_deg"] = (frame.knee_off_deg - frame["clip"].map(first)).abs()
    rows = {}
    for name, own in frame.groupby("degraded", sort=False):
        rows[name] = {
            "n": int(own.knee_off_deg.notna().sum()),
            "seen": own.seen.mean(),
            "knee_error": own.knee_off_deg.abs().mean(),
            "knee_bias": own.knee_off_deg.mean(),
            "moved": own.moved_deg.mean(),
            "moved_most": own.moved_deg.max(),
            "lean_error": own.lean_off_deg.abs().mean(),
            "lean_bias": own.lean_off_deg.mean(),
            "blur": own.blur.median(),
            "light": own.light.median(),
            "burnt": own.burnt.median(),
        }
    return pd.DataFrame.from_dict(rows, orient="index")
