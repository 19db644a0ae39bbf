"""Where the defender's body is drawn: on landmarks that nothing speaks against."""

from __future__ import annotations

import numpy as np

from posecheck.filming.tuning import DRAWN_APART
from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.pose.track import PoseTrack


def drawn_xy_px(defender: PoseTrack, close: PoseTrack | None) -> FloatArray:
    """``(n_frames, 33, 2)`` the landmarks to draw, NaN where not seen or not believed.

    Around the arrival two models have read him. There the heavy one's landmarks are drawn, which
    lie nearer to the body, and none on which the two contradict each other.

    Args:
        defender: his landmarks through the clip, smoothed.
        close: the heavy model's around the arrival, smoothed, NaN elsewhere; None when it did not
            read him.
    """
    usual = defender.believed_xy_px
    if close is None:
        return usual
    again = close.believed_xy_px
    read: BoolArray = np.logical_and.reduce(np.isfinite(close.xy_px), axis=2)
    apart_px = np.linalg.norm(again - usual, axis=2)
    y_px = close.xy_px[..., 1]
    lowest, highest = np.where(read, y_px, -np.inf), np.where(read, y_px, np.inf)
    tall_px = lowest.max(axis=1) - highest.min(axis=1)
    # Where one of the two is not believed the comparison is False, and nothing is drawn.
    agreed = apart_px <= DRAWN_APART * tall_px[:, None]
    return np.where(read[..., None], np.where(agreed[..., None], again, np.nan), usual)
