"""Error bars of the ground measures, from film of known truth, by a rule.

Half an interval is ``factor * sqrt(floor^2 + sd^2)``, with sd carried over from the ground track.
Readings of one rep err together, so the factor is conformal over reps: every rep weighs the same,
shared among its readings, and the factor is the quantile of what they ask for at
``0.9 (n + 1) / n`` (pooling of Dunn, Wasserman and Ramdas, Distribution-free prediction sets for
two-layer hierarchical models, JASA 118, 2023; from memory). Of a few floors the one whose bars are
narrowest on average is taken.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from ground_readings import KEYS, Outcome, Read

from posecheck.measures.intervals import Spread

Kind = Literal["marks", "players"]
KINDS: tuple[Kind, ...] = ("marks", "players")
COVER = 0.9
FLOORS = (0.05, 0.1, 0.2, 0.3, 0.5)
"""In the measure's own unit; larger ones would make bars blind to how well the film shows it."""
MIN_REPS = 10
"""Fewer cannot tell a ninetieth percentile; the bars then stay as they were."""
FOLLOWED = 0.95
"""Film in which landmarks sit on somebody else tells nothing of the ground."""


@dataclass(frozen=True)
class Asked:
    """Readings of one measure with metres from one kind of source.

    Attributes:
        rep: ``n`` names of the rep each is of.
        reads: ``n`` readings beside their truth.
    """

    rep: Sequence[str]
    reads: Sequence[Read]

    @property
    def weights(self) -> npt.NDArray[np.float64]:
        """``(n,)`` that sum to 1, the same for every rep."""
        _, which, count = np.unique(self.rep, return_inverse=True, return_counts=True)
        return np.asarray(1 / count[which] / len(count))

    @property
    def reps(self) -> list[str]:
        """Every rep once."""
        return sorted(set(self.rep))

    def only(self, rep: str, *, out: bool = False) -> Asked:
        """One rep's readings, or all others'."""
        kept = [i for i, each in enumerate(self.rep) if (each == rep) is not out]
        return Asked([self.rep[i] for i in kept], [self.reads[i] for i in kept])

    def covered(self, bars: Spread) -> float:
        """The share of truths inside their intervals, every rep weighing the same."""
        return float(self.weights @ [read.covered(bars) for read in self.reads])

    def half(self, bars: Spread) -> float:
        """Half an interval on average."""
        halves = [bars.factor * np.hypot(bars.floor, read.sd) for read in self.reads]
        return float(self.weights @ halves)


def of_measure(outcomes: Sequence[Outcome], key: str, kind: Kind) -> Asked:
    """What is read of a measure; nothing read where there was nothing tells nothing."""
    told = [
        (rep_of(each), each.reads[key])
        for each in outcomes
        if each.source.startswith("players") is (kind == "players")
        and each.reads
        and key in each.reads
        and (each.reads[key].value or each.reads[key].truth)
    ]
    return Asked([rep for rep, _ in told], [read for _, read in told])


def rep_of(outcome: Outcome) -> str:
    """The rep a clip shows: moving-903-pan and moving-903-hand show the same."""
    return "-".join(outcome.clip.split("-")[:2])


def fitted_on(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """Film that bars are fitted on."""
    return [each for each in outcomes if each.followed >= FOLLOWED]


def fitted(asked: Asked) -> Spread | None:
    """The bars that readings ask for, None when they are of too few reps."""
    n = len(asked.reps)
    if n < MIN_REPS:
        return None
    level = min(COVER * (n + 1) / n, 1.0)
    tried = []
    for floor in FLOORS:
        factors = np.array([read.asked(floor) for read in asked.reads])
        order = np.argsort(factors)
        reached = np.cumsum(asked.weights[order])
        first = int(np.searchsorted(reached, level - 1e-9))
        tried.append(Spread(float(np.ceil(100 * factors[order][first]) / 100), floor))
    return min(tried, key=asked.half)


def left_out_cover(asked: Asked) -> dict[str, float]:
    """How often bars fitted on all other reps hold on one, by rep."""
    held = {}
    for rep in asked.reps:
        bars = fitted(asked.only(rep, out=True))
        if bars is not None:
            held[rep] = asked.only(rep).covered(bars)
    return held


def all_bars(outcomes: Sequence[Outcome]) -> dict[str, dict[Kind, Spread]]:
    """Bars by measure and kind of source, for those that film of enough reps tells of."""
    film = fitted_on(outcomes)
    found: dict[str, dict[Kind, Spread]] = {key: {} for key in KEYS}
    for key in KEYS:
        for kind in KINDS:
            bars = fitted(of_measure(film, key, kind))
            if bars is not None:
                found[key][kind] = bars
    return found


def written(table: str, found: dict[str, dict[Kind, Spread]]) -> str:
    """The text of ``intervals.toml`` with these bars in place of those that were there."""
    for key, by_kind in found.items():
        for kind, bars in by_kind.items():
            line = f"{kind} = {{ factor = {bars.factor:g}, floor = {bars.floor:g} }}"
            place = rf"(\[ground\.{key}\]\n(?:\w.*\n)*?){kind} = \{{.*\}}"
            table, times = re.subn(place, rf"\g<1>{line}", table)
            if times != 1:
                raise ValueError(f"no one place for the bars of {key} from {kind}")
    return table
