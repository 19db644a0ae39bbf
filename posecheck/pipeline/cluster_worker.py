"""What a worker on another machine does: look around before it is given anything, then tasks.

Called by name from the machine that asks, ``cluster.py``, so the same code must be here and there.
"""

from __future__ import annotations

import pickle
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any

from posecheck.files.moved import from_to, with_paths
from posecheck.pipeline.tasks import Task, run_within_limit

Facts = Mapping[str, str]
"""What must be the same on every machine, by what it is called in a complaint."""


class Kind(Enum):
    """What came of a task."""

    GAVE = "gave"
    RAISED = "raised"
    UNSEEN = "unseen"
    """The film is not there as the worker sees it."""
    LOST = "lost"
    """The worker is gone."""


@dataclass(frozen=True)
class Reply:
    """What a worker says of a task: what was returned or raised, or the path it does not see."""

    kind: Kind
    value: Any


@dataclass(frozen=True)
class Places:
    """A folder as who asks sees it, and as a worker does; moving is done by the worker, since there
    the folder may be a link."""

    here: Path
    there: Path

    def to_worker(self, value: Any) -> Any:
        """A value with its paths as the worker sees them."""
        return with_paths(value, from_to(self.here, self.there.resolve()))

    def back(self, value: Any) -> Any:
        """The same as who asks sees them."""
        return with_paths(value, from_to(self.there.resolve(), self.here))


@dataclass(frozen=True)
class Around:
    """What a worker is: its facts, and which folders it does not see or may not write to."""

    facts: Facts
    unseen: tuple[Path, ...]
    not_writable: tuple[Path, ...]


_one_task_at_a_time = threading.Lock()
_reader: Any = None
_reader_of = b""


def look_around(
    facts: Callable[[], Facts],
    places: Places,
    films: Sequence[Path],
    results: Sequence[Path],
) -> Around:
    """Say what this worker is.

    Args:
        facts: asked here.
        places: how folders are seen here.
        films: folders to be seen.
        results: folders to be written to, made if need be.
    """
    facts = places.to_worker(facts)
    return Around(
        facts=dict(facts()),
        unseen=tuple(each for each in map(places.to_worker, films) if not each.is_dir()),
        not_writable=tuple(each for each in map(places.to_worker, results) if not _writable(each)),
    )


def _writable(folder: Path) -> bool:
    there = next(each for each in (folder, *folder.parents) if each.exists())
    try:
        with TemporaryFile(dir=there):
            return True
    except OSError:
        return False


def do_task(task: Task, open_reader: Callable[[], Any], places: Places) -> Reply:
    """Do a task here, within its limit of time.

    Args:
        task: its paths as who asks sees them.
        open_reader: opens the pose model, which is kept open.
        places: how folders are seen here.
    """
    # A worker may have several threads, and who asked last time may not be who asks now.
    with _one_task_at_a_time:
        moved: Task = places.to_worker(task)
        if not moved.path.exists():
            return Reply(Kind.UNSEEN, moved.path)
        try:
            reader = _opened(places.to_worker(open_reader)) if moved.needs_reader else None
            return Reply(Kind.GAVE, places.back(run_within_limit(moved, reader)))
        except Exception as error:
            return Reply(Kind.RAISED, error)


def _opened(open_reader: Callable[[], Any]) -> Any:
    """The pose model, kept open until another is wanted."""
    global _reader, _reader_of
    wanted = pickle.dumps(open_reader)
    if _reader is None or wanted != _reader_of:
        _reader = None  # lets go of the memory first
        _reader, _reader_of = open_reader(), wanted
    return _reader
