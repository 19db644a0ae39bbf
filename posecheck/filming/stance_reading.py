"""Read one measure of the stance over a window of time."""

from __future__ import annotations

import numpy as np

from posecheck.body.stance_track import StanceTrack
from posecheck.filming.conditions import Conditions, StanceReading
from posecheck.filming.look import NO_LOOKS, Looks
from posecheck.filming.tuning import BENT_DEG
from posecheck.maths.arrays import finite_median
from posecheck.maths.timeline import in_window


def stance_reading(
    key: str, track: StanceTrack, window_s: tuple[float, float], looks: Looks = NO_LOOKS
) -> StanceReading:
    """Read one measure of the stance over a window of time.

    Args:
        key: one of ``STANCE``.
        track: the player's stance.
        window_s: first and last moment.
        looks: sharpness and light of the player in the pictures around.
    """
    values = getattr(track, key)
    window = in_window(track.t_s, *window_s)
    seen = window & np.isfinite(values)
    # Relative to the window's whole length, so that a film that ends early counts as not seen.
    step_s = float(np.median(np.diff(track.t_s)))
    conditions = Conditions(
        view_deg=finite_median(track.view_deg[seen]),
        height_px=finite_median(track.height_px[seen]),
        score=finite_median(track.score[seen]),
        seen=int(seen.sum()),
        of=max(round((window_s[1] - window_s[0]) / step_s) + 1, int(window.sum())),
        look=looks.between(*window_s),
        bent=finite_median(track.knee_bend_deg[seen]) >= BENT_DEG,
    )
    return StanceReading(
        value=finite_median(values[seen]),
        below=finite_median(track.below[key][seen]),
        above=finite_median(track.above[key][seen]),
        conditions=conditions,
        apart=finite_median(track.apart[key][seen]) if key in track.apart else float("nan"),
    )
