"""Forget a player, clips or a practice: all of it leaves the results, and that is proved."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path, PurePath

import typer
from rich.console import Console

from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.forget_choice import Chosen, Whom, all_of, of_clips, of_player
from posecheck.cli.forget_files import (
    files_in,
    files_that_go,
    forget_in,
    of_nobody,
    pages_again,
    take_away_empty,
)
from posecheck.cli.printing import counted, say
from posecheck.cli.rejudge import season_again
from posecheck.errors import PosecheckError, RecordError, UsageError
from posecheck.files import names
from posecheck.files.cut_name import cut_name, shown_file
from posecheck.files.digest import file_digest
from posecheck.files.one_at_a_time import one_at_a_time
from posecheck.files.places import existing
from posecheck.files.traces import lines_with, search
from posecheck.practice.found_cuts import read_cuts
from posecheck.practice.practice import Practice, film_of
from posecheck.practice.reading import read_practice
from posecheck.practice.roster import Player
from posecheck.store.earlier_film import is_earlier
from posecheck.store.files_of_clip import DIGEST_CHARS, remove
from posecheck.store.finding import records_below
from posecheck.store.record import Record
from posecheck.video.folder import find_clips

HABITS_FILES = (
    names.HABITS_PAGE_FILE,
    f"{names.HABITS_TABLE}.csv",
    f"{names.HABITS_TABLE}.parquet",
    f"{names.CHANGES_TABLE}.csv",
    f"{names.CHANGES_TABLE}.parquet",
    names.HABITS_SHEET_FILE,
)
"""The sheet is removed last: by it a folder high above the practice is known."""

OWN_FILES = (
    names.PRACTICE_FILE,
    names.CLIPS_FILE,
    names.POINTS_FILE,
    names.CUTS_FILE,
    names.THRESHOLDS_FILE,
)
"""The coach's own, in the practice's folder."""

OUT_OF_REACH = (
    "Files that were handed out or written elsewhere (players' files, films of stars) and backups "
    "are yours to delete."
)

BACKGROUND = "He may still be seen in the background of other clips: posecheck knows nobody's face."


def forget(
    folder: Path, player: str | None, clips: Sequence[str], practice: bool, options: Options
) -> ExitCode:
    """Forget one player, some clips, or all of what was checked.

    Args:
        folder: of a practice or a season, or of results.
        player: his number or his name.
        clips: their names.
        practice: everything.
        options: how.

    Raises:
        UsageError: not exactly one of the three is asked for, or it is not there.
        RecordError: something cannot be removed; run again, it goes on.
    """
    if (player is not None) + bool(clips) + practice != 1:
        raise UsageError("Say what to forget: one of --player, --clip and --practice.")
    console = Console()
    faults: list[str] = []
    records = list(records_below(existing(folder), faults))
    if not records:
        raise UsageError(faults[0])
    for fault in faults:
        say(console, fault)
    if options.again:
        return _take_back(records, clips, console)
    if player is not None:
        whom, chosen = of_player(records, player)
    else:
        whom, chosen = all_of(records) if practice else of_clips(records, clips)
    forgetting = Forgetting(folder, whom, chosen, options.film)
    forgetting.say(console)
    if options.show:
        return ExitCode.ALL_MEASURED
    if not (options.yes or _asked(f"Forget {whom.words} for good?")):
        say(console, "Nothing was removed.")
        return ExitCode.STOPPED
    code = forgetting.carry_out(console)
    return ExitCode.SOME_FAILED if faults and code is ExitCode.ALL_MEASURED else code


def _asked(question: str) -> bool:
    try:
        return typer.confirm(question)
    except typer.Abort:
        raise UsageError(
            "Nothing was removed: add --yes where nobody can answer, or --show to see what would "
            "go."
        ) from None


def _take_back(records: Sequence[Path], clips: Sequence[str], console: Console) -> ExitCode:
    """Let the next check measure clips again whose film is still there."""
    if not clips:
        raise UsageError("--again goes with --clip: name the clips that are to be measured again.")
    left = set(clips)
    for path in records:
        with Record(path) as record:
            for practice in map(read_practice, record.practice_folders()):
                for clip in [*find_clips([practice.folder]), *_cut_out(record.folder)]:
                    named = _names(practice, clip) & set(clips)
                    if named and record.measure_again(file_digest(clip)):
                        shown = practice.shown_name(clip) if _is_cut(practice, clip) else clip
                        say(console, f"{shown}: the next posecheck check measures it again.")
                        left -= named
    for name in sorted(left):
        say(console, f"{name}: no clip of this name was forgotten.")
    return ExitCode.NOTHING_USABLE if left else ExitCode.ALL_MEASURED


def _cut_out(results: Path) -> list[Path]:
    """Whatever was cut out of long films and is there, forgotten or not."""
    named = (each.cut for cuts in read_cuts(results) for each in cuts.stretches)
    paths = (results / names.CUTS_FOLDER / name for name in named if name is not None)
    return [path for path in paths if path.is_file()]


def _is_cut(practice: Practice, clip: Path) -> bool:
    return cut_name(practice.clip_key(clip)) is not None


def _names(practice: Practice, clip: Path) -> set[str]:
    """What a clip may be called; what was cut out of a long film goes by the film's name too."""
    film = PurePath(film_of(practice.clip_key(clip)))
    shown = {practice.shown_name(clip), shown_file(clip)}
    own = {clip.name, clip.stem, practice.relative(clip).as_posix()}
    return {*own, *shown, film.as_posix(), film.name, film.stem}


@dataclass(frozen=True)
class Options:
    """How to forget: ``film`` too, ``yes`` without asking, only ``show`` it, or take it back
    (``again``)."""

    film: bool = False
    yes: bool = False
    show: bool = False
    again: bool = False


@dataclass(frozen=True)
class Forgetting:
    """What is forgotten, and how far.

    Attributes:
        place: the folder that was named.
        whom: whose traces are looked for afterwards.
        chosen: what goes, record by record.
        film: whether the film goes too.
    """

    place: Path
    whom: Whom
    chosen: tuple[Chosen, ...]
    film: bool

    def say(self, console: Console) -> None:
        """What is going to be removed."""
        for each in self.chosen:
            say(console, each.words)
            clips = ", ".join(each.practice.shown_name(path) for path, _ in each.clips)
            if clips:
                say(console, f"  {counted(len(each.clips), 'clip')}: {clips}")
            files = list(files_that_go(each))
            size = sum(path.stat().st_size for path in files) / 1e6
            say(console, f"  {counted(len(files), 'file')} of results, {size:.1f} MB")
            for player in each.others:
                say(
                    console,
                    f"  The file of {player.display_name} goes too, since it shows one of them.",
                )
            films = _films(each) if self.film else []
            if films:
                listed = ", ".join(each.practice.relative(path).as_posix() for path in films)
                say(console, f"  The film itself: {listed}")

    def carry_out(self, console: Console) -> ExitCode:
        """Remove it all, write the pages again, and look whether anything is left.

        Raises:
            RecordError: something cannot be removed; run again, it goes on.
        """
        removed = 0
        films: list[Path] = []
        with ExitStack() as held:
            for folder in self._folders:
                held.enter_context(one_at_a_time(folder))
            for each in self.chosen:
                films += _films(each)
                removed += forget_in(each)
            gone = remove(films) if self.film else []
            habits = remove(self._habits())
            written = [pages_again(each, console) for each in self.chosen if not each.whole]
            written += [season_again(self.place, _records(self.chosen), console)]
        if self.whom.whole:
            take_away_empty(self._folders)
        also = f", {counted(len(gone), 'film')} deleted" if gone else ""
        files = counted(removed + len(habits), "file")
        say(console, f"Forgotten: {self.whom.words}; {files} of results removed{also}.")
        if habits:
            say(console, "The habits counted it and went too; posecheck habits writes them again.")
        proved = self._prove(console)
        self._say_what_is_left(console, [path for path in films if path not in gone])
        return ExitCode.ALL_MEASURED if proved and all(written) else ExitCode.FAILED

    # -- proof -------------------------------------------------------------------------------------

    def _prove(self, console: Console) -> bool:
        """Look for it in every file of the results; False, with the files where it still stands."""
        files = [path for folder in self._folders for path in files_in(folder)]
        files += [path for path in self._habits() if path.is_file()]
        season = self.place / names.SEASON_PAGE_FILE
        files += [season] if season.is_file() else []
        marks = [digest[:DIGEST_CHARS] for each in self.chosen for digest in each.digests]
        try:
            searched = search(files, self.whom.names, marks, self.whom.others)
        except OSError as error:
            raise RecordError(
                f"{error.filename}: it cannot be searched ({error.strerror}); change its "
                "permissions, then run the same command again."
            ) from error
        left = dict.fromkeys(searched.found)
        for each in self.chosen:
            left |= dict.fromkeys((*each.numbered(), *of_nobody(each)))
            if each.whole and each.folder.exists():
                left |= dict.fromkeys(files_that_go(each))
        what = "name and clips" if self.whom.names else "clips"
        size = searched.n_bytes / 1e6
        where = f"{counted(searched.n_files, 'file')} of results searched ({size:.1f} MB)"
        if left:
            listed = ", ".join(map(str, left))
            say(console, f"{where}: {what} still stand in {listed}; delete what is listed.")
        else:
            say(console, f"{where}: nothing is left of {what}.")
        return not left

    def _say_what_is_left(self, console: Console, films: Sequence[Path]) -> None:
        """The coach's own: lines of his files, the film."""
        seen: set[Path] = set()
        for each in self.chosen:
            own = [each.practice.folder / name for name in OWN_FILES]
            own += [folder / names.SEASON_FILE for folder in each.practice.folder.parents]
            for path in (file.resolve() for file in own):
                if path in seen or not path.is_file():
                    continue
                seen.add(path)
                for number, line in _lines_of(path, self.whom, each.players):
                    say(console, f"Yours to change: {path}, line {number}: {line}")
        here = [path for path in films if path.is_file()]
        if here:
            kept = "it would be measured again" if self.whom.whole else "it is passed over from now"
            say(
                console,
                f"The film is still there ({kept}); --film deletes it: "
                f"{', '.join(map(str, here))}.",
            )
        for each in self.chosen:
            for cuts, _ in each.stretches:
                say(
                    console,
                    f"{cuts.film}: the long film still shows what was cut out of it; it is yours "
                    "to shorten or to delete.",
                )
        if self.whom.names:
            for each in self.chosen:
                if earlier := _earlier(each):
                    say(
                        console,
                        f"Gone, with its name on another clip, so that nobody knows who is in it: "
                        f"{', '.join(earlier)}; --clip forgets the figures that are kept of it.",
                    )
            say(console, BACKGROUND)
        say(console, OUT_OF_REACH)

    @property
    def _folders(self) -> list[Path]:
        return list(dict.fromkeys(each.folder for each in self.chosen))

    def _habits(self) -> list[Path]:
        """Those of every season that a practice lies in, however deep."""
        near, above = {self.place.resolve()}, {*self.place.absolute().parents}
        for each in self.chosen:
            near |= {each.practice.folder, each.practice.folder.parent}
            above |= {*each.practice.folder.parents}
        folders = [place / names.HABITS_FOLDER for place in sorted(near)]
        # Far above may lie a folder of the same name that is none of posecheck's.
        far = (place / names.HABITS_FOLDER for place in sorted(above - near))
        folders += [each for each in far if os.path.lexists(each / names.HABITS_SHEET_FILE)]
        return [folder / name for folder in folders for name in HABITS_FILES]


# -- small steps -----------------------------------------------------------------------------------


def _lines_of(path: Path, whom: Whom, players: Sequence[Player]) -> list[tuple[int, str]]:
    """The lines of a settings file that name a player, or have his number for him."""
    if not whom.names:
        return []
    found = dict(lines_with(path, whom.names))
    numbers = "|".join(str(player.number) for player in players)
    his = re.compile(rf"\s*(number|defender|attacker)\s*=\s*({numbers})\s*(#.*)?")
    for number, line in enumerate(path.read_text("utf-8", "replace").splitlines(), 1):
        if players and his.fullmatch(line):
            found[number] = line.strip()
    return sorted(found.items())


def _films(chosen: Chosen) -> list[Path]:
    """The coach's own files with the film of clips, under whatever name; known by their content."""
    digests = set(chosen.digests)
    found = []
    if not chosen.practice.folder.is_dir():
        return []
    for path in find_clips([chosen.practice.folder]):
        try:
            if file_digest(path) in digests:
                found.append(path)
        except PosecheckError:
            continue  # unreadable: it was never measured
    return found


def _earlier(chosen: Chosen) -> list[str]:
    """Clips on record that go by no name of their own any more, by which notes would know them."""
    with Record(chosen.record) as record:
        return [
            chosen.practice.shown_name(path)
            for path, _ in record.clips(chosen.practice)
            if is_earlier(path)
        ]


def _records(chosen: Sequence[Chosen]) -> list[Path]:
    return [each.record for each in chosen if each.record.exists()]
