"""Sides that were measured, when a clip's spot is said to be another than at that time.

Topside lies to the defender's right but for an attacker right of the goal, where it lies to his
left; so a spot that is put right on the other half of the field turns the sign of what has a side.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from posecheck.errors import RecordError
from posecheck.measures.measure import Measure
from posecheck.measures.quantities import QUANTITY
from posecheck.measures.result import ClipResult
from posecheck.practice.layout import Side, side_at
from posecheck.practice.practice import Practice
from posecheck.store.record import Record


@dataclass(frozen=True)
class Moved:
    """A clip whose spot has changed since it was measured.

    Attributes:
        clip: the file.
        digest: of its content.
        spot: that is said now, empty for none.
        turned: whether its sides have the other sign there.
    """

    clip: Path
    digest: str
    spot: str
    turned: bool


def moved_clips(record: Record, practice: Practice) -> list[Moved]:
    """Every clip whose spot has changed since. Its roles may have been chosen otherwise had the
    spot been known, so it is to be measured again.

    Raises:
        RecordError: the record cannot be read.
    """
    found = (_moved(record, practice, *each) for each in record.clips(practice))
    return [each for each in found if each is not None]


def turn_to_spots(record: Record, practice: Practice) -> None:
    """Turn the sides of every clip whose spot has changed since.

    Raises:
        RecordError: the record cannot be written to.
    """
    for each in moved_clips(record, practice):
        record.set_spot(each.digest, each.spot, turned=each.turned)


def turn_to_spot(record: Record, practice: Practice, clip: Path, clip_digest: str) -> None:
    """The same for one clip."""
    each = _moved(record, practice, clip, clip_digest)
    if each is not None:
        record.set_spot(each.digest, each.spot, turned=each.turned)


def turned(measures: Mapping[str, Measure]) -> dict[str, Measure]:
    """Measures with the other sign where they have a side, as the record turns them."""
    return {
        key: replace(each, value=-each.value, low=-each.high, high=-each.low)
        if QUANTITY[key].sided
        and each.value is not None
        and each.low is not None
        and each.high is not None
        else each
        for key, each in measures.items()
    }


def _moved(record: Record, practice: Practice, clip: Path, clip_digest: str) -> Moved | None:
    """None when its spot is the one it was measured with, or that is not known."""
    before, now = record.spot(clip_digest), practice.notes_for(clip).spot or ""
    if before is None or before == now:
        return None
    side_of = practice.layout.side_of
    try:
        result = record.load(clip_digest)
    except RecordError:
        return None  # a file of it is gone: the next check measures it again
    return Moved(clip, clip_digest, now, _turned(result, side_of(before), side_of(now)))


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
