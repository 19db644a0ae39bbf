"""One person who was followed twice: lost for a while, and begun again as somebody new."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posecheck.maths.boxes import covered_share, overlap
from posecheck.players.track import PlayerTrack
from posecheck.players.tuning import PART_WITHIN, SHARED_BOX


@dataclass(frozen=True, eq=False)
class Sightings:
    """A track, and when its player was found, in seconds."""

    track: PlayerTrack
    found_s: frozenset[float]


def without_doubles(everybody: Sequence[Sightings]) -> list[PlayerTrack]:
    """The tracks, without those of somebody who has another.

    Two who are two are found at the same moment sooner or later. Of two tracks that came to lie
    over one body and were never found at the same moment, the one found less often goes. So does
    what was never seen but inside another's box: a second body read in his head and arms.
    """
    often = sorted(everybody, key=lambda each: -len(each.found_s))
    kept: list[Sightings] = []
    for each in often:
        if not any(
            (each.found_s.isdisjoint(other.found_s) and _share_a_box(each.track, other.track))
            or _is_inside(each.track, other.track)
            for other in kept
        ):
            kept.append(each)
    return [each.track for each in everybody if each in kept]


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
