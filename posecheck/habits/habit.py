"""Which habits are followed over practices, and what of them is better."""

from __future__ import annotations

from dataclasses import dataclass

from posecheck.judging.thresholds import Good, Thresholds
from posecheck.measures.quantities import QUANTITY

UPRIGHT = "upright_share"
"""Key of the one habit that is no measure of a rep."""

MEASURES = (
    "knee_bend_deg",
    "hip_drop",
    "hand_reach",
    "arrival_speed_mps",
    "braking_distance_m",
    "peak_braking_mps2",
    "speed_kept",
)
"""Keys of the measures that are followed."""


@dataclass(frozen=True)
class Habit:
    """What is followed.

    Attributes:
        key: of the quantity, or :data:`UPRIGHT`.
        label: a coach's words.
        si_unit: as quantities have it, "" without one.
        plotted: what its plots span, the same for every player.
        meaning: one clause.
        better: 1 when more is better, -1 when less is, 0 when neither is.
        good: where its limits put it on the good side, None without limits.
    """

    key: str
    label: str
    si_unit: str
    plotted: tuple[float, float]
    meaning: str
    better: int
    good: Good | None

    @property
    def unit(self) -> str:
        """Of its figures in exported tables."""
        return _UNIT.get(self.si_unit, self.si_unit)

    @property
    def is_share(self) -> bool:
        """True for the share of upright reps."""
        return self.key == UPRIGHT


_UNIT = {"°": "deg", "m/s²": "m/s2", "": "1"}
"""Units as the exported table writes them where pages write something else."""


def habits(limits: Thresholds) -> tuple[Habit, ...]:
    """All habits in the order pages show them, with what the limits say is better."""
    share = Habit(
        UPRIGHT,
        "Run out upright",
        "",
        (0.0, 1.0),
        "Share of reps flagged as run out upright, of those that the film shows one way or the "
        "other",
        -1,
        None,
    )
    return (share, *(_of_measure(key, limits) for key in MEASURES))


def _of_measure(key: str, limits: Thresholds) -> Habit:
    quantity, good = QUANTITY[key], limits.good(key)
    better = 0
    if good is not None:
        better = 1 if good.low is not None else -1
    return Habit(
        key, quantity.label, quantity.unit, quantity.plotted, quantity.meaning, better, good
    )
