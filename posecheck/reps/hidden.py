"""What is known of two players while one of them is hidden: a standing one is where he was, and one
who was lost at a run is expected to go on as he was last seen going."""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import bridged, stretches
from posecheck.reps.rep import Rep
from posecheck.reps.tuning import (
    AFTERMATH_S,
    EXPECTED_OFF_S,
    EXPECTED_WITHIN_S,
    MAX_GAP_S,
    RUN_MPS,
    STOOD_M,
    STOOD_S,
)


def standing_place(t_s: FloatArray, xy_m: FloatArray) -> FloatArray:
    """Positions of one who waits, with gaps filled by a straight line; ends stay NaN.

    A short gap is filled whatever he does, a longer one when he is seen again where he was: he
    stood there, behind the one who came to him, say.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        xy_m: ``(n, 2)``, NaN where not seen.
    """
    filled, longer = bridged(t_s, xy_m, MAX_GAP_S), bridged(t_s, xy_m, STOOD_S)
    only_longer = np.asarray(np.isfinite(longer).all(axis=1) & np.isnan(filled).any(axis=1))
    for gap in stretches(t_s, only_longer):
        if np.linalg.norm(xy_m[gap[-1] + 1] - xy_m[gap[0] - 1]) <= STOOD_M:
            filled[gap] = longer[gap]
    return filled


def lost_after(t_s: FloatArray, last: int) -> bool:
    """Whether one who is seen at the moments ``t_s`` is lost to sight after a frame of them."""
    return bool(last + 1 == len(t_s) or t_s[last + 1] - t_s[last] > MAX_GAP_S)


def expected_arrival(
    t_s: FloatArray,
    xy_m: FloatArray,
    velocity_mps: FloatArray,
    there_m: FloatArray,
    last: int,
    reach_m: float,
) -> float | None:
    """When one who is lost at a run would be within reach had he gone on as fast; seconds.

    Args:
        t_s: ``(n,)`` seconds, of the frames in which he is seen.
        xy_m, velocity_mps: ``(n, 2)`` his.
        there_m: ``(n, 2)`` whom he runs at, NaN where not seen.
        last: frame of the run's end.
        reach_m: ground distance that counts as arrival.

    Returns:
        None when he is not lost there, or does not run at anybody, when it would be too long
        after, and when he is seen again before and not there, or after and no nearer.
    """
    if not lost_after(t_s, last):
        return None
    seen = np.flatnonzero(np.isfinite(there_m).all(axis=1) & (t_s <= t_s[last]))
    if not len(seen) or t_s[last] - t_s[seen[-1]] > MAX_GAP_S:
        return None
    to_go_m = there_m[seen[-1]] - xy_m[last]
    left_m = float(np.linalg.norm(to_go_m))
    speed_mps = float(np.linalg.norm(velocity_mps[last]))
    closing_mps = float(velocity_mps[last] @ to_go_m) / left_m
    if left_m <= reach_m or speed_mps < RUN_MPS or closing_mps <= 0:
        return None
    if (left_m - reach_m) / closing_mps > EXPECTED_WITHIN_S:
        return None
    # Half hidden, he shows better how fast he is than where he is heading, and he comes to him.
    expected_s = float(t_s[last]) + (left_m - reach_m) / speed_mps
    after = last + 1
    if after < len(t_s) and np.isfinite(there_m[after]).all():
        apart_m = float(np.linalg.norm(there_m[after] - xy_m[after]))
        if t_s[after] < expected_s and apart_m > reach_m:
            return None
        if t_s[after] <= expected_s + AFTERMATH_S and apart_m >= left_m:
            return None
    return expected_s


def said_of_expected(rep: Rep) -> tuple[str, ...]:
    """For the page, a sentence on an arrival that is expected only."""
    if rep.expected_s is None:
        return ()
    return (
        "He is lost to sight before he arrives. Going on as he was last seen he would arrive at "
        f"about {rep.expected_s:.1f} s, give or take {EXPECTED_OFF_S:.1f} s. Nothing is measured "
        "at that moment.",
    )
