"""Reps that the coach has ruled, with what was measured of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from posecheck.judging.asked import Asked
from posecheck.judging.ruling import CoachRuling
from posecheck.judging.verdict import with_every_quantity
from posecheck.measures.measure import Measure
from posecheck.practice.practice import Practice
from posecheck.store.record import Record


@dataclass(frozen=True)
class RuledRep:
    """One ruled rep.

    Attributes:
        measures: every quantity by key, as judging takes them.
        asked: what the practice asked of the defender.
        ruling: the coach's.
    """

    measures: Mapping[str, Measure]
    asked: Asked
    ruling: CoachRuling


def ruled_reps(record: Record, practice: Practice) -> list[RuledRep]:
    """The ruled reps of a practice, in order of file and time.

    Raises:
        RecordError: the record cannot be read.
    """
    rulings = record.rulings(practice)
    return [
        RuledRep(
            with_every_quantity(rep.measures),
            Asked.of(practice, practice.notes_for(rep.clip)),
            rulings[rep.clip_digest, rep.number],
        )
        for rep in record.measured_reps(practice)
        if (rep.clip_digest, rep.number) in rulings
    ]
