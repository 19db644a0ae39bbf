"""The page of a season: one line for each practice, with the way to its page and to the habits."""

from __future__ import annotations

import datetime as dt
import os
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from posecheck.files.names import PAGE_FILE, SEASON_PAGE_FILE
from posecheck.files.whole_file import write_whole
from posecheck.judging.verdict import Call
from posecheck.pages.environment import page_environment
from posecheck.pages.inline import inlined
from posecheck.pages.svg import CALL_CLASS, call_mark
from posecheck.practice.practice import Practice
from posecheck.store.record import Record


@dataclass(frozen=True)
class PracticeLine:
    """What a season's page says of one practice.

    Attributes:
        name, date: of the practice; date None when not stated.
        page: its own, None where there is none.
        calls: how many reps are called what.
        not_measured: clips without a rep.
        fault: why it was not checked this time, empty when it was.
    """

    name: str
    date: dt.date | None
    page: Path | None
    calls: Mapping[Call, int]
    not_measured: int
    fault: str = ""

    @property
    def reps(self) -> int:
        """How many were judged."""
        return sum(self.calls.values())


def practice_line(record: Record, practice: Practice, fault: str = "") -> PracticeLine:
    """A practice as it is on record.

    Raises:
        RecordError: the record cannot be read.
    """
    clips = {digest for _, digest in record.clips(practice, taken_away=False)}
    reps = [rep for rep in record.measured_reps(practice) if rep.clip_digest in clips]
    with_reps = {rep.clip_digest for rep in reps}
    page = record.folder / PAGE_FILE
    return PracticeLine(
        name=practice.name,
        date=practice.date,
        page=page if page.exists() else None,
        calls=Counter(rep.verdict.call for rep in reps if rep.verdict is not None),
        not_measured=len(clips - with_reps),
        fault=fault,
    )


def write_season_page(
    name: str,
    club: str,
    lines: Sequence[PracticeLine],
    loose: Sequence[str],
    habits: Path,
    folder: Path,
) -> Path:
    """Write ``season.html``.

    Args:
        name, club: of the season; club empty when not stated.
        lines: its practices, in order.
        loose: names of clips that lie beside practices, in none of them.
        habits: where the page of habits lies once it is written.
        folder: where to write.

    Raises:
        RecordError: the folder cannot be written to.
    """
    environment = page_environment()
    total = sum((Counter(line.calls) for line in lines), Counter[Call]())
    page = environment.get_template("season.html").render(
        inline=inlined(["style.css", "season.css"], []),
        name=name,
        club=club,
        lines=lines,
        loose=loose,
        reps=total.total(),
        total=total,
        not_measured=sum(line.not_measured for line in lines),
        calls=list(Call),
        CALL_CLASS=CALL_CLASS,
        call_mark=call_mark,
        link=lambda path: link_from(folder, path),
        habits=habits if habits.exists() else None,
        dated=sum(line.date is not None for line in lines),
    )
    path = folder / SEASON_PAGE_FILE
    write_whole(path, lambda file: file.write(page.encode("utf-8")))
    return path


def season_page_above(results: Path) -> Path | None:
    """The page of the season that results belong to, None where none has been written.

    Args:
        results: folder of a practice's results, or of a season's habits.
    """
    # A practice lies right in the season's folder or one deeper, its results in it or beside.
    pages = (each / SEASON_PAGE_FILE for each in results.resolve().parents[:3])
    return next((page for page in pages if page.is_file()), None)


def link_from(folder: Path, path: Path) -> str:
    """A file as seen from a page in a folder, so that the season may be moved as a whole."""
    try:
        return quote(Path(os.path.relpath(path, folder.resolve())).as_posix())
    except ValueError:  # on another drive
        return path.as_uri()
