"""Intervals of the stance: factors by measure, side seen and legs, from windows of clips.

How far each reading may be off comes from the stance net, picture by picture; how much of that
remains over a window is found here, by two factors for each measure, the side a player is seen
from, and whether his knees are read bent.

The bend itself has one pair of factors, found on closeouts alone: it is of reps that it is judged.
Walking, running and jumping err further; with them in the fit, intervals of closeouts held in 93 to
95 of 100 readings and were an eighth wider than they need be. Nor do factors of each side seen,
found on some 40 reps, hold more evenly on bodies left out than one pair found on twice as many.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from models.data.windows import Window
from models.fit.conformal import two_sided
from posecheck.body.stance_track import STANCE
from posecheck.filming.conditions import GROUPS, Group

Factors = tuple[float, float]
"""For the distances below and above."""


OF_CLOSEOUTS = ("knee_bend_deg",)
"""Measures with one pair of factors, found on closeouts alone."""

CLOSEOUTS = "spread"
"""The collection of film in which defenders close out."""


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


def stance_factors(windows: Sequence[Window], cover: float) -> dict[str, dict[Group, Factors]]:
    """Factors by measure and group.

    Raises:
        ValueError: no window of a group shows a measure.
    """
    return {
        key: factors_by_group([each for each in windows if each.measure == key], cover)
        for key in STANCE
    }


def factors_by_group(windows: Sequence[Window], cover: float) -> dict[Group, Factors]:
    """Factors of one measure by group.

    Raises:
        ValueError: no window of a group shows the measure.
    """
    if windows and windows[0].measure in OF_CLOSEOUTS:
        return dict.fromkeys(GROUPS, of_closeouts(windows, cover))
    factors: dict[Group, Factors] = {}
    for group in GROUPS:
        found = np.array([shares(each) for each in windows if each.group == group])
        if not len(found):
            raise ValueError(f"no window is {group.replace('_', ', ')}: read more clips")
        below, above = two_sided(found, cover)
        factors[group] = float(below), float(above)
    return factors


def of_closeouts(windows: Sequence[Window], cover: float) -> Factors:
    """One pair of factors from the windows of closeouts.

    Raises:
        ValueError: none of the windows is of a closeout.
    """
    own = [each for each in windows if each.collection == CLOSEOUTS]
    if not own:
        raise ValueError("no window is of a closeout: read more clips")
    below, above = two_sided(np.array([shares(each) for each in own]), cover)
    return float(below), float(above)


def left_out_inside(windows: Sequence[Window], cover: float) -> list[bool]:
    """Whether each truth lies inside the interval fitted on the windows of all other bodies."""
    factors = {
        who: factors_by_group([each for each in windows if each.who != who], cover)
        for who in {each.who for each in windows}
    }
    return [inside(each, factors[each.who][each.group]) for each in windows]
