"""Work one step ahead: an iterator runs on a thread of its own while its items are used."""

from __future__ import annotations

import queue
import threading
from collections.abc import Generator, Iterator
from typing import TypeVar

from posecheck.maths.stopwatch import Stage, stage

Item = TypeVar("Item")

_END = object()


def ahead(items: Generator[Item], depth: int) -> Iterator[Item]:
    """Yield what a generator yields, which runs on a thread of its own meanwhile.

    What it raises is raised here. When this iterator is closed, so is the generator, on its thread.

    Args:
        items: run through on the other thread; must be of a kind that computes outside of Python,
            or nothing is gained.
        depth: items that may wait to be used, besides the one that is being made.
    """
    waiting: queue.Queue[object] = queue.Queue(depth)
    stopped = threading.Event()

    def put(item: object) -> None:
        while not stopped.is_set():
            try:
                waiting.put(item, timeout=0.1)
                return
            except queue.Full:
                continue

    def make() -> None:
        try:
            for item in items:
                put(item)
                if stopped.is_set():
                    break
            put(_END)
        except BaseException as error:
            put(_Raised(error))
        finally:
            items.close()

    thread = threading.Thread(target=make, daemon=True)
    thread.start()
    try:
        while True:
            with stage(Stage.DECODING):
                item = waiting.get()
            if item is _END:
                return
            if isinstance(item, _Raised):
                raise item.error
            yield item  # type: ignore[misc]
    finally:
        stopped.set()
        thread.join()


class _Raised:
    def __init__(self, error: BaseException) -> None:
        self.error = error
