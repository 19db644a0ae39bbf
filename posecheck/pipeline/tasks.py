"""Work on clips in other processes: several at once, each with a limit of time.

A :class:`Task` is anything that is done with one film: measuring it, looking for reps in it,
drawing on it. :class:`Workers` do tasks somewhere and give back what came of each: those of this
machine (``workers.py``), or of others (``cluster.py``).
"""

from __future__ import annotations

import ctypes
import faulthandler
import os
import sys
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar, Protocol

from posecheck.pipeline.frames_done import counting_frames
from posecheck.pipeline.limits import QUIET_S, duration_words


@dataclass(frozen=True)
class Task(ABC):
    """Something to do with one film, in another process; it can be pickled.

    Attributes:
        name: the film's, for messages.
        path: of the film.
        limit_s: the seconds it may take, wherever it is done.
        quiet_s: the seconds in which no picture of the film need be decoded.
    """

    name: str
    path: Path
    limit_s: float
    quiet_s: float = field(default=QUIET_S, kw_only=True)

    needs_reader: ClassVar[bool] = False
    """Whether ``run`` is given the opened pose model, or None."""

    @abstractmethod
    def run(self, reader: Any) -> Any:
        """Do it; what is returned or raised can be pickled and goes back to who asked."""


@dataclass(frozen=True)
class AskedAgain(Iterator[Task]):
    """Tasks as somebody gives them, who may have none now and more later."""

    next_task: Callable[[], Task | None]

    def __next__(self) -> Task:
        task = self.next_task()
        if task is None:
            raise StopIteration
        return task


class WorkerDied(Exception):
    """The process that did a task ended, twice: killed, out of memory, or crashed."""


class TookTooLong(Exception):
    """A task was given up, twice: not done within its limit, or stuck; how, as the end of a
    sentence."""

    @classmethod
    def limit(cls, task: Task) -> TookTooLong:
        """It was not done within its limit."""
        return cls(f"each time after {duration_words(task.limit_s)} without an end")

    @classmethod
    def quiet(cls, task: Task) -> TookTooLong:
        """It was stuck: no more of its film came."""
        return cls(f"the last time after {duration_words(task.quiet_s)} without a picture of it")


class Workers(Protocol):
    """Whatever does tasks: processes of this machine, or of several."""

    def outcomes(
        self, tasks: Iterator[Task], on_tick: Callable[[], object] = lambda: None
    ) -> Iterator[tuple[Task, Any]]:
        """Do tasks, several at once; give each with what came of it, as they end.

        Args:
            tasks: asked for the next one whenever a worker is free, never ahead of that. One that
                has no more is asked again after the next outcome or tick: there may be more by
                then. All is over when it has no more and nothing is in hand.
            on_tick: called at least every ``TICK_S``; what it raises ends everything.

        Yields:
            A task, and what its ``run`` returned or raised, or :class:`WorkerDied` or
            :class:`TookTooLong`.

        Raises:
            ModelError, UsageError: a task raised it; the others would fail likewise.
        """
        ...


def run_within_limit(
    task: Task, reader: Any, on_count: Callable[[int], object] = lambda frames: None
) -> Any:
    """Do a task in this process, which ends at once when the task's limit of time is reached, or
    when no picture of its film comes any more.

    A decoder that is stuck lets no Python run, so the clock is one that needs none. It is wound up
    again while pictures come.

    Args:
        task: to do.
        reader: what its ``run`` is given.
        on_count: called now and then with how many frames have been gone through.
    """
    end = time.monotonic() + task.limit_s
    with Path(os.devnull).open("w") as nowhere:

        def wind_up(frames: int) -> None:
            on_count(frames)
            left_s = max(min(task.quiet_s, end - time.monotonic()), 0.001)
            faulthandler.dump_traceback_later(left_s, exit=True, file=nowhere)

        wind_up(0)
        try:
            with counting_frames(wind_up):
                return task.run(reader)
        finally:
            faulthandler.cancel_dump_traceback_later()
            _give_back_memory()


def _give_back_memory() -> None:
    """Memory that is free goes back to the system.

    The C library keeps what lies between pieces in use; pictures of one film would leave holes that
    those of the next do not fit into, and a worker grow from film to film.
    """
    if sys.platform == "linux" and (trim := getattr(ctypes.CDLL(None), "malloc_trim", None)):
        trim(0)
