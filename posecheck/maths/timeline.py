"""Values over time: windows, the nearest frame, gaps."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from posecheck.maths.arrays import FloatArray


def bridged(t_s: FloatArray, xy_m: FloatArray, max_gap_s: float) -> FloatArray:
    """Positions with short gaps filled by a straight line; long gaps and ends stay NaN.

    Args:
        t_s: ``(n,)`` seconds.
        xy_m: ``(n, 2)``, NaN where not seen.
        max_gap_s: longest gap that is filled, from sighting to sighting.
    """
    seen = np.flatnonzero(np.isfinite(xy_m).all(axis=1))
    filled = xy_m.copy()
    for before, after in pairwise(seen):
        if after > before + 1 and t_s[after] - t_s[before] <= max_gap_s:
            gap = slice(before + 1, after)
            share = ((t_s[gap] - t_s[before]) / (t_s[after] - t_s[before]))[:, None]
            filled[gap] = (1 - share) * xy_m[before] + share * xy_m[after]
    return filled
