"""From the record to what people open: the page, and the clips with the body drawn on.

Everything here can be made again from the record, so a fault here never costs a measure.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from posecheck.errors import ClipError
from posecheck.files.names import CLIPS_FOLDER
from posecheck.judging.thresholds import Thresholds
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.annotated import annotated_name, write_annotated_clip
from posecheck.pages.practice_page import write_practice_page
from posecheck.practice.practice import Practice
from posecheck.store.record import Record
from posecheck.video.clip import open_clip


def draw_clips(
    record: Record, practice: Practice, on_clip: Callable[[Path], None] = lambda path: None
) -> list[str]:
    """Draw the body on every rep whose annotated clip is missing or older than its measures.

    Args:
        record: of the practice; annotated clips go into its folder.
        practice: whose clips.
        on_clip: called with each clip when its reps are done.

    Returns:
        A sentence for each clip that could not be drawn.

    Raises:
        RecordError: the record cannot be read, or its folder not be written to.
    """
    faults = []
    for result in record.results(practice):
        wanted = _to_draw(record, result)
        try:
            if wanted:
                clip = open_clip(result.path, practice.slow_motion)
                for path, rep in wanted.items():
                    write_annotated_clip(clip, rep, path)
        except ClipError as error:
            faults.append(str(error))
        on_clip(result.path)
    return faults


def _to_draw(record: Record, result: ClipResult) -> dict[Path, RepResult]:
    """The reps of a clip that want drawing, by annotated clip."""
    measured = record.series_path(result).stat().st_mtime
    paths = {record.folder / CLIPS_FOLDER / annotated_name(result, rep): rep for rep in result.reps}
    return {
        path: rep
        for path, rep in paths.items()
        if not path.exists() or path.stat().st_mtime < measured
    }


def write_page(record: Record, practice: Practice, thresholds: Thresholds) -> Path:
    """Write the practice's page from the record.

    Args:
        record: of the practice, with every rep judged.
        practice: as described now.
        thresholds: those judged with.

    Raises:
        RecordError: the record cannot be read, or its folder not be written to.
    """
    results = list(record.results(practice))
    judged = [
        (result, rep, verdicts[rep.number])
        for result in results
        for verdicts in [record.verdicts(result.clip_digest)]
        for rep in result.reps
    ]
    faults = [result for result in results if result.fault is not None]
    return write_practice_page(practice, judged, faults, thresholds, record.folder)
