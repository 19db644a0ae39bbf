"""Intervals of the stance: factors by measure and side seen, from windows of clips.

How far each reading may be off comes from the stance net, picture by picture; how much of that
remains over a window is found here, by two factors for each measure and side he is seen from.

Windows with bent knees and others are fitted apart, and the wider counts. Whoever runs upright in
this film runs like all the others, with his stick held alike, and some of it is read closer than of
real runners.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from models.data.windows import Window
from models.fit.conformal import two_sided
from posecheck.body.stance_track import STANCE
from posecheck.filming.conditions import SIDES, Side
from posecheck.maths.arrays import FloatArray

Factors = tuple[float, float]
"""For the distances below and above."""


def shares(window: Window) -> Factors:
    """The error in units of the distances below and above, 0 on the side where it is not."""
    off = window.value - window.truth
    return max(off, 0.0) / window.below, max(-off, 0.0) / window.above


def inside(window: Window, factors: Factors) -> bool:
    """Whether the truth lies in the interval with these factors."""
    return all(share <= factor for share, factor in zip(shares(window), factors, strict=True))


def half_width(window: Window, factors: Factors) -> float:
    """Half of the interval with these factors."""
    return (factors[0] * window.below + factors[1] * window.above) / 2


def stance_factors(windows: Sequence[Window], cover: float) -> dict[str, dict[Side, Factors]]:
    """Factors by measure and side seen.

    Raises:
        ValueError: no window shows a measure from a side.
    """
    return {
        key: factors_by_side([each for each in windows if each.measure == key], cover)
        for key in STANCE
    }


def factors_by_side(windows: Sequence[Window], cover: float) -> dict[Side, Factors]:
    """Factors of one measure by side seen."""
    factors: dict[Side, Factors] = {}
    for side in SIDES:
        groups = [
            np.array([shares(each) for each in windows if (each.side, each.bent) == (side, bent)])
            for bent in (True, False)
        ]
        found: list[FloatArray] = [two_sided(group, cover) for group in groups if len(group)]
        if not found:
            raise ValueError(f"no window is seen from the {side}: read more clips")
        below, above = np.max(found, axis=0)
        factors[side] = float(below), float(above)
    return factors


def left_out_inside(windows: Sequence[Window], cover: float) -> list[bool]:
    """Whether each truth lies inside the interval fitted on the windows of all other bodies."""
    factors = {
        body: factors_by_side([each for each in windows if each.body != body], cover)
        for body in {each.body for each in windows}
    }
    return [inside(each, factors[each.body][each.side]) for each in windows]
