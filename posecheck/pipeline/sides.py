"""Sides that were measured, when a clip's spot is said to be another than at that time.

Topside lies to the defender's right but for an attacker right of the goal, where it lies to his
left; so a spot that is put right on the other half of the field turns the sign of what has a side.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from posecheck.errors import RecordError
from posecheck.measures.result import ClipResult
from posecheck.practice.layout import Side, side_at
from posecheck.practice.practice import Practice
from posecheck.store.record import Record


def turn_to_spots(record: Record, practice: Practice) -> list[Path]:
    """Turn the sides of every clip whose spot has changed since.

    Returns:
        Those clips. Their roles may have been chosen otherwise had the spot been known, so they are
        to be measured again.

    Raises:
        RecordError: the record cannot be written to.
    """
    return [
        path
        for path, digest in record.clips(practice)
        if turn_to_spot(record, practice, path, digest)
    ]


def turn_to_spot(record: Record, practice: Practice, clip: Path, clip_digest: str) -> bool:
    """The same for one clip; False when its spot is the one it was measured with, or that is not
    known."""
    before, now = record.spot(clip_digest), practice.notes_for(clip).spot or ""
    if before is None or before == now:
        return False
    side_of = practice.layout.side_of
    try:
        result = record.load(clip_digest)
    except RecordError:
        return False  # a file of it is gone: the next check measures it again
    record.set_spot(clip_digest, now, turned=_turned(result, side_of(before), side_of(now)))
    return True


def _turned(result: ClipResult, before: Side | None, now: Side | None) -> bool:
    """Whether sides were measured with the other sign.

    Without a stated spot, where the attacker stood at arrival decides.
    """
    stood = _stood(result)
    one, other = before or stood, now or stood
    if one is None or other is None:
        return False
    return (one is Side.RIGHT) is not (other is Side.RIGHT)


def _stood(result: ClipResult) -> Side | None:
    """The side of the field on which the attacker stood when the first rep arrived."""
    for rep in result.reps:
        if rep.rep.arrival_s is None or not rep.on_field:
            continue
        places = rep.series.attacker_xy_m
        seen = np.isfinite(places).all(axis=1)
        if seen.any():
            off_s = np.abs(rep.series.t_s[seen] - rep.rep.arrival_s)
            return side_at(places[seen][int(np.argmin(off_s))])
    return None
