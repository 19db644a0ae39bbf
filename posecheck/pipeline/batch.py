"""Check many clips: several at once, nothing twice, and a bad clip costs only itself.

What a worker measures is handed back and saved here, one clip at a time, so that a run that is
stopped or killed keeps everything it has finished.
"""

from __future__ import annotations

import dataclasses
import os
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import Protocol

from posecheck.errors import ClipError, RecordError, SeveralPlaces
from posecheck.files.digest import bytes_digest, file_digest
from posecheck.measures.result import ClipResult, Provenance
from posecheck.pipeline.capacity import processors
from posecheck.pipeline.films import LongFilms, ScanTask
from posecheck.pipeline.limits import MOST_THREADS, limit_s, quiet_s
from posecheck.pipeline.measure_task import (
    MeasureClip,
    MeasureTask,
    OpenReader,
    measure_clip,
    open_reader,
    settled,
    unfinished,
)
from posecheck.pipeline.provenance import provenance
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.tasks import AskedAgain, Task, Workers
from posecheck.pipeline.workers import worker_processes
from posecheck.practice.practice import Practice
from posecheck.scan.scan_film import PartRuns
from posecheck.scan.watch import Watched
from posecheck.store.keypoints import forget_keypoints
from posecheck.store.record import Record


class Source(StrEnum):
    """Where a clip's result comes from."""

    MEASURED = "measured"
    ON_RECORD = "on record"
    """Measured by an earlier run with the same settings."""
    COPY = "copy"
    """The same film under a second name."""
    FORGOTTEN = "forgotten"
    """Not to be measured, since everything of it was taken out of the record on request."""
    SCANNED = "scanned"
    """A long film: its reps are cut out of it, and are clips."""
    NO_REP = "no rep"
    """Cut out of a long film, and no rep: listed with its film."""
    UNREADABLE = "unreadable"
    """Not to be read now; what an earlier run measured of it stays on record."""


@dataclass(frozen=True)
class Checked:
    """A clip that is done with.

    Attributes:
        path: the clip.
        source: where its result comes from.
        result: None for a copy, whose result goes by the name of ``copy_of``, for a clip that was
            forgotten, for a long film and for what is no rep in it.
        copy_of: the clip that holds the same film.
    """

    path: Path
    source: Source
    result: ClipResult | None
    copy_of: Path | None = None


class OtherWork(Protocol):
    """Work of other kinds for the workers that measure, such as drawing on what is measured."""

    def next_task(self, last: bool) -> Task | None:
        """The next thing to do, before any further clip is measured; None when there is none now.

        Args:
            last: no clip is left to measure, and none is being measured.
        """
        ...

    def done(self, task: Task, outcome: object) -> None:
        """Take what came of it, as :meth:`Workers.outcomes` gives it."""
        ...


def check_clips(
    paths: Iterable[Path],
    practice: Practice,
    settings: Settings,
    record: Record,
    jobs: int = 1,
    on_result: Callable[[Checked], None] = lambda checked: None,
    *,
    afresh: bool = False,
    whole: bool = False,
    measure: MeasureClip = measure_clip,
    open_reader: OpenReader = open_reader,
    workers: Workers | None = None,
    on_tick: Callable[[], object] = lambda: None,
    besides: OtherWork | None = None,
    on_frames: Callable[[Task, int], object] = lambda task, frames: None,
    more: Callable[[], Sequence[Path]] = tuple,
    on_more: Callable[[Sequence[Path]], object] = lambda clips: None,
) -> None:
    """Measure clips and save their results.

    A clip that cannot be measured gets a result whose ``fault`` says why, and the others go on. A
    long film is scanned, and what is cut out of it are further clips.

    Args:
        paths: the clips.
        practice: they belong to.
        settings: of the measuring.
        record: that keeps the results; what is in it already is not measured again.
        jobs: how many clips at once, in processes of this machine.
        on_result: called with each clip as soon as it is saved, in the order they finish.
        afresh: measure also what is on record.
        whole: measure long films as they are too; none is scanned or cut.
        measure: the work on one clip; runs in a worker.
        open_reader: opens what ``measure`` gets as its last argument; once for each worker.
        workers: do the work instead of such processes; ``jobs`` and ``open_reader`` are theirs.
        on_tick: called about twice a second; what it raises ends everything.
        besides: what else the workers do.
        on_frames: called at each tick with every task in hand of such processes, and how many
            frames of its film have been gone through.
        more: asked, whenever a worker is free, for further clips that have come meanwhile.
        on_more: called with them, and with the clips that were cut out of a long film when it is
            scanned.

    Raises:
        ModelError: the pose model cannot be opened.
        RecordError: a result cannot be saved.
    """
    films = LongFilms(practice, settings, record.folder)
    # Of two copies the one that the practice has notes on gives the name.
    ordered = sorted(paths, key=lambda path: practice.clip_key(path) not in practice.notes)
    # A scan takes long, and the reps of the film wait for it.
    to_do = deque(sorted(ordered, key=lambda path: not films.is_long(path)))
    first_name: dict[str, Path] = {}
    read: dict[Path, tuple[object, str]] = {}  # digests, and how the file was when it was read
    to_cut: set[Path] = set()  # clips that turned out to be filmed from several places

    def task(path: Path, digest: str, made: Provenance) -> MeasureTask:
        name = practice.clip_key(path)
        limits = limit_s(path), quiet_s(path)
        return MeasureTask(
            name, path, limits[0], digest, made, practice, settings, measure, quiet_s=limits[1]
        )

    def digest_of(path: Path) -> str:
        """As :func:`file_digest`, which reads it all: once as long as the file stays as it is."""
        state = _state(path)
        if state is None or read.get(path, (None, ""))[0] != state:
            read[path] = state, file_digest(path)
        return read[path][1]

    def claim_names(found: Iterable[Path]) -> None:
        """Clips on record take the names they have now before any other is saved under one that
        was theirs."""
        if not record.digests():
            return
        here: dict[str, Path] = {}
        for path in found:
            on_tick()
            with suppress(ClipError):  # said when its turn comes
                here.setdefault(digest_of(path), path)
        record.claim_names(
            practice, {digest: path for digest, path in here.items() if digest not in first_name}
        )

    def beginning(path: Path) -> Task | None:
        """The task of measuring a clip or of scanning a film; None when it is settled without."""
        made = provenance(settings, practice, path)
        try:
            digest = digest_of(path)
        except ClipError as error:
            unreadable(path, made, error)
            return None
        again = films.is_clip(path) or path in to_cut
        to_cut.discard(path)
        if first_name.get(digest) == path and not again:
            return None  # copied here once more, and nothing has changed
        if digest in first_name and not again:
            on_result(Checked(path, Source.COPY, None, first_name[digest]))
            return None
        first_name[digest] = path
        if record.is_forgotten(digest):
            on_result(Checked(path, Source.FORGOTTEN, None))
            return None
        if not whole and films.is_film(path, digest) and not films.is_clip(path):
            clips = None if afresh else films.known(path, digest)
            if clips is None:
                return films.task(path, digest)
            cut(path, digest, clips)
            return None
        job = task(path, digest, made)
        if afresh:
            if settings.keypoints_folder is not None:
                forget_keypoints(settings.keypoints_folder, digest)
        elif known := _on_record(record, practice, job):
            films.is_rep(path, known)
            on_result(Checked(path, Source.ON_RECORD, known))
            return None
        return job

    in_hand = 0  # films that are being measured or scanned

    def next_task() -> Task | None:
        nonlocal in_hand
        if besides is not None and (other := besides.next_task(last=False)) is not None:
            return other
        if come := more():
            claim_names(come)
            to_do.extend(come)
            on_more(come)
        if (part := films.next_part()) is not None:
            in_hand += 1
            return part
        while to_do:
            if (job := beginning(to_do.popleft())) is not None:
                in_hand += 1
                return job
        return None if besides is None or in_hand else besides.next_task(last=True)

    def keep(job: MeasureTask, outcome: object) -> None:
        if not films.is_rep(job.path, outcome):
            _off_the_page(record, practice, job.digest)
            on_result(Checked(job.path, Source.NO_REP, None))
            return
        result = settled(job, outcome, record.folder)
        record.save(practice, result)
        on_result(Checked(job.path, Source.MEASURED, result))

    def unreadable(path: Path, made: Provenance, error: ClipError) -> None:
        """A file that cannot be read now, such as a link to a disk that is not there, costs nothing
        of what was measured of it."""
        digest = record.measured_as(practice, path)
        if digest is None:
            digest = bytes_digest(b"unread " + os.fsencode(practice.clip_key(path)))
            keep(task(path, digest, unfinished(made)), error)
            return
        stays = ClipError(
            path, error.fault, f"{error.remedy}; what was measured of it stays on record"
        )
        result = settled(task(path, digest, unfinished(made)), stays, record.folder)
        on_result(Checked(path, Source.UNREADABLE, result))

    def cut(path: Path, digest: str, clips: Sequence[Path]) -> None:
        """A film is cut: go on with its clips, which may be the film itself after all."""
        claim_names(clips)
        to_do.extendleft(reversed(clips))
        on_more(clips)
        if (nothing := films.shows_nothing(path, digest)) is not None:
            keep(task(path, digest, provenance(settings, practice, path)), nothing)
        elif path not in clips:
            _off_the_page(record, practice, digest)
            on_result(Checked(path, Source.SCANNED, None))

    def scanned(job: ScanTask, outcome: object) -> None:
        """A step of a film's scan has ended."""
        if isinstance(outcome, Watched | PartRuns):
            if films.step_done(job, outcome):
                cut(job.path, job.digest, films.scanned(job))
        elif films.given_up(job):
            keep(task(job.path, job.digest, provenance(settings, practice, job.path)), outcome)

    claim_names(ordered)
    with ExitStack() as own:
        if workers is None:
            # One worker alone reads on the processors that others would measure on.
            threads = min(max(1, processors() // jobs), MOST_THREADS)
            opens = partial(open_reader, dataclasses.replace(settings, threads=threads))
            workers = own.enter_context(worker_processes(jobs, opens, on_frames))
        for job, outcome in workers.outcomes(AskedAgain(next_task), on_tick):
            in_hand -= isinstance(job, MeasureTask | ScanTask)
            if isinstance(job, MeasureTask):
                several = isinstance(outcome, SeveralPlaces) and not whole
                if several and films.to_be_cut(job.path):
                    to_cut.add(job.path)
                    to_do.appendleft(job.path)
                else:
                    keep(job, outcome)
            elif isinstance(job, ScanTask):
                scanned(job, outcome)
            elif besides is not None:
                besides.done(job, outcome)


def _state(path: Path) -> tuple[int, ...] | None:
    """What changes whenever a file does; None when there is none to be seen."""
    try:
        now = path.stat()
    except OSError:
        return None
    return now.st_dev, now.st_ino, now.st_size, now.st_mtime_ns


def _on_record(record: Record, practice: Practice, job: MeasureTask) -> ClipResult | None:
    """What an earlier run measured, under the clip's name of today."""
    if not record.has(job.digest, job.provenance.settings_digest):
        return None
    record.moved(practice, job.digest, job.path)
    try:
        return record.load(job.digest)
    except RecordError:
        return None  # a file beside the database is gone or damaged: measuring writes it again


def _off_the_page(record: Record, practice: Practice, digest: str) -> None:
    """What was a clip by an earlier check, or by an earlier version, is none any more."""
    if any(known == digest for _, known in record.clips(practice, taken_away=False)):
        record.take_away(digest)
