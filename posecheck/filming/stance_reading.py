"""What is read of a stance over a stretch of time."""

from __future__ import annotations

import numpy as np

from posecheck.body import formulas as stance
from posecheck.body.stance_track import StanceTrack
from posecheck.filming.conditions import Conditions, StanceReading
from posecheck.filming.look import NO_LOOKS, Looks
from posecheck.maths.arrays import FloatArray


def stance_reading(
    key: str, track: StanceTrack, window_s: tuple[float, float], looks: Looks = NO_LOOKS
) -> StanceReading:
    """What is read of one measure of the stance over a stretch of time.

    Args:
        key: one of ``STANCE``.
        track: the player's stance.
        window_s: first and last moment.
        looks: how he looks in the pictures.
    """
    values = getattr(track, key)
    window = stance.in_window(track.t_s, *window_s)
    seen = window & np.isfinite(values)
    # Counted against the window's whole length, so that a film that ends early shows.
    step_s = float(np.median(np.diff(track.t_s)))
    conditions = Conditions(
        view_deg=_median(track.view_deg[seen]),
        height_px=_median(track.height_px[seen]),
        score=_median(track.score[seen]),
        seen=int(seen.sum()),
        of=max(round((window_s[1] - window_s[0]) / step_s) + 1, int(window.sum())),
        look=looks.between(*window_s),
    )
    return StanceReading(
        value=_median(values[seen]),
        below=_median(track.below[key][seen]),
        above=_median(track.above[key][seen]),
        conditions=conditions,
    )


def _median(values: FloatArray) -> float:
    seen = values[np.isfinite(values)]
    return float(np.median(seen)) if len(seen) else float("nan")
