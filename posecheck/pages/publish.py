"""From the record to what people open: the page, and the clips with the body drawn on.

Everything here can be made again from the record, so a fault here never costs a measure.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from posecheck.errors import ClipError
from posecheck.files.failure_log import log_failure
from posecheck.judging.thresholds import Thresholds
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.clipboard import write_clipboard
from posecheck.pages.drawing import draw_rep, made_by
from posecheck.pages.practice_page import write_practice_page
from posecheck.pages.rep_view import view_rep
from posecheck.pages.stills import drawn_path, is_whole, read_drawn, stills_of
from posecheck.practice.practice import Practice
from posecheck.store.record import Record
from posecheck.video.clip import open_clip


def draw_clips(
    record: Record, practice: Practice, on_clip: Callable[[Path], None] = lambda path: None
) -> list[str]:
    """Draw annotated clip and small pictures of every rep that wants them.

    What is missing, broken, or older than measures or drawing code is drawn; where the film is
    gone, what was drawn before stays.

    Args:
        record: of the practice; pictures and clips go into its folder.
        practice: whose clips.
        on_clip: called with each clip when its reps are done.

    Returns:
        A sentence for each clip that could not be drawn.

    Raises:
        RecordError: the record cannot be read, or its folder not be written to.
    """
    faults: list[str] = []
    for result in record.results(practice):
        faults += _draw_clip(record, practice, result)
        on_clip(result.path)
    return faults


def _draw_clip(record: Record, practice: Practice, result: ClipResult) -> list[str]:
    """Draw what one clip's reps want; a sentence for whatever could not be."""
    whole = practice.whole_picture
    wanted = [rep for rep in result.reps if _wants_drawing(record, result, rep, made_by(whole))]
    if not wanted:
        return []
    try:
        clip = open_clip(result.path, practice.slow_motion)
    except ClipError as error:
        return [str(error)]
    faults = []
    for rep in wanted:
        try:
            draw_rep(clip, result, rep, record.folder, whole=whole)
        except ClipError as error:
            faults.append(str(error))
        except (ArithmeticError, LookupError, RuntimeError, ValueError) as error:
            # A rep that defeats the drawing costs itself, never the others or the page.
            log = log_failure(record.folder, f"{result.path.name}, rep {rep.number}", error)
            faults.append(
                f"{result.path.name}: rep {rep.number} could not be drawn "
                f"({type(error).__name__}: {error}); for details see {log.name} in the output "
                "folder."
            )
    return faults


def _wants_drawing(record: Record, result: ClipResult, rep: RepResult, now: str) -> bool:
    """Whether something of a rep was not drawn, is broken, is older than its measures, or was
    drawn by other code or settings than ``now``."""
    drawn = read_drawn(record.folder, result, rep)
    if drawn is None or drawn.made_by != now:
        return True
    said = drawn_path(record.folder, result, rep)
    if said.stat().st_mtime < record.series_path(result).stat().st_mtime:
        return True
    stills = drawn.stills
    there = stills_of(record.folder, result, rep)
    return there != stills or not is_whole(record.folder, result, rep, drawn)


def write_page(record: Record, practice: Practice, thresholds: Thresholds) -> Path:
    """Write the practice's page and the sheet for the clipboard from the record.

    Args:
        record: of the practice, with every rep judged.
        practice: as described now.
        thresholds: those judged with.

    Raises:
        RecordError: the record cannot be read, or its folder not be written to.
    """
    practice = practice.with_clips(path for path, _ in record.clips(practice))
    results = list(record.results(practice))
    judged = [
        (result, rep, verdicts[rep.number])
        for result in results
        for verdicts in [record.verdicts(result.clip_digest)]
        for rep in result.reps
    ]
    faults = [result for result in results if result.fault is not None]
    views = [
        view_rep(number, practice, each, thresholds, record.folder)
        for number, each in enumerate(judged, 1)
    ]
    write_clipboard(practice, views, record.folder)
    return write_practice_page(
        practice, judged, faults, thresholds, record.folder, record.rulings(practice)
    )
