"""Worker processes that measure clips, several at once, each replaced when it dies.

Each worker keeps one pose model open for its life.
"""

from __future__ import annotations

import multiprocessing as mp
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from posecheck.errors import ModelError, UsageError
from posecheck.measures.result import ClipResult, Provenance
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice

MeasureClip = Callable[[Path, Practice, Settings, Any], ClipResult]
OpenReader = Callable[[Settings], Any]


@dataclass(frozen=True)
class Work:
    """What every worker does with a clip.

    Attributes:
        measure: the work on one clip; gets path, practice, settings and the reader.
        open_reader: opens the reader; called once in each worker.
        practice: the clips belong to.
        settings: of the measuring.
    """

    measure: MeasureClip
    open_reader: OpenReader
    practice: Practice
    settings: Settings


@dataclass(frozen=True)
class Job:
    """One clip to measure.

    Attributes:
        path: the clip.
        clip_digest: SHA-256 of its content.
        provenance: how it is to be measured.
    """

    path: Path
    clip_digest: str
    provenance: Provenance


class Worker:
    """One process that measures one clip after another; replaced when it dies.

    Each worker has an executor of its own, so that it is known which clip a process died of.
    """

    def __init__(self, work: Work) -> None:
        self._work = work
        self._executor = self._started()

    def _started(self) -> ProcessPoolExecutor:
        # "spawn": the pose model's threads do not live through a fork.
        context = mp.get_context("spawn")
        # Each of those threads would keep a heap of its own, and a worker grow from clip to clip.
        os.environ.setdefault("MALLOC_ARENA_MAX", "2")
        return ProcessPoolExecutor(1, context, _start_worker, (self._work,))

    def submit(self, job: Job) -> Future[ClipResult]:
        """Begin a job; the future raises what the measuring raised."""
        try:
            return self._executor.submit(_measure_in_worker, job.path)
        except BrokenProcessPool:
            self._executor = self._started()
            return self._executor.submit(_measure_in_worker, job.path)

    def stop(self, at_once: bool) -> None:
        """End the process, after the job in hand unless ``at_once``."""
        self._executor.shutdown(wait=not at_once, cancel_futures=True)


@contextmanager
def worker_processes(n_workers: int, work: Work) -> Iterator[list[Worker]]:
    """Workers for the block; none is left when it ends, and none goes on when it fails."""
    before = set(mp.active_children())
    workers = [Worker(work) for _ in range(n_workers)]
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


def measured(
    jobs: Iterator[Job], workers: list[Worker]
) -> Iterator[tuple[Job, ClipResult | BaseException]]:
    """Give each worker a new job as soon as it is free; yield outcomes as they come.

    Raises:
        ModelError, UsageError: no worker could measure anything.
    """
    idle = list(workers)
    busy: dict[Future[ClipResult], tuple[Worker, Job]] = {}
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


# -- inside a worker -----------------------------------------------------------------------------

_work: Work
_reader: Any = None


def _start_worker(work: Work) -> None:
    global _work
    _work = work
    # Ctrl-C is for the parent, which stops its workers itself.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """A worker whose parent was killed would wait for work for ever."""
    if (parent := mp.parent_process()) is not None:
        parent.join()
        os._exit(1)


def _measure_in_worker(path: Path) -> ClipResult:
    global _reader
    if _reader is None:
        _reader = _work.open_reader(_work.settings)
    return _work.measure(path, _work.practice, _work.settings, _reader)
