"""How long the stages of a check take, measured while it runs, if somebody asks for it.

Code says ``with stage(Stage.GROUND):`` where a stage begins. Of stages within each other the inner
one's time is not the outer one's, so that all times add up. Without a stopwatch that runs, nothing
is measured.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from enum import StrEnum
from typing import TypeVar

Item = TypeVar("Item")


class Stage(StrEnum):
    """What a check spends its time on."""

    OPENING = "opening the film"
    DECODING = "waiting for the decoder"
    SEARCH = "searching for people"
    FOLLOWING = "following them"
    USUAL_READS = "reading players"
    CLOSE_READS = "reading with the heavy model"
    GROUND = "ground"
    STANCE = "stance and kinematic fit"
    MEASURES = "measures"
    PICTURES = "pictures of the arrival"


class Stopwatch:
    """Seconds by stage; a stage that never ran is not among them."""

    def __init__(self) -> None:
        self.seconds: dict[Stage, float] = {}
        self._now: Stage | None = None
        self._since = time.perf_counter()

    def switch(self, to: Stage | None) -> Stage | None:
        """From now on time is that of another stage, or of none; returns whose it was so far."""
        now = time.perf_counter()
        before = self._now
        if before is not None:
            self.seconds[before] = self.seconds.get(before, 0.0) + now - self._since
        self._now, self._since = to, now
        return before


_running: ContextVar[Stopwatch | None] = ContextVar("stopwatch", default=None)


@contextmanager
def stopwatch(watch: Stopwatch | None = None) -> Iterator[Stopwatch]:
    """A stopwatch, or the one given, that runs for the block, on this thread."""
    watch = watch or Stopwatch()
    token = _running.set(watch)
    try:
        yield watch
    finally:
        _running.reset(token)


@contextmanager
def stage(which: Stage) -> Iterator[None]:
    """The block's time is this stage's, less that of stages within it."""
    watch = _running.get()
    if watch is None:
        yield
        return
    before = watch.switch(which)
    try:
        yield
    finally:
        watch.switch(before)


def each_in_stage(items: Iterable[Item], which: Stage) -> Iterator[Item]:
    """Yield items; the time that each takes to come is this stage's."""
    coming = iter(items)
    while True:
        with stage(which):
            try:
                item = next(coming)
            except StopIteration:
                return
        yield item
