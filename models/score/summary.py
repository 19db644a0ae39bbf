"""Errors summed up by condition."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

Chosen = Mapping[str, "pd.Series[bool]"]
"""By name of a condition, which rows it holds for."""

VIEWS_DEG = ((0, 45), (45, 75), (75, 105), (105, 135), (135, 180))
HEIGHTS_PX: tuple[tuple[float, float], ...] = (
    (0, 100), (100, 130), (130, 200), (200, 300), (300, np.inf)
)  # fmt: skip
TALL_PX = 200
"""From here up errors fall slowly with size."""


def within(values: pd.Series, low: float, high: float) -> pd.Series:
    """Which values lie from ``low`` to below ``high``."""
    return (values >= low) & (values < high)


def views(frame: pd.DataFrame) -> Iterator[tuple[str, pd.Series]]:
    """From where the player is seen: 0 from the front, 180 from behind."""
    for low, high in VIEWS_DEG:
        yield f"view {low} to {high}°", within(frame.view_deg, low, high + (high == 180))


def ranges(
    values: pd.Series, limits: Sequence[tuple[float, float]], before: str, unit: str
) -> Iterator[tuple[str, pd.Series]]:
    """Ranges of some values, such as "knee bend 20 to 35°"."""
    for low, high in limits:
        text = f"{low:g} to {high:g}{unit}" if np.isfinite(high) else f"{low:g}{unit} and more"
        yield f"{before}{text}", within(values, low, high)


def heights(
    frame: pd.DataFrame, limits: Sequence[tuple[float, float]] = HEIGHTS_PX
) -> Iterator[tuple[str, pd.Series]]:
    """How tall the player is in the picture."""
    return ranges(frame.height_px, limits, "", " px")


def error(off: npt.ArrayLike, called: str) -> dict[str, float]:
    """Mean absolute error and bias, NaN of nothing."""
    values = np.asarray(off, dtype=float)
    if not len(values):
        return {f"{called}_error": np.nan, f"{called}_bias": np.nan}
    return {f"{called}_error": float(np.abs(values).mean()), f"{called}_bias": float(values.mean())}


def by_condition(
    frame: pd.DataFrame, conditions: Chosen, offs: Mapping[str, pd.Series], least: int = 1
) -> pd.DataFrame:
    """Errors where each condition holds, a row each; conditions of fewer rows are left out.

    "all" is always there.
    """
    rows = {}
    for name, chosen in conditions.items():
        if name == "all" or chosen.sum() >= least:
            row: dict[str, float] = {"n": int(chosen.sum())}
            for called, off in offs.items():
                row |= error(off[chosen], called)
            rows[name] = row
    return pd.DataFrame.from_dict(rows, orient="index")
