"""From the record to what people open: the page, and the clips with the body drawn on.

Everything here can be made again from the record, so a fault here never costs a measure.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from posecheck.errors import RecordError
from posecheck.files.names import PLAYERS_FOLDER
from posecheck.judging.thresholds import Thresholds
from posecheck.measures.result import ClipResult
from posecheck.pages.clipboard import write_clipboard
from posecheck.pages.draw_tasks import drawing_of, fault_words, strips_of
from posecheck.pages.film_strip import cut_outs, write_films_page
from posecheck.pages.player_page import clips_shown, player_file
from posecheck.pages.practice_page import write_practice_page
from posecheck.pages.rep_page import write_rep_pages
from posecheck.pages.rep_view import RepView, view_rep
from posecheck.pages.running import Running
from posecheck.practice.found_cuts import read_cuts
from posecheck.practice.practice import Practice
from posecheck.practice.set_cuts import read_set
from posecheck.store.files_of_clip import pictures_of, remove
from posecheck.store.record import Record


def draw_clips(
    record: Record, practice: Practice, on_clip: Callable[[Path], None] = lambda path: None
) -> list[str]:
    """Draw annotated clip and small pictures of every rep that wants them, and strips of long
    films.

    What is missing, broken, or older than measures or drawing code is drawn; where the film is
    gone, what was drawn before stays.

    Args:
        record: of the practice; pictures and clips go into its folder.
        practice: whose clips.
        on_clip: called with each clip when its reps are done.

    Returns:
        A sentence for each clip that could not be drawn.

    Raises:
        RecordError: the record cannot be read.
    """
    try:
        faults = [fault for task in strips_of(record, practice) for fault in task.run()]
    except Exception as error:
        faults = [fault_words(record.folder, "The strips of long films could not be made", error)]
    for path, digest in record.clips(practice, taken_away=False):
        try:
            task = drawing_of(record, practice, record.load(digest))
            faults += [] if task is None else task.run()
        except Exception as error:
            faults.append(fault_words(record.folder, f"{path.name} could not be drawn on", error))
        on_clip(path)
    return faults


def take_away(record: Record, practice: Practice) -> list[Path]:
    """Take whatever shows a clip that is no longer there out of the output folder.

    Its measures stay on record, so that nobody's habits are lost with a film, and it comes back
    when the clip does.

    Returns:
        The clips that were there last time, and measured.

    Raises:
        RecordError: the record cannot be written to.
    """
    gone = [
        (path, digest)
        for path, digest in record.clips(practice, taken_away=False)
        if not os.path.lexists(path)
    ]
    measured = [path for path, digest in gone if record.outline(digest).fault is None]
    for path, digest in gone:
        record.take_away(digest)
        player = practice.notes_for(path).defender
        own = [] if player is None else [player_file(record.folder, player)]
        remove([*own, *pictures_of(record.folder, digest)])
    return measured


def write_page(
    record: Record,
    practice: Practice,
    thresholds: Thresholds,
    on_fault: Callable[[str], object] = lambda sentence: None,
    running: Running | None = None,
) -> Path:
    """Write the practice's page, those of its reps and the sheet for the clipboard from the record.

    A rep that cannot be shown costs itself, and the page says so.

    Args:
        record: of the practice, with every rep judged.
        practice: as described now.
        thresholds: those judged with.
        on_fault: called with a sentence for each rep that cannot be shown.
        running: how far the check is, if it goes on.

    Raises:
        RecordError: the record cannot be read, or its folder not be written to.
    """
    practice = practice.with_clips(path for path, _ in record.clips(practice))
    not_shown: list[str] = []

    def lost(clip: str, error: Exception) -> None:
        not_shown.append(fault_words(record.folder, f"{clip} cannot be shown", error))
        on_fault(not_shown[-1])

    _take_back(record, practice)
    views, faults = _viewed(record, practice, thresholds, lost)
    undrawn = set()
    for view in views:
        try:
            view.draw()
        except Exception as error:
            lost(f"{view.result.path.name}: rep {view.rep.number}", error)
            undrawn.add(view.number)
    views = [view for view in views if view.number not in undrawn]
    not_written = write_rep_pages(views, practice, record.folder)
    for view in views:
        if view.number in not_written:
            lost(f"{view.result.path.name}: rep {view.rep.number}", not_written[view.number])
    views = [view for view in views if view.number not in not_written]
    try:
        write_clipboard(practice, views, record.folder)
    except Exception as error:
        on_fault(fault_words(record.folder, "The sheet for the clipboard cannot be written", error))
    try:
        _write_films(record, practice, views, faults)
    except Exception as error:
        on_fault(fault_words(record.folder, "The page of long films cannot be written", error))
    return write_practice_page(
        practice, views, faults, thresholds, record.folder, not_shown, running
    )


def write_films(record: Record, practice: Practice, thresholds: Thresholds) -> None:
    """Write the page of long films alone, as :func:`write_page` does.

    Raises:
        SettingsError: what the coach set cannot be used.
        RecordError: the record cannot be read, or its folder not be written to.
    """
    practice = practice.with_clips(path for path, _ in record.clips(practice))
    views, faults = _viewed(record, practice, thresholds, lambda clip, error: None)
    _write_films(record, practice, views, faults)


def _take_back(record: Record, practice: Practice) -> None:
    """Remove the own files of players that show a clip which is not theirs any more: somebody else
    was named in it since, or nobody."""
    for path in sorted((record.folder / PLAYERS_FOLDER).glob("player-*.html")):
        own = {
            digest
            for clip, digest in record.clips(practice, taken_away=False)
            for player in [practice.notes_for(clip).defender]
            if player is not None and path == player_file(record.folder, player)
        }
        if not own or not clips_shown(path) <= own:
            remove([path])


def _write_films(
    record: Record, practice: Practice, views: list[RepView], faults: list[ClipResult]
) -> None:
    films, his = read_cuts(record.folder), read_set(practice.folder)
    came = cut_outs(views, faults, record.folder, practice.units)
    write_films_page(practice, films, his, came, record.folder)


def _viewed(
    record: Record,
    practice: Practice,
    thresholds: Thresholds,
    lost: Callable[[str, Exception], object],
) -> tuple[list[RepView], list[ClipResult]]:
    """Every rep on record that can be shown, by number, and the clips without any.

    ``lost`` is called for each clip and rep that cannot be shown.
    """
    faults: list[ClipResult] = []
    views: list[RepView] = []
    number = 0
    rulings = record.rulings(practice)
    for path, digest in record.clips(practice, taken_away=False):
        outline = record.outline(digest)
        if outline.fault is not None:
            faults.append(outline)
            continue
        try:
            result, verdicts = record.load(digest), record.verdicts(digest)
        except RecordError as error:
            lost(path.name, error)
            continue
        for rep in result.reps:
            number += 1
            try:
                judged = (result, rep, verdicts[rep.number])
                ruling = rulings.get((digest, rep.number))
                view = view_rep(number, practice, judged, thresholds, record.folder, ruling)
            except Exception as error:
                lost(f"{path.name}: rep {rep.number}", error)
            else:
                views.append(view)
    return views, faults
