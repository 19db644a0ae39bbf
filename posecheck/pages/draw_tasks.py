"""Drawing as tasks for workers: on the reps of one clip, and the strip of one long film.

Everything drawn can be made again from the record, so a fault here never costs a measure.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from posecheck.errors import ClipError, PosecheckError, RecordError
from posecheck.files.failure_log import log_failure
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.drawing import draw_rep, made_by
from posecheck.pages.stills import drawn_path, is_whole, read_drawn, stills_of
from posecheck.pages.strip_pictures import draw_strips
from posecheck.pipeline.limits import limit_s
from posecheck.pipeline.tasks import Task
from posecheck.practice.cuts import FilmCuts, Stretch
from posecheck.practice.found_cuts import read_cuts
from posecheck.practice.practice import Practice
from posecheck.practice.set_cuts import read_set
from posecheck.store.record import Record
from posecheck.video.as_stored import NotAsStored
from posecheck.video.clip import Clip
from posecheck.video.opening import use_clip


@dataclass(frozen=True)
class DrawClip(Task):
    """Draw annotated clip and small pictures of a clip's reps.

    Attributes:
        result: of the clip.
        reps: those that want it.
        practice: it belongs to.
        folder: of the results.
    """

    result: ClipResult
    reps: tuple[RepResult, ...]
    practice: Practice
    folder: Path

    def run(self, reader: object = None) -> list[str]:
        """Draw; gives a sentence for whatever could not be.

        Raises:
            RecordError: the folder of results cannot be written to.
        """
        try:
            return use_clip(self.path, self.practice.slow_motion_for(self.path), self._drawn)
        except ClipError as error:
            return [str(error)]

    def _drawn(self, clip: Clip) -> list[str]:
        faults = []
        for rep in self.reps:
            try:
                draw_rep(clip, self.result, rep, self.folder, whole=self.practice.whole_picture)
            except (NotAsStored, RecordError):
                raise
            except ClipError as error:
                faults.append(str(error))
            except Exception as error:
                # A rep that defeats the drawing costs itself, never the others or the page.
                what = f"{self.path.name}: rep {rep.number} could not be drawn"
                faults.append(fault_words(self.folder, what, error))
        return faults


@dataclass(frozen=True)
class DrawFilm(Task):
    """Make the small pictures of a long film that are not there.

    Attributes:
        cuts: what was found in it.
        stretches: of it, as the coach has set them.
        folder: of the results.
    """

    cuts: FilmCuts
    stretches: tuple[Stretch, ...]
    folder: Path

    def run(self, reader: object = None) -> list[str]:
        """Draw; gives a sentence when that failed.

        Raises:
            RecordError: the folder of results cannot be written to.
        """
        try:
            draw_strips(self.path, self.cuts, self.stretches, self.folder)
        except RecordError:
            raise
        except Exception as error:
            return [fault_words(self.folder, f"{self.name}: no strip could be made", error)]
        return []


def drawing_of(record: Record, practice: Practice, result: ClipResult) -> DrawClip | None:
    """The task of drawing what a clip's reps want; None when they want nothing.

    Raises:
        RecordError: the record cannot be read.
    """
    now = made_by(practice.whole_picture)
    wanted = tuple(rep for rep in result.reps if _wants_drawing(record, result, rep, now))
    if not wanted:
        return None
    path = result.path
    return DrawClip(
        practice.clip_key(path), path, limit_s(path), result, wanted, practice, record.folder
    )


def strips_of(record: Record, practice: Practice) -> Iterator[DrawFilm]:
    """The tasks of drawing the strips of a practice's long films.

    Raises:
        RecordError: what was found in them cannot be read.
    """
    said = read_set(practice.folder)
    for cuts in read_cuts(record.folder):
        path = practice.folder / cuts.film
        stretches = tuple(cuts.as_set(said.get(cuts.film, ())))
        yield DrawFilm(cuts.film, path, limit_s(path), cuts, stretches, record.folder)


def fault_words(folder: Path, what: str, error: Exception) -> str:
    """One sentence on what went wrong; the log says the rest where posecheck itself failed."""
    if isinstance(error, PosecheckError):
        return f"{what}: {error}"
    log = log_failure(folder, what, error)
    return (
        f"{what} ({type(error).__name__}: {error}); for details see {log.name} in the output "
        "folder."
    )


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
