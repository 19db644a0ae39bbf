"""Workers on the processors of this machine: processes that do one task after another.

One that dies or hangs costs its task, which is tried once more.
"""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from posecheck.errors import ModelError, UsageError
from posecheck.pipeline.frames_done import frames_done, written_at
from posecheck.pipeline.limits import KILL_S, LIMIT_GRACE_S, TICK_S, WORKER_BYTES
from posecheck.pipeline.tasks import Task, TookTooLong, WorkerDied, Workers, run_within_limit


@contextmanager
def worker_processes(
    n_workers: int,
    open_reader: Callable[[], Any],
    on_frames: Callable[[Task, int], object] = lambda task, frames: None,
) -> Iterator[Workers]:
    """Workers of this machine for the block; none is left when it ends, however it ends.

    Args:
        n_workers: how many tasks at once; no process is started before there is a task for it.
        open_reader: opens the pose model; called in each worker that is given a task with a need
            of it, once.
        on_frames: called at each tick with every task in hand, and how many frames of its film
            have been gone through.
    """
    with TemporaryDirectory(prefix="posecheck-", ignore_cleanup_errors=True) as folder:
        workers = [_Worker(open_reader, Path(folder, str(n))) for n in range(n_workers)]
        try:
            yield _LocalWorkers(workers, on_frames)
        finally:
            with _no_ctrl_c():  # whoever presses it twice leaves none behind
                for worker in workers:
                    worker.kill()


_WORKER_ENV = {
    # Each of the pose model's threads would keep a heap of its own, and a worker grow from clip
    # to clip.
    "MALLOC_ARENA_MAX": "2",
    # Blocks of 1 MB and more, which are pictures, get pages of their own and give them back.
    # In a heap small blocks that stay lie between them: some 300 MB of freed pictures stayed taken.
    "MALLOC_MMAP_THRESHOLD_": "1000000",
    # Matrices are small here: threads for them gain nothing, and wait for each other at full load
    # where other workers want the processors.
    "OPENBLAS_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    # So does OpenCV with as many threads as there are processors, in each of as many workers.
    "OPENCV_FOR_THREADS_NUM": "1",
}


@dataclass
class _InHand:
    worker: _Worker
    task: Task
    tries: int
    since: float
    frames: int = 0
    heard_at: float = 0.0
    overdue: bool = False

    @property
    def took_s(self) -> float:
        return time.monotonic() - self.since

    @property
    def quiet_s(self) -> float:
        """For how long its worker has gone through no frame."""
        return time.monotonic() - max(self.since, self.heard_at)

    def look(self) -> int:
        """See how many frames its worker has gone through."""
        frames = self.worker.frames()
        if frames != self.frames:
            self.frames, self.heard_at = frames, time.monotonic()
        return frames

    @property
    def too_long(self) -> TookTooLong | None:
        """Why it was given up, if it was; what its worker heard of is known to a tick or two."""
        if self.took_s >= self.task.limit_s:
            return TookTooLong.limit(self.task)
        if self.quiet_s >= self.task.quiet_s - 2 * TICK_S:
            return TookTooLong.quiet(self.task)
        return None


class _Worker:
    """A process that does one task after another; replaced when it dies.

    Each has an executor of its own, so that it is known which task a process died of.
    """

    def __init__(self, open_reader: Callable[[], Any], place: Path) -> None:
        self._open_reader = open_reader
        self._place = place
        self._executor: Any = None

    def submit(self, task: Task) -> Future[Any]:
        """Begin a task; the future raises what it raised."""
        with _no_ctrl_c():
            if self._executor is None:
                self._executor = self._started()
            try:
                return self._submitted(task)
            except BrokenProcessPool:  # it died idle
                self._executor = self._started()
                return self._submitted(task)

    def frames(self) -> int:
        """How many frames it has gone through for the task in hand."""
        return frames_done(self._place)

    def kill(self) -> None:
        """End the process at once, whatever it does; the next task starts another."""
        executor, self._executor = self._executor, None
        if executor is None:
            return
        # Loky tells nobody who they are.
        manager, pids = executor._executor_manager_thread, list(executor._processes)
        results = executor._result_queue
        executor.shutdown(wait=False, kill_workers=True)
        if manager is None:  # none was started
            return
        manager.join(KILL_S)
        if manager.is_alive():
            import psutil

            # It waits for the rest of a message that a worker died in the midst of. This process
            # holds the writing end too, so the pipe does not end by itself.
            for pid in pids:
                with suppress(psutil.NoSuchProcess):
                    psutil.Process(pid).kill()
            results._writer.close()
            manager.join(KILL_S)

    def _submitted(self, task: Task) -> Future[Any]:
        self._place.unlink(missing_ok=True)  # what it says is of the task before
        future: Future[Any] = self._executor.submit(_do, task)
        return future

    def _started(self) -> Any:
        from joblib.externals.loky import ProcessPoolExecutor

        return ProcessPoolExecutor(
            1,
            initializer=_start_worker,
            initargs=(self._open_reader, self._place),
            env={name: os.environ.get(name, value) for name, value in _WORKER_ENV.items()},
        )


class _LocalWorkers:
    def __init__(self, workers: list[_Worker], on_frames: Callable[[Task, int], object]) -> None:
        self._workers = workers
        self._on_frames = on_frames

    def outcomes(
        self, tasks: Iterator[Task], on_tick: Callable[[], object] = lambda: None
    ) -> Iterator[tuple[Task, Any]]:
        idle = list(self._workers)
        busy: dict[Future[Any], _InHand] = {}

        def begin(worker: _Worker, task: Task, tries: int) -> None:
            busy[worker.submit(task)] = _InHand(worker, task, tries, time.monotonic())

        while True:
            while idle and (task := next(tasks, None)) is not None:
                begin(idle.pop(), task, 1)
            if not busy:
                return
            done, _ = wait(busy, TICK_S, FIRST_COMPLETED)
            for each in busy.values():
                self._on_frames(each.task, each.look())
            on_tick()
            for future, each in busy.items():
                over_s = max(each.took_s - each.task.limit_s, each.quiet_s - each.task.quiet_s)
                if over_s > LIMIT_GRACE_S and future not in done:
                    # It does not even end itself: stopped from outside, or waiting for a disk.
                    each.overdue = True
                    each.worker.kill()
            for future in [each for each in busy if each in done or busy[each].overdue]:
                each = busy.pop(future)
                error = None if each.overdue else future.exception()
                if isinstance(error, ModelError | UsageError):
                    raise error
                lost = isinstance(error, BrokenProcessPool) or each.overdue
                if lost and each.tries == 1:
                    begin(each.worker, each.task, 2)
                    continue
                idle.append(each.worker)
                if lost:
                    yield each.task, each.too_long or WorkerDied()
                else:
                    yield each.task, future.result() if error is None else error


@contextmanager
def _no_ctrl_c() -> Iterator[None]:
    """The block is not interrupted, and processes started in it never see what is for the parent,
    which stops them itself."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGHUP})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


# -- inside a worker -----------------------------------------------------------------------------

_open_reader: Callable[[], Any]
_place: Path
_reader: Any = None


def _start_worker(open_reader: Callable[[], Any], place: Path) -> None:
    global _open_reader, _place
    from joblib.externals.loky import process_executor

    _open_reader, _place = open_reader, place
    # A worker that has grown by more is replaced after its task. The pose model, opened after
    # lighter tasks, is no leak.
    process_executor._MAX_MEMORY_LEAK_SIZE = WORKER_BYTES
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """A worker whose parent was killed would wait for work for ever."""
    import psutil

    parent = psutil.Process(os.getppid())
    while os.getppid() == parent.pid and parent.is_running():
        time.sleep(TICK_S)
    os._exit(1)


def _do(task: Task) -> Any:
    global _reader
    if task.needs_reader and _reader is None:
        _reader = _open_reader()
    with written_at(_place) as write:
        return run_within_limit(task, _reader if task.needs_reader else None, write)
