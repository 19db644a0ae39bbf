"""Tasks in worker processes; what becomes of those that fail is in ``test_batch.py``."""

from __future__ import annotations

import os
import threading
from collections import deque
from dataclasses import dataclass
from pathlib import Path

import pytest

from posecheck.pipeline.workers import AskedAgain, Task, worker_processes

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
class CountsMatrixThreads(Task):
    """On how many threads numpy multiplies matrices there."""

    def run(self, reader: object) -> int:
        import numpy  # noqa: F401 - loads its library
        from threadpoolctl import threadpool_info

        return max(each["num_threads"] for each in threadpool_info() if each["user_api"] == "blas")


def no_reader() -> None:
    raise AssertionError("it was opened without need")


def a_reader() -> str:
    return f"reader of {os.getpid()}"


def keeps(n_bytes: int) -> Keeps:
    return Keeps("a", Path("a"), 60.0, n_bytes)


def test_a_worker_goes_on_when_it_opens_something_large() -> None:
    """Loky by itself would take a pose model opened after lighter work for a leak."""
    tasks = [keeps(each) for each in (1, 400_000_000, 1, 1)]
    with worker_processes(1, no_reader) as workers:
        pids = {outcome for _, outcome in workers.outcomes(iter(tasks))}
    assert len(pids) == 1


def test_workers_do_not_fight_over_processors(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        monkeypatch.delenv(name, raising=False)
    with worker_processes(1, no_reader) as workers:
        ((_, threads),) = workers.outcomes(iter([CountsMatrixThreads("a", Path("a"), 60.0)]))
    assert threads == 1


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
