"""How well a long film is cut into reps: shares, errors, processor time."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from models.data.long_film_check import WITHIN_S, Checked
from models.score.foreign import Asked

FOUND, FALSE = 0.97, 0.03
"""Shares of reps found at least, and of false ones among what is given as reps at most.

Source: definition
"""

OUTCOMES = ("found", "listed", "lost")

ARRIVED_S = 0.3
"""After arrival the stance is read for so long.

Source: definition
"""


def asked(checked: Checked) -> list[Asked]:
    """What is asked of it."""
    n = len(checked.reps)
    found = sum(each.outcome == "found" for each in checked.reps)
    given = found + len(checked.false)
    share = found / n
    wrong = len(checked.false) / max(given, 1)
    return [
        Asked(
            f"Reps of a {checked.minutes:.0f}-minute film found (arrival, seen or expected, within "
            f"{WITHIN_S:g} s)",
            n,
            f"{100 * share:.0f}%",
            f"at least {100 * FOUND:.0f}%",
            share >= FOUND,
        ),
        Asked(
            "False ones among what it gives as reps",
            given,
            f"{100 * wrong:.0f}%",
            f"at most {100 * FALSE:.0f}%",
            wrong <= FALSE,
        ),
    ]


def figures(checked: Checked) -> pd.DataFrame:
    """Everything else: one row a figure, as text."""
    frame = pd.DataFrame([vars(each) for each in checked.reps])
    got = frame[frame.outcome == "found"]
    known = got.right_player.dropna()
    whole = (frame.before_s >= 0) & (frame.after_s >= ARRIVED_S)
    alone = frame[frame.alone.eq(True)]
    collections = frame["clip"].str.partition("-")[0]

    def spread(column: str, of: pd.DataFrame = got) -> str:
        values = of[column].astype(float).abs()
        if values.empty:
            return ""
        return f"{values.median():.2f} s, nine in ten within {values.quantile(0.9):.2f} s"

    rows = {
        "reps found, listed as not sure, lost": _outcomes(frame),
        **{
            f"the same of {name} film": _outcomes(frame[collections == name])
            for name in sorted(set(collections))
        },
        "the same of clips whose rep is found in the clip by itself": _outcomes(alone),
        f"cut out from before the start to {ARRIVED_S:g} s after arrival": (
            f"{int(whole.sum())} of {len(frame)}"
        ),
        "found by an arrival that is expected, not seen": (
            f"{int(got.expected.sum())} of {len(got)}"
        ),
        "right defender, of those known": f"{int(known.sum())} of {len(known)}",
        "start off by (median)": spread("start_off_s"),
        **_starts_seen(frame, spread),
        "arrival off by (median)": spread("arrival_off_s"),
        "stretches listed as not sure": str(checked.unsure),
        "camera changes found": f"{checked.changes_found} of {checked.changes}",
        "processor time for a minute of film": f"{checked.cpu_s / checked.minutes:.1f} s",
        "whole check": f"{checked.wall_s / 60:.1f} min with {checked.jobs} processes",
    }
    return pd.DataFrame.from_dict(rows, orient="index", columns=["figure"])


def _starts_seen(frame: pd.DataFrame, spread: Callable[[str, pd.DataFrame], str]) -> dict[str, str]:
    """Figures of the starts that the film shows: not that of a defender who is running already when
    he comes into view. Empty where it is not known who does."""
    seen_from_s = frame.seen_from_s.astype(float)
    if seen_from_s.isna().any():
        return {}
    late_s = (seen_from_s - frame.start_s).clip(lower=0)
    whole = (frame.before_s + late_s >= 0) & (frame.after_s >= ARRIVED_S)
    seen = frame[(late_s == 0) & (frame.outcome == "found")]
    return {
        f"cut out so, or from before he comes into view ({int((late_s > 0).sum())} do, running)": (
            f"{int(whole.sum())} of {len(frame)}"
        ),
        "start off by (median) where it is in the picture": spread("start_off_s", seen),
    }


def _outcomes(frame: pd.DataFrame) -> str:
    return " / ".join(str(int((frame.outcome == each).sum())) for each in OUTCOMES)
