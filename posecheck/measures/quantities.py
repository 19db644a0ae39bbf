"""Every quantity that is measured, and all that is known of it beside its value.

A new measure is an entry here, its error bar in ``intervals.toml`` and, when it is read from places
on the ground, its formula in ``of_run.py``. Record, pages, printed figures and the accuracy table
follow from the entry.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from posecheck.measures.tuning import LATER_S
from posecheck.reps.tuning import AFTER_ARRIVAL_S, BEFORE_ARRIVAL_S

DEFINITION = "definition"
COMMON_PRACTICE = "common practice, no source"

AT_ARRIVAL_S = (-BEFORE_ARRIVAL_S, AFTER_ARRIVAL_S)
"""First and last moment about arrival of the stretch over which a stance is read.

Source: definition
"""


class ReadFrom(StrEnum):
    """What a quantity is read from."""

    STANCE = "stance"
    """The defender's stance over a stretch of time about arrival."""
    GROUND = "ground"
    """Places of the players on the ground."""


@dataclass(frozen=True)
class Quantity:
    """What a measure is.

    Attributes:
        key: name in code, thresholds and record, with the unit as ending where it has one.
        label: a coach's words.
        unit: as printed ("°", "m/s", "m", "" for ratios).
        decimals: digits after the point.
        meaning: one clause for the page's glossary.
        source: where the formula comes from: a published source, ``DEFINITION`` or
            ``COMMON_PRACTICE``.
        read_from: what it is read from; gives the error bar its form.
        plausible: least and greatest value, in its unit, that a player can reach; a reading
            outside is a defect of measuring, and goes missing.
        plotted: what a strip on a page spans, the same in every rep so that strips compare by eye.
        sign: what a positive or a negative value means; empty for what cannot be negative.
        same_as: key of the quantity that is read in the same way at another time: from it come
            the field of the stance and the factors of its error bar. None for most.
        window_s: seconds about arrival over which a stance is read.
        each_frame: True when the rep over time holds it too, under the same name.
        column: place among the columns of the page's table of reps, None for no column.
        in_accuracy_table: True when it has a row there, which wants its truth in the folders of
            known truth.
    """

    key: str
    label: str
    unit: str
    decimals: int
    meaning: str
    source: str
    read_from: ReadFrom
    plausible: tuple[float, float]
    plotted: tuple[float, float]
    sign: str = ""
    same_as: str | None = None
    window_s: tuple[float, float] = AT_ARRIVAL_S
    each_frame: bool = False
    column: int | None = None
    in_accuracy_table: bool = True

    @property
    def signed(self) -> bool:
        """True when it may be negative; the others, and their intervals, end at 0."""
        return bool(self.sign)

    @property
    def sided(self) -> bool:
        """True when its sign says to which side of the line attacker to goal."""
        return "topside" in self.sign

    @property
    def base(self) -> str:
        """The key that field of the stance and error bar go by."""
        return self.same_as or self.key

    @property
    def explained(self) -> str:
        """A sentence for the glossary: what it is, and what its sign means."""
        return f"{self.meaning}; {self.sign}." if self.sign else f"{self.meaning}."


_ALL = (
    Quantity(
        key="knee_bend_deg",
        label="Knee bend",
        unit="°",
        decimals=0,
        meaning="Bend of the straighter leg around arrival; a straight leg is 0",
        source="neutral zero method, American Academy of Orthopaedic Surgeons, Joint Motion, 1965 "
        "(from memory); that the straighter leg counts, over this stretch of time, is a definition",
        read_from=ReadFrom.STANCE,
        plausible=(0, 160),
        plotted=(0, 100),
        each_frame=True,
        column=1,
    ),
    Quantity(
        key="late_knee_bend_deg",
        label="Knee bend later",
        unit="°",
        decimals=0,
        meaning="The same, half a second to a second after arrival: whether the stance came at all",
        source=DEFINITION,
        read_from=ReadFrom.STANCE,
        plausible=(0, 160),
        plotted=(0, 100),
        same_as="knee_bend_deg",
        window_s=LATER_S,
        in_accuracy_table=False,  # counted with the knee bends
    ),
    Quantity(
        key="trunk_lean_deg",
        label="Trunk lean",
        unit="°",
        decimals=0,
        meaning="Angle of hips-to-shoulders against the vertical around arrival",
        source=DEFINITION,
        read_from=ReadFrom.STANCE,
        plausible=(0, 120),
        plotted=(-10, 70),
        each_frame=True,
        column=3,
    ),
    Quantity(
        key="hip_drop",
        label="Hip drop",
        unit="",
        decimals=2,
        meaning="How much lower the hips are than when the same player stands, as a share",
        source=DEFINITION,
        read_from=ReadFrom.STANCE,
        plausible=(-0.3, 0.8),
        plotted=(-0.05, 0.4),
        sign="negative is higher",
        column=5,
    ),
    Quantity(
        key="hand_reach",
        label="Hands out",
        unit="",
        decimals=2,
        meaning="How far the wrists are ahead of the shoulders, in arm lengths",
        source=DEFINITION,
        read_from=ReadFrom.STANCE,
        plausible=(-1.2, 1.2),
        plotted=(-0.2, 1.0),
        sign="negative is behind them",
    ),
    Quantity(
        key="hand_height",
        label="Hand height",
        unit="",
        decimals=2,
        meaning="Where the wrists are: 0 at the waist, 1 at the shoulders",
        source=DEFINITION,
        read_from=ReadFrom.STANCE,
        plausible=(-2, 3),
        plotted=(-0.5, 1.5),
        sign="negative is below the waist",
    ),
    Quantity(
        key="base_width",
        label="Base",
        unit="",
        decimals=1,
        meaning="Distance between the ankles, in pelvis widths",
        source=DEFINITION,
        read_from=ReadFrom.STANCE,
        plausible=(0, 8),
        plotted=(0, 3.5),
    ),
    Quantity(
        key="closeout_speed_mps",
        label="Closeout speed",
        unit="m/s",
        decimals=1,
        meaning="Fastest moment of the run from start to arrival",
        source=DEFINITION,
        read_from=ReadFrom.GROUND,
        plausible=(0, 12),
        plotted=(0, 9),
    ),
    Quantity(
        key="arrival_speed_mps",
        label="Arrival speed",
        unit="m/s",
        decimals=1,
        meaning="Speed at the moment of arrival",
        source=DEFINITION,
        read_from=ReadFrom.GROUND,
        plausible=(0, 12),
        plotted=(0, 8),
        column=2,
    ),
    Quantity(
        key="braking_distance_m",
        label="Braking distance",
        unit="m",
        decimals=1,
        meaning="Ground covered from the fastest moment to arrival",
        source=DEFINITION,
        read_from=ReadFrom.GROUND,
        plausible=(0, 30),
        plotted=(0, 6),
    ),
    Quantity(
        key="speed_kept",
        label="Speed kept",
        unit="",
        decimals=2,
        meaning="Speed at arrival as a share of the fastest moment: 1 has not slowed down",
        source=DEFINITION,
        read_from=ReadFrom.GROUND,
        plausible=(0, 1),
        plotted=(0, 1),
        in_accuracy_table=False,  # both of its speeds are in it
    ),
    Quantity(
        key="peak_braking_mps2",
        label="Hardest braking",
        unit="m/s²",
        decimals=1,
        meaning="Strongest slowing between the fastest moment and one second after arrival",
        source=DEFINITION,
        read_from=ReadFrom.GROUND,
        plausible=(0, 30),
        plotted=(0, 10),
    ),
    Quantity(
        key="time_to_arrival_s",
        label="Time to arrive",
        unit="s",
        decimals=2,
        meaning="From leaving the inside to arrival",
        source=DEFINITION,
        read_from=ReadFrom.GROUND,
        plausible=(0, 30),
        plotted=(0, 5),
        in_accuracy_table=False,
    ),
    Quantity(
        key="overrun_m",
        label="Overrun",
        unit="m",
        decimals=1,
        meaning="How far past the attacker the run carried within a second of arrival",
        source=DEFINITION,
        read_from=ReadFrom.GROUND,
        plausible=(0, 15),
        plotted=(-0.5, 4),
        column=4,
    ),
    Quantity(
        key="approach_offset_m",
        label="Approach side",
        unit="m",
        decimals=1,
        meaning="Distance at arrival from the line attacker to goal",
        source=COMMON_PRACTICE,
        read_from=ReadFrom.GROUND,
        plausible=(-10, 10),
        plotted=(-3, 3),
        sign="positive is topside",
    ),
    Quantity(
        key="bow_m",
        label="Bow of the path",
        unit="m",
        decimals=1,
        meaning="Greatest distance of the path from the straight line",
        source=DEFINITION,
        read_from=ReadFrom.GROUND,
        plausible=(-10, 10),
        plotted=(-3, 3),
        sign="positive bows topside",
    ),
    Quantity(
        key="heading_deg",
        label="Heading at arrival",
        unit="°",
        decimals=0,
        meaning="Direction of the last steps against the line goal to attacker: 0 is straight out "
        "at him",
        source=COMMON_PRACTICE,
        read_from=ReadFrom.GROUND,
        plausible=(-180, 180),
        plotted=(-90, 90),
        sign="positive crosses topside",
        in_accuracy_table=False,
    ),
    Quantity(
        key="goal_side_m",
        label="Goal side",
        unit="m",
        decimals=1,
        meaning="How much nearer the goal he is than the attacker, at the worst moment within a "
        "second of arrival",
        source=COMMON_PRACTICE,
        read_from=ReadFrom.GROUND,
        plausible=(-15, 15),
        plotted=(-4, 4),
        sign="negative is beaten",
        in_accuracy_table=False,
    ),
    Quantity(
        key="attacker_went_m",
        label="Attacker went",
        unit="m",
        decimals=1,
        meaning="How far the attacker moved across his line to the goal within a second of arrival",
        source=COMMON_PRACTICE,
        read_from=ReadFrom.GROUND,
        plausible=(-12, 12),
        plotted=(-3, 3),
        sign="positive is topside, negative down the alley",
        in_accuracy_table=False,
    ),
)


QUANTITY: dict[str, Quantity] = {quantity.key: quantity for quantity in _ALL}
"""All quantities by key."""

QUANTITIES = QUANTITY.values()
"""The same in the order pages show them."""
