"""One practice, or many in one go: each with its own settings and results, and a page of all."""

from __future__ import annotations

import dataclasses
import os
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext, suppress
from dataclasses import dataclass
from functools import partial
from itertools import chain
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.limits import limits_of_last_time
from posecheck.cli.printing import called, counted, say
from posecheck.cli.run import Run
from posecheck.errors import ClusterError, ModelError, PosecheckError, UsageError
from posecheck.files.names import (
    HABITS_FOLDER,
    HABITS_PAGE_FILE,
    OUTPUT_FOLDER,
    PAGE_FILE,
    RECORD_FILE,
)
from posecheck.files.places import there
from posecheck.judging.thresholds import read_thresholds
from posecheck.judging.verdict import Call
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.tasks import Workers
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.practice.season_file import read_season_file
from posecheck.practice.season_folder import Gathered, PracticePaths, gather
from posecheck.printable import printable
from posecheck.store.record import Record

if TYPE_CHECKING:
    from posecheck.cli.several_machines import Machines
    from posecheck.pages.season_page import PracticeLine

LOOSE_NAMED = 5
"""Clips beside practices that are named on the terminal, at most.

Source: guess
"""


@dataclass(frozen=True)
class Check:
    """How practices are checked; as the options of ``posecheck check`` say.

    Attributes:
        settings: of the measuring.
        out: where results go, None for ``checked`` in each practice's folder.
        thresholds: file of limits that the coach names now, None for those he has kept.
        usual: whether he asks for the usual limits.
        jobs: how many clips at once, None for one for each processor.
        afresh: measure also what is on record.
        only: clips that are meant, by their absolute paths; None for all.
        machines: that do the work, None for this one.
        more: gives, while practices are checked, further clips that have come, of those that are
            asked for; others wait until they are.
    """

    settings: Settings
    out: Path | None = None
    thresholds: Path | None = None
    usual: bool = False
    jobs: int | None = None
    afresh: bool = False
    only: Collection[Path] | None = None
    machines: Machines | None = None
    more: Callable[[Callable[[Path], bool]], Sequence[Path]] = lambda asked_for: ()

    def __call__(self, paths: Sequence[Path]) -> int:
        """Check what the paths name: one practice, or each of several.

        Returns:
            The exit code.

        Raises:
            PosecheckError: what is no clip's fault, and no single practice's of several.
        """
        console = Console()
        found = gather(paths, lambda sentence: say(console, sentence))
        results = _results(found, self.out)
        if found.season is not None or len(found.practices) > 1:
            return self._check_season(found, results, console, paths)
        ((folder, results_folder),) = results.items()
        practice = read_practice(folder)
        with self._others(folder, results, console) as workers:
            more = partial(self.more, lambda clip: True)
            return self._check(practice, paths, results_folder, workers, more)

    def _others(
        self, folder: Path, results: dict[Path, Path], console: Console
    ) -> AbstractContextManager[Workers | None]:
        """The workers of other machines; None where this one does the work."""
        if self.machines is None:
            return nullcontext()
        return self.machines.workers(folder, results, self.settings, self.jobs, console)

    def _check(
        self,
        practice: Practice,
        paths: Sequence[Path],
        results: Path,
        workers: Workers | None,
        more: Callable[[], Sequence[Path]],
    ) -> int:
        limits = limits_of_last_time(practice, results, self.thresholds, self.usual)
        said = limits.words(practice)
        run = Run(
            practice, self.settings, limits.thresholds, results, said, self.only, workers, more
        )
        return run.check(paths, self.jobs, self.afresh)

    def _check_season(
        self,
        found: Gathered,
        results: dict[Path, Path],
        console: Console,
        paths: Sequence[Path],
    ) -> int:
        # Before any work: what is wrong with all practices is best known at once.
        if self.thresholds is not None and self.usual:
            raise UsageError("--thresholds and --usual are both given; leave one out.")
        if self.thresholds is not None:
            read_thresholds(self.thresholds)
        _say_loose(found, console)
        # The pages of practices lead to that of all only where there is one.
        with suppress(PosecheckError):  # said when it is written again, with all that was found
            _write_season_page(found, self.out, _lines(found, self.out, {}))
        codes: list[int] = [ExitCode.SOME_FAILED] if found.loose else []
        faults: dict[Path, str] = {}
        with self._others(found.common, results, console) as workers:
            for each in found.practices:
                code, faults[each.folder] = self._check_one(
                    each, results[each.folder], workers, console, paths
                )
                codes.append(code)
                if code == ExitCode.STOPPED:
                    break
        written = publish_season(found, self.out, console, faults)
        return season_code(codes if written else [*codes, ExitCode.FAILED])

    def _check_one(
        self,
        meant: PracticePaths,
        results: Path,
        workers: Workers | None,
        console: Console,
        paths: Sequence[Path],
    ) -> tuple[int, str]:
        """Exit code of one practice of a season, and why it was not checked."""
        if self.only is not None and not any(each.absolute() in self.only for each in meant.paths):
            return ExitCode.ALL_MEASURED, ""
        try:
            practice = read_practice(meant.folder)
            say(console, Text(practice.name, "bold"), f"  {meant.folder}")
            if meant.paths:
                more = partial(self.more, lambda clip: _belongs(clip, meant.folder, paths))
                return self._check(practice, meant.paths, results, workers, more), ""
            fault = f"There are no clips in {meant.folder}."
        except (ModelError, ClusterError):
            raise  # the other practices would fail likewise
        except KeyboardInterrupt:  # between what listens to Ctrl-C
            say(console, "Stopped; what is done is kept, run the same command to go on.")
            return ExitCode.STOPPED, ""
        except PosecheckError as error:
            say(console, str(error))
            bad = isinstance(error, UsageError)
            return ExitCode.BAD_USAGE if bad else ExitCode.FAILED, str(error)
        say(console, fault)
        return ExitCode.NOTHING_USABLE, fault


def season_code(codes: Sequence[int]) -> ExitCode:
    """The exit code of many practices from those of each."""
    for decides in (ExitCode.STOPPED, ExitCode.FAILED):
        if decides in codes:
            return decides
    for common in (ExitCode.ALL_MEASURED, ExitCode.BAD_USAGE):
        if all(code == common for code in codes):
            return common
    some = {ExitCode.ALL_MEASURED, ExitCode.SOME_FAILED}
    return ExitCode.SOME_FAILED if some & set(codes) else ExitCode.NOTHING_USABLE


def publish_season(
    found: Gathered,
    out: Path | None,
    console: Console,
    faults: Mapping[Path, str] = MappingProxyType({}),
) -> bool:
    """Say how practices stand on record, and write the page of all.

    Args:
        found: the practices.
        out: where results went, as in :class:`Check`.
        console: to say it on.
        faults: why a practice was not checked, by its folder.

    Returns:
        False, with the reason said, when the page could not be written.
    """
    lines = _lines(found, out, faults)
    console.print(_table(lines))
    try:
        page = _write_season_page(found, out, lines)
    except PosecheckError as error:
        say(console, str(error))
        return False
    if page is not None:
        say(console, f"The page of all: {page}")
    return True


# -- small steps ---------------------------------------------------------------------------------


def _results(found: Gathered, out: Path | None) -> dict[Path, Path]:
    """Where the results of each practice go; with ``out``, those of several into folders below."""
    folders = [each.folder for each in found.practices]
    if out is None:
        return {folder: folder / OUTPUT_FOLDER for folder in folders}
    if found.season is None and len(folders) == 1:
        return {folders[0]: out}
    # A folder of practices that is a practice too has its own where nothing else can be.
    return {
        folder: out
        / (OUTPUT_FOLDER if folder == found.common else folder.relative_to(found.common))
        for folder in folders
    }


def season_of(practice: Path, results: Path) -> Path:
    """The season's folder, from where a practice and, below ``--out``, its results lie."""
    if results == Path(OUTPUT_FOLDER):
        return practice
    return practice.parents[len(results.parts) - 1]


def _write_season_page(
    found: Gathered, out: Path | None, lines: Sequence[PracticeLine]
) -> Path | None:
    """The page of all; None where several practices were named, and no place for one."""
    from posecheck.pages.season_page import write_season_page

    if found.season is None and out is None:
        return None
    folder = out or found.common
    habits = folder / HABITS_FOLDER / HABITS_PAGE_FILE
    season = read_season_file(found.common)
    return write_season_page(season.name, season.club, lines, _loose_names(found), habits, folder)


def _lines(found: Gathered, out: Path | None, faults: Mapping[Path, str]) -> list[PracticeLine]:
    return [
        _line(folder, results, faults.get(folder, ""))
        for folder, results in _results(found, out).items()
    ]


def _line(folder: Path, results: Path, fault: str) -> PracticeLine:
    from posecheck.pages.season_page import PracticeLine, practice_line

    practice = Practice(folder, folder.name)
    try:
        practice = read_practice(folder)
    except PosecheckError as error:
        fault = fault or str(error)
    line = PracticeLine(practice.name, practice.date, None, Counter(), 0, fault)
    page = results / PAGE_FILE
    try:
        if there(page):
            line = dataclasses.replace(line, page=page)
        if not there(results / RECORD_FILE):
            return line
        with Record(results / RECORD_FILE) as record:
            return practice_line(record, practice, fault)
    except PosecheckError as error:
        return dataclasses.replace(line, fault=fault or str(error))


def _table(lines: Sequence[PracticeLine]) -> Table:
    """A row for each practice, with a last one for all."""
    total = sum((Counter(line.calls) for line in lines), Counter[Call]())
    table = Table(box=box.SIMPLE, show_footer=len(lines) > 1)
    table.add_column("Practice", footer="all", overflow="fold")
    table.add_column("Reps", justify="right", footer=str(total.total()))
    for call in Call:
        table.add_column(called(call), justify="right", footer=str(total[call]))
    missed = sum(line.not_measured for line in lines)
    table.add_column("not measured", justify="right", footer=str(missed))
    for line in lines:
        counts = [str(line.calls.get(call, 0)) for call in Call]
        name = Text(printable(f"{line.name}: not checked" if line.fault else line.name))
        table.add_row(name, str(line.reps), *counts, str(line.not_measured))
    return table


def _belongs(clip: Path, practice: Path, paths: Sequence[Path]) -> bool:
    """Whether a clip that has come is one of a practice, of those that paths name."""
    own = (each.paths for each in gather(paths).practices if each.folder == practice)
    return any(path.absolute() == clip for path in chain.from_iterable(own))


def _loose_names(found: Gathered) -> list[str]:
    return [os.path.relpath(clip, found.common) for clip in found.loose]


def _say_loose(found: Gathered, console: Console) -> None:
    names = _loose_names(found)
    if not names:
        return
    more = len(names) - LOOSE_NAMED
    listed = ", ".join(names[:LOOSE_NAMED]) + (f" and {more} more" if more > 0 else "")
    say(
        console,
        f"{counted(len(names), 'clip')} beside practices, in none of them, and so not measured: "
        f"{listed}; move them into a practice's folder.",
    )
