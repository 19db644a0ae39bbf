"""Take what is forgotten out of one folder of results, and out of what pages keep for the coach.

What shows somebody goes first, then what was measured, then the notes on the clips, by which they
are found; so a run that was cut short is carried on by running it again.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from rich.console import Console

from posecheck.cli.forget_choice import Chosen
from posecheck.cli.printing import say
from posecheck.errors import PosecheckError
from posecheck.files import names
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.pages.player_page import player_file
from posecheck.pages.publish import write_page
from posecheck.pages.rep_data import REPS_FOLDER
from posecheck.practice.clips_file import write_clips
from posecheck.practice.cuts import SetStretch, StretchKind
from posecheck.practice.reading import read_practice, read_said
from posecheck.practice.set_cuts import read_set, write_set
from posecheck.store.files_of_clip import DIGEST_CHARS, files_of, files_of_no_clip, remove
from posecheck.store.record import Record
from posecheck.video.own_film import is_own_film
from posecheck.web.links import SHARING_FILE, Links

TOP_FILES = (
    names.PAGE_FILE,
    names.CLIPBOARD_FILE,
    names.FILMS_PAGE_FILE,
    names.LOG_FILE,
    SHARING_FILE,
)
"""Files of a folder of results that are written right into it, besides the record."""

FOLDERS = (
    names.KEYPOINTS_FOLDER,
    names.SERIES_FOLDER,
    names.PICTURES_FOLDER,
    names.CLIPS_FOLDER,
    names.STILLS_FOLDER,
    names.CUTS_FOLDER,
    names.FILM_STRIPS_FOLDER,
    names.PLAYERS_FOLDER,
    REPS_FOLDER,
)
"""Folders in it."""


def forget_in(chosen: Chosen) -> int:
    """Take everything out of one folder of results; how many files went."""
    if chosen.whole:
        return len(remove(list(files_that_go(chosen))))
    removed = len(remove(files_that_go(chosen)))
    with Record(chosen.record) as record:
        record.forget(chosen.digests)
        for digest in _come_with_film(chosen):
            record.measure_again(digest)
    if (chosen.folder / SHARING_FILE).exists():
        links = Links.read(chosen.folder)
        for player in chosen.players:
            links.revoke(player.number)
    _forget_notes(chosen)
    return removed


def _come_with_film(chosen: Chosen) -> Iterator[str]:
    """Clips that are known by the mark of the long film that goes with them: should the film be
    measured again, so are they."""
    own = {each.cut for film in chosen.films for each in film.stretches if each.cut is not None}
    cuts = {chosen.folder / names.CUTS_FOLDER / cut for cut in own}
    return (digest for path, digest in chosen.clips if path in cuts)


def files_that_go(chosen: Chosen) -> Iterator[Path]:
    """Every file of posecheck's that goes, pages among them: they are written again."""
    folder = chosen.folder
    found = dict.fromkeys(of_nobody(chosen))
    if chosen.whole:
        yield from (path for path in files_in(folder) if path in found or _is_own(path, chosen))
        return
    for digest in chosen.digests:
        found |= dict.fromkeys(files_of(folder, digest))
    for path, _ in chosen.clips:
        if path.is_relative_to(folder) and path.is_file():
            found[path] = None  # cut out of a long film
    for cuts, _ in chosen.stretches:  # pictures of the long film that they were cut out of
        strips = (path for path in files_of(folder, cuts.digest) if path.suffix != ".json")
        found |= dict.fromkeys(strips)
    pages = (names.PAGE_FILE, names.CLIPBOARD_FILE, names.FILMS_PAGE_FILE, names.LOG_FILE)
    others = [folder / name for name in pages]
    others += [player_file(folder, player) for player in (*chosen.players, *chosen.others)]
    others += [*(folder / REPS_FOLDER).glob("rep-*.html"), *folder.rglob(".*.part")]
    yield from dict.fromkeys([*found, *(path for path in others if path.is_file())])


def of_nobody(chosen: Chosen) -> Iterator[Path]:
    """Files of film that is not on record any more: whom it shows cannot be told, so it goes with
    whatever is forgotten."""
    if not chosen.record.exists():
        return
    with Record(chosen.record) as record:
        digests = record.digests()
    beside_clips = chosen.folder == chosen.practice.folder
    for path in files_of_no_clip(chosen.folder, digests):
        if not beside_clips or _is_drawn(path, chosen.folder):
            yield path


def _is_drawn(path: Path, folder: Path) -> bool:
    """Whether posecheck wrote a file where the coach may have folders of the same names."""
    kind = path.relative_to(folder).parts[0]
    if kind == names.CLIPS_FOLDER:
        return is_own_film(path)
    said = path.with_name(f"{re.sub(r'-(thumb|[0-9])$', '', path.stem)}.json")
    return kind != names.STILLS_FOLDER or said.exists()


def _forget_notes(chosen: Chosen) -> None:
    """Take what was said of the clips on pages out of the files that those pages write."""
    practice = chosen.practice
    if (practice.folder / names.CLIPS_FILE).exists():
        added, said = read_said(practice.folder, practice)
        keys = {practice.clip_key(path) for path, _ in chosen.clips}
        gone = {player.number for player in chosen.players}
        kept = {
            key: each
            for key, each in said.items()
            if key not in keys and not gone & {each.defender, each.attacker}
        }
        write_clips(
            practice.folder, [who for number, who in added.items() if number not in gone], kept
        )
    for cuts, stretches in chosen.stretches:
        set_by_coach = dict(read_set(practice.folder))
        none = [
            SetStretch(each.from_s, each.to_s, StretchKind.NONE, (each.from_s, each.to_s))
            for each in stretches
        ]
        left = [
            each
            for each in set_by_coach.get(cuts.film, ())
            if all(each.to_s <= new.from_s or new.to_s <= each.from_s for new in none)
        ]
        set_by_coach[cuts.film] = (*left, *none)
        write_set(practice.folder, set_by_coach)


def pages_again(chosen: Chosen, console: Console) -> bool:
    """Write a practice's pages from what is left; False, with the reason, when that failed."""
    try:
        practice = read_practice(chosen.practice.folder)
        with Record(chosen.record) as record:
            limits = record.last_thresholds(practice) or DEFAULT_THRESHOLDS
            write_page(record, practice, limits, lambda fault: say(console, fault))
    except PosecheckError as error:
        say(console, str(error))
        return False
    return True


def take_away_empty(folders: Iterable[Path]) -> None:
    """Remove folders of results in which nothing is left, once nobody holds them."""
    for results in folders:
        (results / names.LOCK_FILE).unlink(missing_ok=True)
        inside = [path for path in sorted(results.rglob("*"), reverse=True) if path.is_dir()]
        for folder in [*inside, results]:
            with suppress(OSError):  # something of somebody else lies in it
                folder.rmdir()


def _is_own(path: Path, chosen: Chosen) -> bool:
    """Whether posecheck wrote a file of a folder of results; the coach may have put others there,
    and once could have the results beside his clips."""
    first, *rest = path.relative_to(chosen.folder).parts
    if not rest:
        return first.startswith((names.RECORD_FILE, *TOP_FILES)) or path.suffix == ".part"
    marks = (digest[:DIGEST_CHARS] for digest in chosen.digests)
    if is_own_film(path) or any(mark in path.name for mark in marks):
        return True
    if chosen.folder != chosen.practice.folder:
        return first in FOLDERS
    return first in (REPS_FOLDER, names.PLAYERS_FOLDER) and path.suffix == ".html"


def files_in(folder: Path) -> Iterator[Path]:
    """Every file below a folder, hidden ones too."""
    return (path for path in sorted(folder.rglob("*")) if path.is_file())
