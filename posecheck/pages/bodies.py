"""The two players' landmarks in a frame of the film."""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import nearest_frame
from posecheck.measures.result import Series


def bodies_at(series: Series, t_s: float) -> tuple[FloatArray, FloatArray]:
    """Defender's and attacker's landmarks ``(33, 2)`` in the frame of a time.

    NaN where they were not measured: before the rep, after it, and where they were not seen.
    """
    unseen = np.full((33, 2), np.nan)
    if not len(series.t_s):
        return unseen, unseen
    near = nearest_frame(series.t_s, t_s)
    spacing_s = float(np.median(np.diff(series.t_s))) if len(series.t_s) > 1 else 1 / 30
    # Half a frame off is the same frame.
    if abs(series.t_s[near] - t_s) > 0.51 * spacing_s:
        return unseen, unseen
    return series.defender_xy_px[near], series.attacker_xy_px[near]
