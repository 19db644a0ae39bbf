"""Practices of a season, read from their records: who, when, and every rep judged by one standard.

Nothing is written, and no film is looked at. A practice that cannot be read costs only itself.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from posecheck.errors import PosecheckError
from posecheck.files.names import PAGE_FILE, PRACTICE_FILE
from posecheck.judging.rules import HEADLINE_RULE
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call
from posecheck.measures.measure import Measure
from posecheck.measures.result import Provenance
from posecheck.pipeline.judge import Rejudged, rejudge
from posecheck.pipeline.provenance import measured_as_now
from posecheck.practice.layout import SPOTS, Side
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.practice.roster import Player
from posecheck.store.finding import records_below
from posecheck.store.record import Record


@dataclass(frozen=True)
class Made:
    """How reps were measured, as far as that decides whether they may be compared."""

    version: str
    model: str
    model_digest: str

    @classmethod
    def of(cls, provenance: Provenance) -> Made:
        """What of a clip's provenance counts."""
        return cls(provenance.version, provenance.model, provenance.model_digest)


@dataclass(frozen=True)
class PlayerId:
    """A player across practices: by number and name, since neither alone is proof.

    Capitals, spaces and the way an accent is stored make no difference.
    """

    number: int
    name: str

    @classmethod
    def of(cls, player: Player) -> PlayerId:
        """The same for a player of any practice's roster."""
        name = unicodedata.normalize("NFC", " ".join(player.name.split())).casefold()
        return cls(player.number, name)


@dataclass(frozen=True)
class HabitRep:
    """One rep as habits need it.

    Attributes:
        who: the defender, None when not named.
        name: his, as this practice writes it.
        side: of the field that he closed out to, as he looks out from the goal; None when the spot
            is not stated or not placed.
        measures: by key.
        upright: what can be said of running out upright.
        as_now: True when the clip would be measured with the same code, reach and notes today.
    """

    who: PlayerId | None
    name: str
    side: Side | None
    measures: Mapping[str, Measure]
    upright: Call
    as_now: bool


@dataclass(frozen=True)
class PracticeReps:
    """One practice of the season, and its reps.

    Attributes:
        described: the practice as its folder describes it now.
        date: of it.
        reps: in the order of clips and time.
        made: how its reps were measured; more than one when a check was left half way.
        not_measured: clips without a rep.
        page: on which its reps can be watched, None where there is none.
    """

    described: Practice
    date: dt.date
    reps: tuple[HabitRep, ...]
    made: frozenset[Made]
    not_measured: int
    page: Path | None = None


@dataclass(frozen=True)
class Season:
    """All practices that could be read.

    Attributes:
        limits: that all reps are judged by; None without any practice.
        practices: by date.
        faults: a sentence for everything that could not be read.
        remarks: a sentence for what a reader should know of the names.
    """

    limits: Thresholds | None
    practices: tuple[PracticeReps, ...]
    faults: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def names(self) -> dict[PlayerId, str]:
        """Everyone named, by number, each with his name as the latest practice writes it."""
        reps = (rep for each in self.practices for rep in each.reps)
        found = {rep.who: rep.name for rep in reps if rep.who is not None}
        return dict(sorted(found.items(), key=lambda item: (item[0].number, item[0].name)))

    @property
    def players(self) -> list[PlayerId]:
        """Everyone named, by number."""
        return list(self.names)

    @property
    def unnamed(self) -> list[tuple[PracticeReps, int]]:
        """Practices with reps whose defender is not named, and how many those are."""
        counts = [(each, sum(rep.who is None for rep in each.reps)) for each in self.practices]
        return [(each, count) for each, count in counts if count]


LimitsOf = Callable[[Practice, Record], Thresholds]
"""What a practice is judged by, from its folder and its record."""


def read_season(places: Sequence[Path], limits_of: LimitsOf) -> Season:
    """Read every practice that lies in some folders.

    Args:
        places: practices, their folders of results, or folders that hold any number of them.
        limits_of: asked of the latest practice; all reps are judged by its limits, whatever they
            were judged by before, since only then are shares comparable.
    """
    faults: list[str] = []
    records: dict[Path, None] = {}
    for place in places:
        for path in records_below(place, faults):
            records.setdefault(path.resolve())
    found = [each for path in records for each in _practices_of(path, faults)]
    if not found:
        return Season(None, (), tuple(faults), ())
    path, latest, _ = max(found, key=lambda each: each[2])
    with Record(path) as record:
        reader = _Reader(limits_of(latest, record), faults)
    for path, practice, date in found:
        try:
            with Record(path) as record:
                reader.read(record, practice, date)
        except PosecheckError as error:
            faults.append(str(error))
    practices = sorted(reader.practices, key=lambda each: (each.date, each.described.name))
    remarks = (*reader.remarks, *_remarks(practices))
    return Season(reader.limits, tuple(practices), tuple(faults), remarks)


# -- reading -----------------------------------------------------------------------------------


_Found = tuple[Path, Practice, dt.date]
"""A practice with the record it is in, and its date."""


def _practices_of(path: Path, faults: list[str]) -> Iterator[_Found]:
    """The practices of a record; what is wrong with one becomes a fault."""
    try:
        with Record(path) as record:
            folders = record.practice_folders()
    except PosecheckError as error:
        faults.append(str(error))
        return
    for folder in folders:
        if not folder.is_dir():
            faults.append(
                f"{path}: its practice is no longer in {folder}, so date and players are not "
                "known; move the folder back, or check it again."
            )
            continue
        try:
            practice = read_practice(folder)
        except PosecheckError as error:
            faults.append(str(error))
            continue
        if practice.date is None:
            faults.append(
                f"{folder}: the practice has no date; add a line such as date = 2026-05-12 to its "
                f"{PRACTICE_FILE}."
            )
            continue
        yield path, practice, practice.date


class _Reader:
    """Practices read so far, what was wrong, and which reps have been counted already."""

    def __init__(self, limits: Thresholds, faults: list[str]) -> None:
        self.limits = limits
        self.faults = faults
        self.practices: list[PracticeReps] = []
        self.remarks: list[str] = []
        self._counted: set[tuple[str, int]] = set()

    def read(self, record: Record, practice: Practice, date: dt.date) -> None:
        """Add a practice, or the reason why not."""
        judged = sorted(
            rejudge(record, practice, self.limits), key=lambda each: _place(practice, each)
        )
        keys = {(each.rep.clip_digest, each.rep.number): each for each in judged}
        fresh = [each for key, each in keys.items() if key not in self._counted]
        if len(fresh) < len(judged):
            self.remarks.append(
                f"{record.path}: {_counted(len(judged) - len(fresh), 'rep')} of the same film "
                "stand in another record as well; counted once."
            )
        self._counted |= keys.keys()
        clips = record.clips(practice)
        with_reps = {each.rep.clip_digest for each in judged}
        if not fresh:
            if not judged:
                self.faults.append(f"{practice.folder}: no rep of this practice was measured.")
            return
        made = record.provenances(practice)
        page = record.folder / PAGE_FILE
        self.practices.append(
            PracticeReps(
                described=practice,
                date=date,
                reps=tuple(
                    _habit_rep(practice, each, made[each.rep.clip_digest]) for each in fresh
                ),
                made=frozenset(Made.of(made[each.rep.clip_digest]) for each in fresh),
                not_measured=sum(digest not in with_reps for _, digest in clips),
                page=page if page.exists() else None,
            )
        )


def _place(practice: Practice, each: Rejudged) -> tuple[list[tuple[int, str]], int]:
    """The order in which reps were filmed, by the names phones give: numbers count as numbers."""
    name = practice.relative(each.rep.clip).as_posix()
    parts = re.split(r"(\d+)", name.casefold())
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts], each.rep.number


def _habit_rep(practice: Practice, each: Rejudged, made: Provenance) -> HabitRep:
    notes = practice.notes_for(each.rep.clip)
    calls = {finding.rule: finding.call for finding in each.verdict.findings}
    return HabitRep(
        who=None if notes.defender is None else PlayerId.of(notes.defender),
        name="" if notes.defender is None else " ".join(notes.defender.name.split()),
        side=practice.layout.side_of(notes.spot) or _SIDE_BY_NAME.get(notes.spot or ""),
        measures=each.rep.measures,
        upright=calls[HEADLINE_RULE],
        as_now=measured_as_now(made, practice, each.rep.clip),
    )


_SIDE_BY_NAME = {
    spot: Side.LEFT if "left" in spot else Side.RIGHT if "right" in spot else Side.MIDDLE
    for spot in SPOTS
}
"""The sides that the spots of the drill are named after."""


def _remarks(practices: Sequence[PracticeReps]) -> Iterator[str]:
    """Numbers that change their name and names that change their number."""
    spelt: dict[PlayerId, str] = {}
    dates: dict[PlayerId, set[dt.date]] = {}
    for practice in practices:
        for rep in practice.reps:
            if rep.who is not None:
                spelt[rep.who] = rep.name
                dates.setdefault(rep.who, set()).add(practice.date)
    by_number: dict[int, list[PlayerId]] = {}
    by_name: dict[str, list[PlayerId]] = {}
    for who in sorted(spelt, key=lambda who: (who.number, min(dates[who]))):
        by_number.setdefault(who.number, []).append(who)
        by_name.setdefault(who.name, []).append(who)
    for number, shared in by_number.items():
        if len(shared) > 1:
            names = ", ".join(f"{spelt[who]} (from {min(dates[who])})" for who in shared)
            yield f"Number {number} goes by {len(shared)} names: {names}; they are kept apart."
    for shared in by_name.values():
        if len(shared) > 1:
            numbers = " and ".join(str(who.number) for who in shared)
            yield f"{spelt[shared[0]]} wears the numbers {numbers}; they are kept apart."


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
