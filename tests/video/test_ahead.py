"""Iterators that run on a thread of their own."""

from __future__ import annotations

import threading
from collections.abc import Generator

import pytest

from posecheck.video.ahead import ahead


def test_items_come_in_order_from_another_thread() -> None:
    made_on: list[threading.Thread] = []

    def items() -> Generator[int]:
        for item in range(5):
            made_on.append(threading.current_thread())
            yield item

    assert list(ahead(items(), 2)) == [0, 1, 2, 3, 4]
    assert threading.current_thread() not in made_on
    assert not made_on[0].is_alive()


def test_no_more_is_made_than_may_wait() -> None:
    made = 0
    enough = threading.Event()

    def items() -> Generator[int]:
        nonlocal made
        for item in range(100):
            made += 1
            if made == 4:  # one in use, two waiting, one that finds no room
                enough.set()
            yield item

    running = ahead(items(), 2)
    assert next(running) == 0
    assert enough.wait(5)
    assert next(running) == 1
    assert made <= 5


def test_fault_is_raised_where_the_items_are_used() -> None:
    def items() -> Generator[int]:
        yield 1
        raise ValueError("damaged")

    running = ahead(items(), 2)
    assert next(running) == 1
    with pytest.raises(ValueError, match="damaged"):
        next(running)


def test_stopping_early_ends_the_generator() -> None:
    closed = threading.Event()

    def items() -> Generator[int]:
        try:
            yield from range(100)
        finally:
            closed.set()

    for item in (running := ahead(items(), 2)):
        if item == 3:
            break
    running.close()  # type: ignore[attr-defined]
    assert closed.is_set()
