"""Tasks in worker processes; what becomes of those that fail is in ``test_batch.py``."""

from __future__ import annotations

import ctypes
import os
import signal
import struct
import sys
import threading
import time
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import psutil
import pytest

from posecheck.maths.stopwatch import Stage, each_in_stage
from posecheck.pipeline import workers as workers_module
from posecheck.pipeline.tasks import AskedAgain, Task, TookTooLong
from posecheck.pipeline.workers import worker_processes

_kept: list[bytes] = []


@dataclass(frozen=True)
class Keeps(Task):
    """Keeps so much memory for good, and says which process it was."""

    n_bytes: int

    def run(self, reader: object) -> int:
        _kept.append(b"1" * self.n_bytes)
        return os.getpid()


@dataclass(frozen=True)
class ReadsWith(Task):
    needs_reader = True

    def run(self, reader: object) -> object:
        return reader


@dataclass(frozen=True)
class CountsThreads(Task):
    """On how many threads numpy multiplies matrices there, and OpenCV works on pictures."""

    def run(self, reader: object) -> tuple[int, int]:
        import cv2
        import numpy  # noqa: F401 - loads its library
        from threadpoolctl import threadpool_info

        found = [each["num_threads"] for each in threadpool_info() if each["user_api"] == "blas"]
        return max(found), cv2.getNumThreads()


@dataclass(frozen=True)
class GoesThrough(Task):
    """Goes through frames, each after so many seconds, and is stuck then, or done."""

    every_s: tuple[float, ...]
    then: str = "done"

    def run(self, reader: object) -> str:
        def frames() -> Iterator[float]:
            for each in self.every_s:
                time.sleep(each)
                yield each

        for _ in each_in_stage(frames(), Stage.DECODING):
            pass
        if self.then == "stuck":
            # In C with the interpreter held: no other thread of Python's can run.
            ctypes.PyDLL(None).sleep(86_400)
        if self.then == "stopped":
            os.kill(os.getpid(), signal.SIGSTOP)
        return self.then


@dataclass(frozen=True)
class LeavesHoles(Task):
    """Uses memory in small pieces, and keeps the last of them."""

    n_bytes: int

    def run(self, reader: object) -> None:
        pieces = [b"1" * 50_000 for _ in range(self.n_bytes // 50_000)]
        _kept.append(pieces[-1])


@dataclass(frozen=True)
class Resident(Task):
    """How much memory its process has, bytes."""

    def run(self, reader: object) -> int:
        return int(psutil.Process().memory_info().rss)


@dataclass(frozen=True)
class DiesWhileItAnswers(Task):
    """Its process dies in the midst of a message to its parent."""

    def run(self, reader: object) -> None:
        frame = sys._getframe()
        while "result_queue" not in frame.f_locals:
            assert frame.f_back is not None
            frame = frame.f_back
        half = struct.pack("!i", 1000) + b"the rest never comes"
        os.write(frame.f_locals["result_queue"]._writer.fileno(), half)
        os.kill(os.getpid(), signal.SIGKILL)


def no_reader() -> None:
    raise AssertionError("it was opened without need")


def a_reader() -> str:
    return f"reader of {os.getpid()}"


def keeps(n_bytes: int) -> Keeps:
    return Keeps("a", Path("a"), 60.0, n_bytes)


@pytest.mark.skipif(sys.platform != "linux", reason="only glibc keeps what is free")
def test_what_a_task_has_freed_goes_back_to_the_system() -> None:
    at = ("a", Path("a"), 60.0)
    tasks: list[Task] = [Resident(*at), LeavesHoles(*at, 300_000_000), Resident(*at)]
    with worker_processes(1, no_reader) as workers:
        found = [outcome for _, outcome in workers.outcomes(iter(tasks))]
    before, _, after = found
    assert after < before + 50_000_000


def test_a_worker_goes_on_when_it_opens_something_large() -> None:
    """Loky by itself would take a pose model opened after lighter work for a leak."""
    tasks = [keeps(each) for each in (1, 400_000_000, 1, 1)]
    with worker_processes(1, no_reader) as workers:
        pids = {outcome for _, outcome in workers.outcomes(iter(tasks))}
    assert len(pids) == 1


def test_workers_do_not_fight_over_processors(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each would else have a thread for every processor, in every worker."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS",
                 "OPENCV_FOR_THREADS_NUM"):  # fmt: skip
        monkeypatch.delenv(name, raising=False)
    with worker_processes(1, no_reader) as workers:
        ((_, threads),) = workers.outcomes(iter([CountsThreads("a", Path("a"), 60.0)]))
    assert threads == (1, 1)


def test_the_reader_is_opened_once_where_it_is_needed() -> None:
    task = ReadsWith("a", Path("a"), 60.0)
    with worker_processes(2, a_reader) as workers:
        first = [outcome for _, outcome in workers.outcomes(iter([task] * 4))]
        then = [outcome for _, outcome in workers.outcomes(iter([task] * 2))]
    assert {*first, *then} <= {*first}
    assert 1 <= len({*first}) <= 2


def test_tasks_that_turn_up_later_are_done_too() -> None:
    to_do = deque([keeps(1)])
    done = []
    with worker_processes(1, no_reader) as workers:
        tasks = AskedAgain(lambda: to_do.popleft() if to_do else None)
        for task, _ in workers.outcomes(tasks):
            done.append(task)
            if len(done) < 3:
                to_do.append(keeps(len(done) + 1))
    assert [task.n_bytes for task in done] == [1, 2, 3]


@pytest.mark.parametrize("then", ["stuck", "stopped"])
def test_a_film_of_which_no_picture_comes_is_given_up_before_its_limit(
    monkeypatch: pytest.MonkeyPatch, then: str
) -> None:
    """Also when the worker cannot even end itself."""
    monkeypatch.setattr(workers_module, "LIMIT_GRACE_S", 1.0)
    task = GoesThrough("a", Path("a"), 3600.0, (0.1,) * 5, then, quiet_s=2.0)
    with worker_processes(1, no_reader) as workers:
        ((_, outcome),) = workers.outcomes(iter([task]))
    assert isinstance(outcome, TookTooLong)
    assert str(outcome) == "the last time after 2 seconds without a picture of it"


def test_a_slow_film_goes_on_as_long_as_pictures_come() -> None:
    task = GoesThrough("a", Path("a"), 60.0, (0.8,) * 5, quiet_s=2.0)
    with worker_processes(1, no_reader) as workers:
        ((_, outcome),) = workers.outcomes(iter([task]))
    assert outcome == "done"


def test_pictures_do_not_lengthen_a_limit() -> None:
    task = GoesThrough("a", Path("a"), 2.0, (0.3,) * 100, quiet_s=60.0)
    with worker_processes(1, no_reader) as workers:
        ((_, outcome),) = workers.outcomes(iter([task]))
    assert str(outcome) == "each time after 2 seconds without an end"


def test_half_an_answer_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever reads answers would wait for the other half for ever."""
    monkeypatch.setattr(workers_module, "LIMIT_GRACE_S", 1.0)
    monkeypatch.setattr(workers_module, "KILL_S", 1.0)
    tasks: list[Task] = [DiesWhileItAnswers("a", Path("a"), 4.0), ReadsWith("b", Path("b"), 60.0)]
    with worker_processes(1, a_reader) as workers:
        (_, first), (_, second) = workers.outcomes(iter(tasks))
    assert isinstance(first, TookTooLong)
    assert second.startswith("reader of ")
    assert "ExecutorManagerThread" not in {thread.name for thread in threading.enumerate()}


def test_what_a_tick_raises_ends_everything() -> None:
    pids: list[int] = []

    def stop() -> None:
        raise KeyboardInterrupt

    with (
        pytest.raises(KeyboardInterrupt),
        worker_processes(1, no_reader) as workers,
    ):
        pids += [outcome for _, outcome in workers.outcomes(iter([keeps(1)]))]
        list(workers.outcomes(iter([keeps(1)]), stop))
    with pytest.raises(ProcessLookupError):
        os.kill(pids[0], 0)
    assert not [each for each in threading.enumerate() if "loky" in each.name.lower()]
