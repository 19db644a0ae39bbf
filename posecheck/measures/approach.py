"""Which side a defender comes from, and how far past he runs: geometry on the field.

Ground axes: origin at the middle of the goal line, x to the right looking out from the goal,
y upfield. Pure functions; a position that was not seen (NaN) gives NaN.

**Sides.** Seen from the attacker the line to the goal parts the field in two. *Topside* is the
side of the middle of the field: for an attacker left of the goal's axis the side towards +x, for
one right of it towards -x. An attacker in the middle, at the top, stands on that axis and has an
alley on both sides; there positive means the defender's right looking out (+x), and the plan and
the attacker's strong hand decide which side was wanted.
"""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.tuning import ROUNDING_S
from posecheck.measures.closeout import at_moment
from posecheck.measures.tuning import HEADING_OVER_M
from posecheck.practice.layout import Side
from posecheck.reps.tuning import AFTERMATH_S


def topside(attacker_xy_m: FloatArray, side: Side) -> FloatArray:
    """Unit vector ``(2,)`` across the line attacker to goal, pointing topside.

    Args:
        attacker_xy_m: ``(2,)``.
        side: of the field that he attacks from; from the middle it points to +x.
    """
    to_goal = -attacker_xy_m / np.linalg.norm(attacker_xy_m)
    quarter_turn = np.array([-to_goal[1], to_goal[0]])  # anticlockwise: +x from the middle
    return -quarter_turn if side is Side.RIGHT else quarter_turn


def approach_offset(defender_xy_m: FloatArray, attacker_xy_m: FloatArray, side: Side) -> float:
    """Signed distance of the defender from the line attacker to goal, metres, positive topside.

    Args:
        defender_xy_m, attacker_xy_m: ``(2,)`` at arrival.
        side: see :func:`topside`.
    """
    return float((defender_xy_m - attacker_xy_m) @ topside(attacker_xy_m, side))


def bow(path_xy_m: FloatArray, attacker_xy_m: FloatArray, side: Side) -> float:
    """Signed greatest distance of a path from its chord, metres, positive bowing topside.

    Args:
        path_xy_m: ``(n, 2)`` from start to arrival; frames not seen are left out.
        attacker_xy_m: ``(2,)``.
        side: see :func:`topside`.

    Returns:
        NaN for fewer than two seen positions, or when path and chord have no extent.
    """
    path = path_xy_m[np.isfinite(path_xy_m).all(axis=1)]
    if len(path) < 2:
        return float("nan")
    chord = path[-1] - path[0]
    length = np.linalg.norm(chord)
    if not length > 0:
        return float("nan")
    across = np.array([-chord[1], chord[0]]) / length
    if across @ topside(attacker_xy_m, side) < 0:
        across = -across
    distances = (path - path[0]) @ across
    return float(distances[np.argmax(np.abs(distances))])


def heading(
    t_s: FloatArray,
    defender_xy_m: FloatArray,
    attacker_xy_m: FloatArray,
    start_s: float,
    arrival_s: float,
    side: Side,
) -> float:
    """The direction of the run at arrival, radians against the line goal to attacker.

    0 runs up that line, straight out at the attacker; pi/2 runs square across it topside, -pi/2
    square across it towards the alley. Beyond 45 degrees to either side more of the run goes across
    the attacker than at him: *too flat*, beaten behind the run.
    Definition from common practice, no source.

    Args:
        t_s: ``(n,)``.
        defender_xy_m: ``(n, 2)``.
        attacker_xy_m: ``(2,)`` at arrival.
        start_s, arrival_s: moments of the rep.
        side: see :func:`topside`.

    Returns:
        Between -pi and pi, read over the last ``HEADING_OVER_M`` before arrival; NaN when arrival
        was not seen, or nothing that far before it.
    """
    gone = at_moment(t_s, defender_xy_m, arrival_s) - defender_xy_m
    run = (t_s >= start_s) & (t_s <= arrival_s)
    before = np.flatnonzero(run & (np.linalg.norm(gone, axis=1) >= HEADING_OVER_M))
    if not len(before):
        return float("nan")
    last_steps = gone[before[-1]]
    out = attacker_xy_m / np.linalg.norm(attacker_xy_m)
    return float(np.arctan2(last_steps @ topside(attacker_xy_m, side), last_steps @ out))


def overrun(
    t_s: FloatArray,
    defender_xy_m: FloatArray,
    attacker_xy_m: FloatArray,
    start_s: float,
    arrival_s: float,
) -> float:
    """How far past the attacker the run carries within a second of arrival, metres, at least 0.

    Along the run's own direction, from its start to arrival (the last steps of a run that breaks
    down well are too short to have a sure direction), and from where the attacker stood at
    arrival: an attacker who dodges by does not make the defender run past.

    Args:
        t_s: ``(n,)``.
        defender_xy_m: ``(n, 2)``.
        attacker_xy_m: ``(2,)`` at arrival.
        start_s, arrival_s: moments of the rep.

    Returns:
        NaN when start or arrival was not seen, or nothing after.
    """
    past = _past(t_s, defender_xy_m, attacker_xy_m, start_s, arrival_s)
    return max(0.0, float(np.nanmax(past))) if np.isfinite(past).any() else float("nan")


def farthest_past(
    t_s: FloatArray,
    defender_xy_m: FloatArray,
    attacker_xy_m: FloatArray,
    start_s: float,
    arrival_s: float,
) -> int | None:
    """The frame in which :func:`overrun` is read, None when there is none; args as there."""
    past = _past(t_s, defender_xy_m, attacker_xy_m, start_s, arrival_s)
    return int(np.nanargmax(past)) if np.isfinite(past).any() else None


def _past(
    t_s: FloatArray,
    defender_xy_m: FloatArray,
    attacker_xy_m: FloatArray,
    start_s: float,
    arrival_s: float,
) -> FloatArray:
    """``(n,)`` metres past the attacker along the run, NaN outside the second after arrival."""
    run = at_moment(t_s, defender_xy_m, arrival_s) - at_moment(t_s, defender_xy_m, start_s)
    length = np.linalg.norm(run)
    after = (t_s >= arrival_s) & (t_s <= arrival_s + AFTERMATH_S + ROUNDING_S)
    past = (defender_xy_m - attacker_xy_m) @ (run / length if length > 0 else run * np.nan)
    return np.where(after, past, np.nan)
