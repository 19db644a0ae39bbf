"""One person who was followed twice: lost for a while, and begun again as somebody new."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from posecheck.maths.arrays import FloatArray, IntArray
from posecheck.maths.boxes import covered_share, overlap
from posecheck.players.track import PlayerTrack
from posecheck.players.tuning import MIN_TIMES_FOUND, MIN_TRACK_S, PART_WITHIN, SHARED_BOX


@dataclass(frozen=True, eq=False)
class Sightings:
    """A track, and when its player was found, in seconds."""

    track: PlayerTrack
    found_s: frozenset[float]


def without_doubles(everybody: Sequence[Sightings], t_s: FloatArray) -> list[PlayerTrack]:
    """The tracks, without those of somebody who has another.

    Two who are two are found at the same moment sooner or later. Of two tracks that came to lie
    over one body and were never found at the same moment, the one found less often goes, but for
    what was seen of it before the other began. What was never seen but inside another's box goes
    whole: it is a second body read in his head and arms.

    Args:
        everybody: who was followed.
        t_s: ``(n_frames,)`` seconds.
    """
    often = sorted(everybody, key=lambda each: -len(each.found_s))
    kept: list[Sightings] = []
    for each in often:
        doubles = [
            other
            for other in kept
            if each.found_s.isdisjoint(other.found_s) and _share_a_box(each.track, other.track)
        ]
        inside = any(_is_inside(each.track, other.track) for other in kept)
        left = None if inside else _before(each, doubles, t_s)
        if left is not None:
            kept.append(left)
    return sorted((each.track for each in kept), key=lambda track: track.track_id)


def _before(each: Sightings, others: Sequence[Sightings], t_s: FloatArray) -> Sightings | None:
    """What was seen of somebody before the others began; None when that is too little."""
    if not others:
        return each
    end = min(int(_frames(other.track)[0]) for other in others)
    found_s = frozenset(at_s for at_s in each.found_s if at_s < t_s[end])
    frames = _frames(each.track)
    frames = frames[frames < end]
    if len(found_s) < MIN_TIMES_FOUND or t_s[frames[-1]] - t_s[frames[0]] < MIN_TRACK_S:
        return None
    box, seen = each.track.box_xyxy.copy(), each.track.seen.copy()
    box[end:], seen[end:] = np.nan, False
    return Sightings(replace(each.track, box_xyxy=box, seen=seen), found_s)


def _frames(track: PlayerTrack) -> IntArray:
    return np.flatnonzero(np.isfinite(track.box_xyxy).all(axis=1))


def _share_a_box(one: PlayerTrack, other: PlayerTrack) -> bool:
    both = np.isfinite(one.box_xyxy).all(axis=1) & np.isfinite(other.box_xyxy).all(axis=1)
    return any(
        overlap(one.box_xyxy[frame], other.box_xyxy[frame]) > SHARED_BOX
        for frame in np.flatnonzero(both)
    )


def _is_inside(one: PlayerTrack, other: PlayerTrack) -> bool:
    """Whether one is nowhere seen but inside the other's box."""
    boxes = one.box_xyxy[one.seen], other.box_xyxy[one.seen]
    return bool(np.all(covered_share(*boxes) > PART_WITHIN))
