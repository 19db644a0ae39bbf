"""Errors and coverage sorted by what the film was like: view, size, body."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.measures.quantities import QUANTITIES, QUANTITY
from posecheck.measures.result import RepResult
from posecheck.scoring.truth import Truth

VIEWS_DEG = ((0, 45), (45, 75), (75, 105), (105, 135), (135, 180))
"""Ranges of the side a player is seen from, those of models/INTERVALS_CARD.md.

Source: definition
"""
HEIGHTS_PX = ((0, 130), (130, 200), (200, 300), (300, math.inf))
"""Ranges of a player's height in the picture, those of models/INTERVALS_CARD.md.

Source: definition
"""


@dataclass(frozen=True)
class Reading:
    """One figure of a rep beside its truth.

    Attributes:
        key: of the quantity; a knee bend read later counts as a knee bend.
        clip: name of the clip.
        defender: as the truth names him.
        view_deg, height_px: as truth has them, in the middle over the time of the reading.
        truth, value, low, high: what it was, what was read, and the 90 % interval.
    """

    key: str
    clip: str
    defender: str
    view_deg: float
    height_px: float
    truth: float
    value: float
    low: float
    high: float

    @property
    def error(self) -> float:
        """Read minus true."""
        return self.value - self.truth

    @property
    def inside(self) -> bool:
        """True when the interval holds the truth."""
        return self.low <= self.truth <= self.high


@dataclass(frozen=True)
class FrameErrors:
    """Errors in each frame of a rep; no interval belongs to a single frame.

    Attributes:
        key, defender: as in :class:`Reading`.
        view_deg, height_px, error: ``(n,)``, frames without a reading left out.
    """

    key: str
    defender: str
    view_deg: FloatArray
    height_px: FloatArray
    error: FloatArray


@dataclass(frozen=True)
class Group:
    """Readings of one kind of film.

    Attributes:
        name: of the kind.
        n: readings of reps.
        mean_abs_error, bias: over them, None when n is 0.
        inside: how many intervals hold the truth.
        n_frames: single frames.
        frame_error, frame_bias: over those, None when there are none.
    """

    name: str
    n: int
    mean_abs_error: float | None
    bias: float | None
    inside: int
    n_frames: int
    frame_error: float | None
    frame_bias: float | None


def readings_of(truth: Truth, rep: RepResult) -> list[Reading]:
    """Every figure of a rep that was read and whose truth is known."""
    found = []
    arrival_s = truth.facts["arrival_s"]
    for key, measure in rep.measures.items():
        want, quantity = truth.facts.get(key), QUANTITY[key]
        if want is None or measure.value is None or measure.low is None or measure.high is None:
            continue
        window = arrival_s + quantity.window_s[0], arrival_s + quantity.window_s[1]
        found.append(
            Reading(
                key=quantity.base,
                clip=truth.name,
                defender=truth.defender,
                view_deg=truth.over(truth.view_deg, *window),
                height_px=truth.over(truth.height_px, *window),
                truth=want,
                value=measure.value,
                low=measure.low,
                high=measure.high,
            )
        )
    return found


def frame_errors_of(truth: Truth, rep: RepResult) -> list[FrameErrors]:
    """Errors in the single frames of a rep."""
    t_s = rep.series.t_s
    view, height = (np.interp(t_s, truth.t_s, of) for of in (truth.view_deg, truth.height_px))
    found = []
    for quantity in (each for each in QUANTITIES if each.each_frame):
        error = frame_error(truth, rep, quantity.key)
        read = np.isfinite(error)
        errors = FrameErrors(quantity.key, truth.defender, view[read], height[read], error[read])
        found.append(errors)
    return found


def frame_error(truth: Truth, rep: RepResult, key: str) -> FloatArray:
    """``(n,)`` read minus true in each frame of a rep, NaN where nothing was read."""
    true = np.interp(rep.series.t_s, truth.t_s, getattr(truth, key))
    return np.asarray(getattr(rep.series, key) - true)


def groups(
    key: str, readings: Iterable[Reading], frames: Iterable[FrameErrors]
) -> dict[str, tuple[Group, ...]]:
    """A quantity's errors by view, by size and by defender; kinds without a reading left out.

    Args:
        key: of the quantity.
        readings, frames: of all quantities.
    """
    own = [each for each in readings if each.key == key]
    single = [each for each in frames if each.key == key]
    defenders = sorted(
        {each.defender for each in own} | {each.defender for each in single},
        key=lambda name: (len(name), name),
    )
    found: dict[str, tuple[Group, ...]] = {
        "View": tuple(
            _group(
                f"{low} to {high}°",
                [r for r in own if in_range(r.view_deg, low, high, last=180)],
                [f.error[in_range(f.view_deg, low, high, last=180)] for f in single],
            )
            for low, high in VIEWS_DEG
        ),
        "Player's height": tuple(
            _group(
                f"{low} to {high} px" if math.isfinite(high) else f"from {low} px",
                [r for r in own if in_range(r.height_px, low, high)],
                [f.error[in_range(f.height_px, low, high)] for f in single],
            )
            for low, high in HEIGHTS_PX
        ),
        "Defender": tuple(
            _group(
                name,
                [r for r in own if r.defender == name],
                [f.error for f in single if f.defender == name],
            )
            for name in defenders
        ),
    }
    return {
        heading: tuple(each for each in of if each.n or each.n_frames)
        for heading, of in found.items()
    }


def in_range(
    value: FloatArray | float, low: float, high: float, last: float = math.inf
) -> BoolArray:
    """Whether values lie in a range, its upper end left out unless it is ``last``."""
    values = np.asarray(value)
    return np.asarray((values >= low) & ((values < high) | ((values == high) & (high == last))))


def _group(name: str, own: Sequence[Reading], frames: Sequence[FloatArray]) -> Group:
    single = np.concatenate([np.empty(0), *(np.asarray(each, dtype=float) for each in frames)])
    return Group(
        name,
        len(own),
        _mean(abs(each.error) for each in own),
        _mean(each.error for each in own),
        sum(each.inside for each in own),
        len(single),
        _mean(np.abs(single)),
        _mean(single),
    )


def _mean(values: Iterable[float]) -> float | None:
    known = list(values)
    return float(np.mean(known)) if known else None
