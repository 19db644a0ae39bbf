"""Intervals of the ground measures, from clips of known truth.

Half an interval is ``factor * sqrt(floor^2 + sd^2)``, with sd carried over from the ground track.
The factor is conformal over reps; of a few floors the one whose intervals are narrowest on average
is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from models.data.ground import MEASURES, Outcome, Reading
from models.fit.conformal import group_weights, pooled
from models.recipe import GroundIntervals
from posecheck.measures.intervals import Spread

Source = Literal["marks", "players"]
SOURCES: tuple[Source, ...] = ("marks", "players")


@dataclass(frozen=True)
class Sample:
    """Readings of one measure with metres from one kind of source.

    Attributes:
        rep: ``n`` names of the rep each is of.
        readings: ``n`` readings beside their truth.
    """

    rep: Sequence[str]
    readings: Sequence[Reading]

    @property
    def weights(self) -> npt.NDArray[np.float64]:
        """``(n,)`` that sum to 1, the same for every rep."""
        return group_weights(self.rep)

    @property
    def reps(self) -> list[str]:
        """Every rep once."""
        return sorted(set(self.rep))

    def of(self, rep: str) -> Sample:
        """One rep's readings."""
        return self._where([each == rep for each in self.rep])

    def without(self, rep: str) -> Sample:
        """All other reps' readings."""
        return self._where([each != rep for each in self.rep])

    def _where(self, chosen: Sequence[bool]) -> Sample:
        kept = [i for i, there in enumerate(chosen) if there]
        return Sample([self.rep[i] for i in kept], [self.readings[i] for i in kept])

    def covered(self, spread: Spread) -> float:
        """The share of truths inside their intervals, every rep weighing the same."""
        return float(self.weights @ [read.covered(spread) for read in self.readings])

    def half(self, spread: Spread) -> float:
        """Half an interval on average."""
        halves = [spread.factor * np.hypot(spread.floor, read.sd) for read in self.readings]
        return float(self.weights @ halves)


def sample_of(outcomes: Sequence[Outcome], measure: str, source: Source) -> Sample:
    """What is read of a measure, without those that read nothing where there was nothing."""
    chosen = [
        (each.rep, each.readings[measure])
        for each in outcomes
        if each.from_players is (source == "players") and measure in each.readings
    ]
    kept = [(rep, read) for rep, read in chosen if read.value or read.truth]
    return Sample([rep for rep, _ in kept], [read for _, read in kept])


def fitted_on(outcomes: Sequence[Outcome], recipe: GroundIntervals) -> list[Outcome]:
    """Film that intervals are fitted on: landmarks on somebody else show nothing of the ground."""
    return [each for each in outcomes if each.followed >= recipe.followed]


def fit_spread(sample: Sample, recipe: GroundIntervals, cover: float) -> Spread | None:
    """The factor and floor that readings ask for, None when they are of too few reps."""
    if len(sample.reps) < recipe.min_reps:
        return None
    tried = []
    for floor in recipe.floors:
        factors = np.array([read.factor(floor) for read in sample.readings])
        factor = pooled(factors, sample.rep, cover)
        tried.append(Spread(float(np.ceil(100 * factor) / 100), floor))
    return min(tried, key=sample.half)


def left_out_cover(sample: Sample, recipe: GroundIntervals, cover: float) -> dict[str, float]:
    """How often intervals fitted on all other reps hold on one, by rep."""
    held = {}
    for rep in sample.reps:
        spread = fit_spread(sample.without(rep), recipe, cover)
        if spread is not None:
            held[rep] = sample.of(rep).covered(spread)
    return held


def fit_spreads(
    outcomes: Sequence[Outcome], recipe: GroundIntervals, cover: float
) -> dict[str, dict[Source, Spread]]:
    """By measure and source of metres, for those of which film shows enough reps."""
    film = fitted_on(outcomes, recipe)
    found: dict[str, dict[Source, Spread]] = {measure: {} for measure in MEASURES}
    for measure in MEASURES:
        for source in SOURCES:
            spread = fit_spread(sample_of(film, measure, source), recipe, cover)
            if spread is not None:
                found[measure][source] = spread
    return found
