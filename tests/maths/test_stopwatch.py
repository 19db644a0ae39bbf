"""Times of stages, by a clock that moves only when a test moves it."""

from __future__ import annotations

import threading

import pytest

from posecheck.maths import stopwatch as module
from posecheck.maths.stopwatch import Stage, stage, stopwatch


class Clock:
    """Stands still."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(module.time, "perf_counter", clock)
    return clock


def test_time_belongs_to_the_innermost_stage(clock: Clock) -> None:
    with stopwatch() as watch:
        clock.now += 100  # no stage's
        with stage(Stage.FOLLOWING):
            clock.now += 1
            with stage(Stage.SEARCH):
                clock.now += 10
            clock.now += 2
            with stage(Stage.SEARCH):
                clock.now += 20
        with stage(Stage.GROUND):
            clock.now += 4
        clock.now += 100
    assert watch.seconds == {Stage.FOLLOWING: 3, Stage.SEARCH: 30, Stage.GROUND: 4}


def test_stage_that_fails_has_taken_its_time(clock: Clock) -> None:
    with stopwatch() as watch:
        with pytest.raises(ValueError), stage(Stage.GROUND):
            clock.now += 3
            raise ValueError("no ground")
        with stage(Stage.STANCE):
            clock.now += 1
    assert watch.seconds == {Stage.GROUND: 3, Stage.STANCE: 1}


def test_nothing_is_measured_without_a_stopwatch_nor_on_other_threads(clock: Clock) -> None:
    with stage(Stage.GROUND):
        clock.now += 1

    def elsewhere() -> None:
        with stage(Stage.SEARCH):
            clock.now += 1

    with stopwatch() as watch, stage(Stage.GROUND):
        thread = threading.Thread(target=elsewhere)
        thread.start()
        thread.join()
    assert watch.seconds == {Stage.GROUND: 1}
