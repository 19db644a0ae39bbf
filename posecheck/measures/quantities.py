"""Every quantity that is measured."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Quantity:
    """What a measure is: its name in the record, its name on a page, its unit.

    Attributes:
        key: name in code, thresholds and record, with the unit as ending where it has one.
        label: a coach's words.
        unit: as printed ("°", "m/s", "m", "" for ratios).
        decimals: digits after the point on pages.
        meaning: one sentence for the page's glossary.
    """

    key: str
    label: str
    unit: str
    decimals: int
    meaning: str


QUANTITIES: tuple[Quantity, ...] = (
    Quantity(
        "knee_bend_deg",
        "Knee bend",
        "°",
        0,
        "Bend of the straighter leg around arrival; a straight leg is 0.",
    ),
    Quantity(
        "late_knee_bend_deg",
        "Knee bend later",
        "°",
        0,
        "The same, half a second to a second after arrival: did the stance come at all?",
    ),
    Quantity(
        "trunk_lean_deg",
        "Trunk lean",
        "°",
        0,
        "Angle of hips-to-shoulders against the vertical around arrival.",
    ),
    Quantity(
        "hip_drop",
        "Hip drop",
        "",
        2,
        "How much lower the hips are than when the same player stands, as a share.",
    ),
    Quantity(
        "hand_reach",
        "Hands out",
        "",
        2,
        "How far the wrists are ahead of the shoulders, in arm lengths.",
    ),
    Quantity(
        "hand_height",
        "Hand height",
        "",
        2,
        "Where the wrists are: 0 at the waist, 1 at the shoulders.",
    ),
    Quantity("base_width", "Base", "", 1, "Distance between the ankles, in pelvis widths."),
    Quantity(
        "closeout_speed_mps",
        "Closeout speed",
        "m/s",
        1,
        "Fastest moment of the run from start to arrival.",
    ),
    Quantity("arrival_speed_mps", "Arrival speed", "m/s", 1, "Speed at the moment of arrival."),
    Quantity(
        "braking_distance_m",
        "Braking distance",
        "m",
        1,
        "Ground covered from the fastest moment to arrival.",
    ),
    Quantity(
        "peak_braking_mps2",
        "Hardest braking",
        "m/s²",
        1,
        "Strongest slowing between the fastest moment and one second after arrival.",
    ),
    Quantity("time_to_arrival_s", "Time to arrive", "s", 2, "From leaving the inside to arrival."),
    Quantity(
        "overrun_m",
        "Overrun",
        "m",
        1,
        "How far past the attacker the run carried within a second of arrival.",
    ),
    Quantity(
        "approach_offset_m",
        "Approach side",
        "m",
        1,
        "Distance at arrival from the line attacker to goal; positive is topside.",
    ),
    Quantity(
        "bow_m",
        "Bow of the path",
        "m",
        1,
        "Greatest distance of the path from the straight line; positive bows topside.",
    ),
    Quantity(
        "heading_deg",
        "Heading at arrival",
        "°",
        0,
        "Way of the last steps against the line goal to attacker: 0 is straight out at him, "
        "positive crosses topside.",
    ),
    Quantity(
        "goal_side_m",
        "Goal side",
        "m",
        1,
        "How much nearer the goal he is than the attacker, at the worst moment within a second of "
        "arrival; negative is beaten.",
    ),
    Quantity(
        "attacker_went_m",
        "Attacker went",
        "m",
        1,
        "How far the attacker moved across his line to the goal within a second of arrival; "
        "positive is topside, negative down the alley.",
    ),
)
"""All quantities, in the order pages show them."""


QUANTITY = {quantity.key: quantity for quantity in QUANTITIES}
"""The same by key."""
