"""Check many clips: several at once, nothing twice, and no clip can spoil another.

Each worker is a process of its own that keeps one pose model open for its life. What a worker
measures is handed back and saved here, one clip at a time, so that a run that is stopped or
killed keeps everything it has finished.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import json
import math
import multiprocessing as mp
import os
import signal
import threading
import traceback
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from posecheck import __version__
from posecheck.errors import ClipError, ModelError, PosecheckError, RecordError, UsageError
from posecheck.files.digest import file_digest
from posecheck.measures.result import ClipResult, Provenance
from posecheck.pipeline.check import Settings, measure_clip
from posecheck.pose.model_files import pose_model_path, variants
from posecheck.practice.practice import Practice
from posecheck.store.record import Record

LOG_FILE = "posecheck.log"
"""In the output folder: what happened inside when posecheck itself failed."""

MeasureClip = Callable[[Path, Practice, Settings, Any], ClipResult]
OpenReader = Callable[[Settings], Any]


class Source(StrEnum):
    """Where a clip's result comes from."""

    MEASURED = "measured"
    ON_RECORD = "on record"
    """Measured by an earlier run with the same settings."""
    COPY = "copy"
    """The same film under a second name."""


@dataclass(frozen=True)
class Checked:
    """A clip that is done with.

    Attributes:
        path: the clip.
        source: where its result comes from.
        result: None for a copy, whose result goes by the name of ``copy_of``.
        copy_of: the clip that holds the same film.
    """

    path: Path
    source: Source
    result: ClipResult | None
    copy_of: Path | None = None


@dataclass(frozen=True)
class _Job:
    path: Path
    clip_digest: str
    settings_digest: str


def open_reader(settings: Settings) -> Any:
    """Open the pose model that the settings name."""
    from posecheck.pose.reader import PoseReader

    return PoseReader(pose_model_path(settings.model, settings.models_folder))


def check_clips(
    paths: Iterable[Path],
    practice: Practice,
    settings: Settings,
    record: Record,
    jobs: int = 1,
    on_result: Callable[[Checked], None] = lambda checked: None,
    *,
    afresh: bool = False,
    measure: MeasureClip = measure_clip,
    open_reader: OpenReader = open_reader,
) -> None:
    """Measure clips and save their results.

    A clip that cannot be measured gets a result whose ``fault`` says why, and the others go on.

    Args:
        paths: the clips.
        practice: they belong to.
        settings: of the measuring.
        record: that keeps the results; what is in it already is not measured again.
        jobs: how many clips at once.
        on_result: told of each clip as soon as it is saved, in the order they finish.
        afresh: measure also what is on record.
        measure: the work on one clip; runs in a worker.
        open_reader: opens what ``measure`` gets as its last argument; once for each worker.

    Raises:
        ModelError: the pose model cannot be opened.
        RecordError: a result cannot be saved.
    """
    # Of two copies the one that the coach has said something of gives the name.
    ordered = sorted(paths, key=lambda path: practice.clip_key(path) not in practice.notes)
    first_name: dict[str, Path] = {}

    def to_measure() -> Iterator[_Job]:
        for path in ordered:
            try:
                digest = file_digest(path)
            except ClipError as error:
                digest = hashlib.sha256(f"unread {practice.clip_key(path)}".encode()).hexdigest()
                keep(_Job(path, digest, ""), error)
                continue
            if digest in first_name:
                on_result(Checked(path, Source.COPY, None, first_name[digest]))
                continue
            first_name[digest] = path
            job = _Job(path, digest, measuring_digest(settings, practice, path))
            if afresh:
                _forget_keypoints(settings, digest)
            elif known := _on_record(record, practice, job):
                on_result(Checked(path, Source.ON_RECORD, known))
                continue
            yield job

    def keep(job: _Job, outcome: ClipResult | BaseException) -> None:
        result = _settled(job, outcome, settings, record.folder)
        record.save(practice, result)
        on_result(Checked(job.path, Source.MEASURED, result))

    with _workers(jobs, (measure, open_reader, practice, settings)) as workers:
        for job, outcome in _spread(to_measure(), workers):
            keep(job, outcome)


def measuring_digest(settings: Settings, practice: Practice, clip: Path) -> str:
    """SHA-256 over everything that could change what is measured in a clip, hexadecimal.

    Of the practice that is the layout, the marks, the spot and the players' heights; not the
    plan, the names or the strong hands, which only judging and pages look at.
    """
    notes = practice.notes_for(clip)
    told = {
        "settings": settings.digest(),
        "points": dict(practice.layout.points),
        "cones": sorted(practice.layout.cones),
        "goal": practice.layout.goal,
        "slow_motion": practice.slow_motion,
        "view": None if notes.view is None else dataclasses.asdict(notes.view),
        "spot": notes.spot,
        "heights_m": [
            None if player is None else player.height_m
            for player in (notes.defender, notes.attacker)
        ],
    }
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()


# -- results -------------------------------------------------------------------------------------


def _settled(
    job: _Job, outcome: ClipResult | BaseException, settings: Settings, folder: Path
) -> ClipResult:
    """The result to save: as measured, or with a fault in place of reps."""
    if isinstance(outcome, ClipResult):
        made = dataclasses.replace(outcome.provenance, settings_digest=job.settings_digest)
        return dataclasses.replace(outcome, path=job.path, provenance=made)
    if isinstance(outcome, ClipError):
        return _faulty(job, str(outcome), settings, job.settings_digest)
    if isinstance(outcome, PosecheckError):
        return _faulty(job, str(outcome), settings, "")
    if isinstance(outcome, BrokenProcessPool | MemoryError):
        error = ClipError(
            job.path,
            "its worker was stopped from outside, most likely because memory ran out",
            "close other programs or use --jobs 1, then run the same command again",
        )
    else:
        log = log_failure(folder, str(job.path), outcome)
        error = ClipError(
            job.path,
            f"posecheck itself failed on it ({_named(outcome)})",
            f"please report this with the file {log.name} from the output folder",
        )
    # Without the settings' digest the next run takes the clip up again.
    return _faulty(job, str(error), settings, "")


def _faulty(job: _Job, fault: str, settings: Settings, settings_digest: str) -> ClipResult:
    model_digest = variants()[settings.model].bundle_sha256
    return ClipResult(
        path=job.path,
        clip_digest=job.clip_digest,
        width_px=0,
        height_px=0,
        n_frames=0,
        duration_s=math.nan,
        rate_hz=math.nan,
        reps=(),
        fault=fault,
        provenance=Provenance(__version__, settings.model, model_digest, settings_digest),
    )


def _on_record(record: Record, practice: Practice, job: _Job) -> ClipResult | None:
    """What an earlier run measured, under the clip's name of today."""
    if not record.has(job.clip_digest, job.settings_digest):
        return None
    record.moved(practice, job.clip_digest, job.path)
    try:
        return record.load(job.clip_digest)
    except RecordError:
        return None  # a file beside the database is gone or damaged: measuring mends it


def _forget_keypoints(settings: Settings, clip_digest: str) -> None:
    if settings.keypoints_folder is not None:
        for file in settings.keypoints_folder.glob(f"{clip_digest[:16]}-*.parquet"):
            file.unlink()


def _named(error: BaseException) -> str:
    text = " ".join(str(error).split())
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def log_failure(folder: Path, what: str, error: BaseException) -> Path:
    """Add to an output folder's log what happened inside; the log's path."""
    log = folder / LOG_FILE
    now = dt.datetime.now().astimezone().isoformat(timespec="seconds")
    with log.open("a", encoding="utf-8") as file:
        file.write(f"{now} posecheck {__version__} {what}\n")
        file.writelines(traceback.format_exception(error))
        file.write("\n")
    return log


# -- workers -------------------------------------------------------------------------------------


class _Worker:
    """One process that measures one clip after another; replaced when it dies.

    Each worker has an executor of its own, so that a death is put down to the right clip.
    """

    def __init__(self, initargs: tuple[Any, ...]) -> None:
        self._initargs = initargs
        self._executor = self._started()

    def _started(self) -> ProcessPoolExecutor:
        # "spawn": the pose model's threads do not live through a fork.
        context = mp.get_context("spawn")
        # Each of those threads would keep a heap of its own, and a worker grow from clip to clip.
        os.environ.setdefault("MALLOC_ARENA_MAX", "2")
        return ProcessPoolExecutor(1, context, _start_worker, self._initargs)

    def submit(self, job: _Job) -> Future[ClipResult]:
        try:
            return self._executor.submit(_measure_in_worker, job.path)
        except BrokenProcessPool:
            self._executor = self._started()
            return self._executor.submit(_measure_in_worker, job.path)

    def stop(self, at_once: bool) -> None:
        self._executor.shutdown(wait=not at_once, cancel_futures=True)


@contextmanager
def _workers(jobs: int, initargs: tuple[Any, ...]) -> Iterator[list[_Worker]]:
    before = set(mp.active_children())
    workers = [_Worker(initargs) for _ in range(jobs)]
    try:
        yield workers
    except BaseException:
        # Stopped by the user or by a fault: what is in hand is given up.
        for worker in workers:
            worker.stop(at_once=True)
        for process in set(mp.active_children()) - before:
            process.terminate()
        raise
    for worker in workers:
        worker.stop(at_once=False)


def _spread(
    jobs: Iterator[_Job], workers: list[_Worker]
) -> Iterator[tuple[_Job, ClipResult | BaseException]]:
    """Give each worker a new job as soon as it is free; yield outcomes as they come."""
    idle = list(workers)
    busy: dict[Future[ClipResult], tuple[_Worker, _Job]] = {}
    while True:
        while idle and (job := next(jobs, None)) is not None:
            worker = idle.pop()
            busy[worker.submit(job)] = (worker, job)
        if not busy:
            return
        done, _ = wait(busy, return_when=FIRST_COMPLETED)
        for future in done:
            worker, job = busy.pop(future)
            idle.append(worker)
            error = future.exception()
            if isinstance(error, ModelError | UsageError):
                raise error  # the other clips would fail likewise
            yield job, future.result() if error is None else error


_work: tuple[MeasureClip, OpenReader, Practice, Settings]
_reader: Any = None


def _start_worker(
    measure: MeasureClip, open_reader: OpenReader, practice: Practice, settings: Settings
) -> None:
    global _work
    _work = (measure, open_reader, practice, settings)
    # Ctrl-C is for the parent, which stops its workers in an orderly way.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """A worker whose parent was killed would wait for work for ever."""
    if (parent := mp.parent_process()) is not None:
        parent.join()
        os._exit(1)


def _measure_in_worker(path: Path) -> ClipResult:
    global _reader
    measure, open_reader, practice, settings = _work
    if _reader is None:
        _reader = open_reader(settings)
    return measure(path, practice, settings, _reader)
