"""Measuring one clip as a task, and the result to keep whatever came of it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from posecheck.errors import ClipError, PosecheckError
from posecheck.files.failure_log import log_failure
from posecheck.measures.result import ClipResult, Provenance
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.tasks import Task, TookTooLong, WorkerDied
from posecheck.practice.practice import Practice

MeasureClip = Callable[[Path, Practice, Settings, Any], ClipResult]
OpenReader = Callable[[Settings], Any]


@dataclass(frozen=True)
class MeasureTask(Task):
    """Measure one clip.

    Attributes:
        digest: SHA-256 of its content.
        provenance: how it is to be measured.
        practice: it belongs to.
        settings: of the measuring.
        measure: does it.
    """

    digest: str
    provenance: Provenance
    practice: Practice
    settings: Settings
    measure: MeasureClip

    needs_reader = True

    def run(self, reader: Any) -> ClipResult:
        """Measure the clip.

        Raises:
            ClipError: it cannot be measured.
        """
        return self.measure(self.path, self.practice, self.settings, reader)


def measure_clip(path: Path, practice: Practice, settings: Settings, reader: Any) -> ClipResult:
    """Measure a clip; what that needs is loaded by the workers alone."""
    from posecheck.pipeline import measure

    return measure.measure_clip(path, practice, settings, reader)


def open_reader(settings: Settings) -> Any:
    """Open the pose model that the settings name."""
    from posecheck.pipeline import read

    return read.open_reader(settings)


def settled(job: MeasureTask, outcome: object, folder: Path) -> ClipResult:
    """The result to save: as measured, or with a fault in place of reps.

    Args:
        job: that was done.
        outcome: what came of it, as :meth:`~posecheck.pipeline.tasks.Workers.outcomes` gives it.
        folder: of the results, for the log of what failed.
    """
    if isinstance(outcome, ClipResult):
        return outcome
    if isinstance(outcome, ClipError):
        return _faulty(job, str(outcome), job.provenance)
    if isinstance(outcome, PosecheckError):
        return _faulty(job, str(outcome), unfinished(job.provenance))
    if isinstance(outcome, WorkerDied | MemoryError):
        again = " twice" if isinstance(outcome, WorkerDied) else ""
        error = ClipError(
            job.path,
            f"its worker was stopped from outside{again}, most likely because memory ran out",
            "close other programs or use --jobs 1, then run the same command again",
        )
    elif isinstance(outcome, TookTooLong):
        error = ClipError(
            job.path,
            f"it was given up twice, {outcome}",
            "copy it from the phone again",
        )
    else:
        assert isinstance(outcome, BaseException)
        log = log_failure(folder, str(job.path), outcome)
        error = ClipError(
            job.path,
            f"posecheck itself failed on it ({_named(outcome)})",
            f"please report this with the file {log.name} from the output folder",
        )
    return _faulty(job, str(error), unfinished(job.provenance))


def unfinished(made: Provenance) -> Provenance:
    """The same without the key of its measures, so that the next run measures the clip again."""
    return dataclasses.replace(made, settings_digest="")


def _faulty(job: MeasureTask, fault: str, made: Provenance) -> ClipResult:
    return ClipResult(
        path=job.path,
        clip_digest=job.digest,
        width_px=0,
        height_px=0,
        n_frames=0,
        duration_s=math.nan,
        rate_hz=math.nan,
        reps=(),
        fault=fault,
        provenance=made,
    )


def _named(error: BaseException) -> str:
    text = " ".join(str(error).split())
    return f"{type(error).__name__}: {text}" if text else type(error).__name__
