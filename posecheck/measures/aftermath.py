"""What comes of an approach in the second after arrival: who is nearer the goal, who went where.

Ground axes and sides as in :mod:`posecheck.measures.approach`. Pure functions; a moment at which
one of the two was not seen (NaN) does not count. Common practice, no source: a defender is beaten
when the attacker's hips are nearer the goal than his own.
"""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.measures.approach import topside
from posecheck.measures.closeout import at_moment
from posecheck.practice.layout import Side
from posecheck.reps.tuning import AFTERMATH_S


def goal_side(defender_xy_m: FloatArray, attacker_xy_m: FloatArray) -> FloatArray:
    """``(n,)`` how much nearer the middle of the goal the defender is than the attacker, metres.

    Positive while he keeps him in front, negative once the attacker is goal-side.

    Args:
        defender_xy_m, attacker_xy_m: ``(n, 2)``.
    """
    return np.asarray(np.linalg.norm(attacker_xy_m, axis=1) - np.linalg.norm(defender_xy_m, axis=1))


def worst_moment(
    t_s: FloatArray, defender_xy_m: FloatArray, attacker_xy_m: FloatArray, arrival_s: float
) -> int | None:
    """The frame of the second after arrival in which :func:`goal_side` is least.

    The least and not the last: a defender who is beaten and recovers was beaten.

    Args:
        t_s: ``(n,)``.
        defender_xy_m, attacker_xy_m: ``(n, 2)``.
        arrival_s: moment of arrival.

    Returns:
        None when both were never seen together in that second.
    """
    margin = goal_side(defender_xy_m, attacker_xy_m)
    margin = np.where(_after(t_s, arrival_s), margin, np.nan)
    return int(np.nanargmin(margin)) if np.isfinite(margin).any() else None


def went_across(t_s: FloatArray, attacker_xy_m: FloatArray, arrival_s: float, side: Side) -> float:
    """How far the attacker moves across his line to the goal in the second after arrival, metres.

    The line is the one he stands on at arrival; positive is topside, negative down the alley, and
    straight at the goal is 0.

    Args:
        t_s: ``(n,)``.
        attacker_xy_m: ``(n, 2)``.
        arrival_s: moment of arrival.
        side: see :func:`posecheck.measures.approach.topside`.

    Returns:
        NaN when he was not seen at both ends of that second.
    """
    stood, ended = (
        at_moment(t_s, attacker_xy_m, moment) for moment in (arrival_s, arrival_s + AFTERMATH_S)
    )
    return float((ended - stood) @ topside(stood, side))


def unseen_s(
    t_s: FloatArray, defender_xy_m: FloatArray, attacker_xy_m: FloatArray, arrival_s: float
) -> float:
    """How much of the second after arrival remains when both were last seen together, seconds.

    Args and shapes as :func:`worst_moment`.
    """
    together = _after(t_s, arrival_s) & np.isfinite(goal_side(defender_xy_m, attacker_xy_m))
    last_s = float(t_s[together][-1]) if together.any() else arrival_s
    return arrival_s + AFTERMATH_S - last_s


def _after(t_s: FloatArray, arrival_s: float) -> BoolArray:
    slack = 1e-9  # frame times are sums of fractions
    return np.asarray((t_s >= arrival_s) & (t_s <= arrival_s + AFTERMATH_S + slack))
