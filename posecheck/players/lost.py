"""Runners who are not seen for a while: behind the one they run at, or never."""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray, IntArray
from posecheck.players.neighbours import near
from posecheck.players.places import Place
from posecheck.players.track import Followed, PlayerTrack
from posecheck.players.tuning import (
    MAX_HIDDEN_S,
    MAX_UNSEEN_S,
    MIN_CLOSING_HEIGHTS,
    MIN_SEEN_SHARE,
    SETTLED_S,
)


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


def is_seen_arriving(
    runner: PlayerTrack, place: Place, leaves: int, arrival: int, t_s: FloatArray
) -> bool:
    """Whether a run at somebody is read from the picture: on its way, or where it ends.

    Nobody is found where a box has drifted to. So who is hardly read on his way, but soon again,
    and stays in view once he is there, has got there; only his size on the way says nothing, so he
    must have come across the picture.

    Args:
        runner: who may run.
        place: where he is.
        leaves, arrival: first and last frame of his run.
        t_s: ``(n,)`` seconds.
    """
    if is_seen(runner, leaves, arrival):
        return True
    settled = int(np.searchsorted(t_s, t_s[arrival] + SETTLED_S))
    seen = runner.seen[leaves : settled + 1]
    read_s = t_s[leaves + np.flatnonzero(seen)]
    if np.mean(seen) < MIN_SEEN_SHARE or np.diff(read_s, prepend=t_s[leaves]).max() > MAX_UNSEEN_S:
        return False
    height = (place.height[leaves] + place.height[arrival]) / 2
    across = np.linalg.norm(place.foot[arrival] - place.foot[leaves]) / height
    return bool(across >= MIN_CLOSING_HEIGHTS)


def _frames(track: PlayerTrack) -> IntArray:
    return np.flatnonzero(np.isfinite(track.box_xyxy).all(axis=1))
