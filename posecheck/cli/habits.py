"""The work of ``posecheck habits``: read the season, compare, write, say what was found."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console

from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.limits import limits_for
from posecheck.cli.printing import counted, say
from posecheck.errors import UsageError
from posecheck.files.names import CHANGES_TABLE, HABITS_FOLDER, HABITS_TABLE
from posecheck.files.places import there
from posecheck.habits import exported
from posecheck.habits.changes import changes
from posecheck.habits.habit import habits
from posecheck.habits.season import Season, read_season
from posecheck.judging.thresholds import Thresholds
from posecheck.practice.practice import Practice
from posecheck.store.record import Record


def follow_habits(
    places: Sequence[Path],
    out: Path | None,
    thresholds: Path | None,
    usual: bool,
    since: dt.date | None,
) -> ExitCode:
    """Write page, sheet and tables of the habits of all players.

    Args:
        places: practices, or folders of them.
        out: where to write, None for a folder ``habits`` in the one that holds all places.
        thresholds: file of limits that all reps are judged by, None for those of the latest
            practice.
        usual: whether to take the usual limits instead.
        since: first date of what is set against all before.

    Raises:
        UsageError: none of the places is there.
        RecordError: the results cannot be written.
    """
    from posecheck.pages.habits_page import write_habits_page

    if not any(map(there, places)):
        names = ", ".join(map(str, places))
        raise UsageError(f"{names}: there is no such folder; check the name.")
    console = Console()
    judged_by: list[str] = []

    def limits_of(practice: Practice, record: Record) -> Thresholds:
        limits = limits_for(practice, record, thresholds, usual)
        judged_by.append(limits.words(practice) or "Judged by the usual limits.")
        return limits.thresholds

    season = read_season(places, limits_of)
    for sentence in (*season.faults, *season.remarks):
        say(console, sentence)
    if season.limits is None or not season.practices:
        return ExitCode.NOTHING_USABLE
    _say_season(season, console)
    say(console, judged_by[0])
    if not season.players:
        say(
            console,
            "No rep has a named player, so nobody's habits can be followed; say who is in which "
            "clip with posecheck names.",
        )
        return ExitCode.NOTHING_USABLE
    followed = habits(season.limits)
    found = changes(season, followed, since)
    folder = out or _common(places) / HABITS_FOLDER
    tables = {
        HABITS_TABLE: (exported.POINT_COLUMNS, exported.point_rows(season, followed)),
        CHANGES_TABLE: (exported.CHANGE_COLUMNS, exported.change_rows(season, found)),
    }
    for name, (columns, rows) in tables.items():
        exported.write_csv(columns, rows, folder / f"{name}.csv")
        exported.write_parquet(columns, rows, folder / f"{name}.parquet")
    page, sheet = write_habits_page(season, followed, found, since, judged_by[0], folder)
    look, called = (
        sum(getattr(each, name) for each in found) for name in ("worth_a_look", "called")
    )
    say(
        console,
        f"{counted(len(found), 'difference')} looked at: {called} called, {look} of them worth a "
        "look.",
    )
    say(console, f"The page: {page}")
    say(console, f"To print: {sheet}")
    say(console, f"Tables: {folder / HABITS_TABLE}.csv and {folder / CHANGES_TABLE}.csv")
    return ExitCode.SOME_FAILED if season.faults else ExitCode.ALL_MEASURED


def _say_season(season: Season, console: Console) -> None:
    reps = sum(len(each.reps) for each in season.practices)
    first, last = season.practices[0].date, season.practices[-1].date
    say(
        console,
        f"{counted(len(season.practices), 'practice')} from {first} to {last}: "
        f"{counted(len(season.players), 'player')}, {counted(reps, 'rep')}.",
    )
    for practice, unnamed in season.unnamed:
        say(
            console,
            f"{practice.described.name}, {practice.date}: the player is not named in "
            f"{counted(unnamed, 'rep')}.",
        )


def _common(places: Sequence[Path]) -> Path:
    """The folder that holds all places; a single place itself."""
    return Path(os.path.commonpath([place.resolve() for place in places]))
