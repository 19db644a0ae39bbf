"""The work of ``posecheck rejudge``: other limits, one practice or a season, no film."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.text import Text

from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.limits import limits_for
from posecheck.cli.printing import counted, say, say_changes
from posecheck.cli.run import publish_page
from posecheck.cli.season import publish_season, season_code, season_of
from posecheck.errors import PosecheckError, UsageError
from posecheck.files.names import SEASON_PAGE_FILE
from posecheck.files.one_at_a_time import one_at_a_time
from posecheck.files.places import existing, there
from posecheck.judging.thresholds import read_thresholds
from posecheck.pipeline import judge as judging
from posecheck.pipeline.sides import moved_clips, turn_to_spots
from posecheck.practice.practice import Practice
from posecheck.practice.season_folder import gather
from posecheck.store.finding import folders_with_clips, measured_practices, records_below
from posecheck.store.record import Record


def rejudge_practices(folder: Path, thresholds: Path | None, usual: bool, keep: bool) -> ExitCode:
    """Judge what is on record by other limits, and say what changes.

    Args:
        folder: of a practice, of a season, or of results.
        thresholds, usual: which limits, as for :func:`~posecheck.cli.limits.limits_for`.
        keep: whether verdicts are kept and pages written again.

    Raises:
        UsageError: nothing has been checked there.
        PosecheckError: one practice alone cannot be judged; of several the others are.
    """
    console = Console()
    faults: list[str] = []
    records = list(records_below(existing(folder), faults))
    if not records:
        raise UsageError(faults[0])
    for fault in faults:
        say(console, fault)
    if len(records) == 1 and not faults:
        return _rejudge(records[0], thresholds, usual, keep, console)
    if thresholds is not None:
        read_thresholds(thresholds)  # what is wrong with all is said once
    codes = [ExitCode.SOME_FAILED for _ in faults]
    for path in records:
        try:
            codes.append(_rejudge(path, thresholds, usual, keep, console, named=True))
        except PosecheckError as error:
            say(console, str(error))
            bad = isinstance(error, UsageError)
            codes.append(ExitCode.BAD_USAGE if bad else ExitCode.FAILED)
    if keep and not season_again(folder, records, console):
        codes.append(ExitCode.FAILED)
    return season_code(codes)


def _rejudge(
    path: Path,
    thresholds: Path | None,
    usual: bool,
    keep: bool,
    console: Console,
    named: bool = False,
) -> ExitCode:
    with Record(path) as record:
        for practice in measured_practices(record):
            if named:
                say(console, Text(practice.name, "bold"), f"  {practice.folder}")
            if not _rejudge_practice(record, practice, thresholds, usual, keep, console):
                return ExitCode.FAILED
    return ExitCode.ALL_MEASURED


def _rejudge_practice(
    record: Record,
    practice: Practice,
    thresholds: Path | None,
    usual: bool,
    keep: bool,
    console: Console,
) -> bool:
    """False, with the reason said, when the page could not be written."""
    chosen = limits_for(practice, record, thresholds, usual)
    limits, said = chosen.thresholds, chosen.words(practice)
    if said:
        say(console, said)
    moved = moved_clips(record, practice)
    if moved:
        names = ", ".join(practice.shown_name(each.clip) for each in moved)
        say(
            console,
            f"Another spot than when it was measured: {names}. Sides are those of the "
            "new spot; posecheck check measures again, since the spot helps to tell who is who.",
        )
    turn = {each.digest for each in moved if each.turned}
    rejudged = judging.rejudge(record, practice, limits, turn)
    say_changes(console, practice, rejudged)
    changed = sum(each.changed for each in rejudged)
    say(console, f"{changed} of {counted(len(rejudged), 'rep')} judged differently.")
    if not keep:
        return True
    with one_at_a_time(record.folder):
        turn_to_spots(record, practice)
        judging.keep(record, rejudged, limits)
        return publish_page(record, practice, limits, console)


def season_again(place: Path, records: Sequence[Path], console: Console) -> bool:
    """Write the page of a season again where there is one; False when that failed."""
    if not there(place / SEASON_PAGE_FILE):
        return True
    found = gather([place])
    if found.season is not None:
        return publish_season(found, None, console)
    # Results that went elsewhere.
    folders: set[Path] = set()
    season = place
    for path in records:
        with Record(path) as record:
            own_folders = folders_with_clips(record) or record.practice_folders()
        for folder in own_folders:
            folders.add(folder)
            season = season_of(folder, path.parent.relative_to(place))
    found = gather([season])
    own = tuple(each for each in found.practices if each.folder in folders)
    return publish_season(dataclasses.replace(found, practices=own), place, console)
