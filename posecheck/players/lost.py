"""Runners who are not seen for a while: behind the one they run at, or never."""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import IntArray
from posecheck.players.neighbours import near
from posecheck.players.track import Followed, PlayerTrack
from posecheck.players.tuning import MAX_HIDDEN_S, MAX_UNSEEN_S, MIN_SEEN_SHARE


def lost_behind(runner: PlayerTrack, other: PlayerTrack, followed: Followed) -> int | None:
    """The frame in which a runner is last seen before he stays out of sight behind another.

    A runner who passes far behind another player comes out on the other side. If he does not, he
    has stopped there, however far behind his size makes him seem: half hidden, he looks smaller
    than he is.

    Args:
        runner: who is lost.
        other: who may hide him.
        followed: everybody in the clip.

    Returns:
        None when he is not lost, not near the other in the picture, or in front of him; when the
        film ends too soon to tell; and when somebody comes into view elsewhere soon after.
    """
    t_s = followed.t_s
    last = int(_frames(runner)[-1])
    until = int(np.searchsorted(t_s, t_s[last] + MAX_UNSEEN_S))
    if until >= len(t_s) or not np.isfinite(other.box_xyxy[[last, until]]).all():
        return None
    here, there = runner.box_xyxy[last], other.box_xyxy[last]
    if not near(here, there) or here[3] > there[3]:
        return None
    for each in followed.tracks:
        first = int(_frames(each)[0])
        soon = 0 < t_s[first] - t_s[last] <= MAX_HIDDEN_S
        if soon and not near(each.box_xyxy[first], other.box_xyxy[first]):
            return None
    return last


def is_seen(runner: PlayerTrack, leaves: int, arrival: int) -> bool:
    """Whether a run between two frames is read from the picture.

    A box in which nobody is found drifts and grows, as if somebody ran.
    """
    return bool(np.mean(runner.seen[leaves : arrival + 1]) >= MIN_SEEN_SHARE)


def _frames(track: PlayerTrack) -> IntArray:
    return np.flatnonzero(np.isfinite(track.box_xyxy).all(axis=1))
