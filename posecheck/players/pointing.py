"""Which of the players followed is the one that the coach has pointed out."""

from __future__ import annotations

import numpy as np

from posecheck.maths.timeline import nearest_frame
from posecheck.players.track import Followed, PlayerTrack
from posecheck.players.tuning import POINTED_MARGIN
from posecheck.practice.notes import PointedOut


def player_at(followed: Followed, at: PointedOut) -> PlayerTrack | None:
    """The player whose box holds a place in the picture, None when nobody's does.

    Of several it is the one to whose middle the place is nearest, in halves of his box.

    Args:
        followed: everybody in the clip.
        at: the place, in the frame nearest to its moment.
    """
    frame = nearest_frame(followed.t_s, at.t_s)
    best, least = None, 1.0 + POINTED_MARGIN
    for track in followed.tracks:
        left, top, right, bottom = track.box_xyxy[frame]
        across = abs(at.x_px - (left + right) / 2) / ((right - left) / 2)
        along = abs(at.y_px - (top + bottom) / 2) / ((bottom - top) / 2)
        off = max(across, along)
        if np.isfinite(off) and off <= least:
            best, least = track, off
    return best
