"""Workers that do tasks in this process, where processes are not what is tested."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from posecheck.errors import ModelError, UsageError
from posecheck.pipeline.tasks import Task


class InProcess:
    """As :class:`posecheck.pipeline.tasks.Workers`."""

    def __init__(self, open_reader: Callable[[], Any]) -> None:
        self._open_reader = open_reader

    def outcomes(
        self, tasks: Iterator[Task], on_tick: Callable[[], object] = lambda: None
    ) -> Iterator[tuple[Task, Any]]:
        for task in tasks:
            on_tick()
            try:
                outcome = task.run(self._open_reader() if task.needs_reader else None)
            except (ModelError, UsageError):
                raise
            except Exception as error:
                outcome = error
            yield task, outcome


@contextmanager
def in_process(
    n_workers: int,
    open_reader: Callable[[], Any],
    on_frames: Callable[[Task, int], object] = lambda task, frames: None,
) -> Iterator[InProcess]:
    """In place of :func:`posecheck.pipeline.workers.worker_processes`."""
    yield InProcess(open_reader)
