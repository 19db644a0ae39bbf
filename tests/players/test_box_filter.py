"""The box filter against straight-line kinematics and against itself in one piece."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.players import box_filter
from posecheck.players.box_filter import BoxFilter

STEP_S = 1 / 30


def running_box(t_s: float, speed_px: float = 300.0) -> np.ndarray:
    """A player 200 px tall at constant speed."""
    return np.array([100 + speed_px * t_s, 500, 170 + speed_px * t_s, 700])


def test_between_two_looks_at_constant_speed_the_box_lies_on_the_line() -> None:
    boxes = BoxFilter(running_box(0), sd=0.01)
    for frame in range(1, 61):
        boxes.predict(STEP_S)
        if frame % 9 == 0:
            boxes.update_box(running_box(frame * STEP_S), sd=0.01)
    true = np.array([running_box(frame * STEP_S) for frame in range(61)])
    # From the first to the last look; within a hundredth of his height.
    assert np.abs(boxes.smoothed() - true)[9:55].max() < 2.0


def test_hard_braking_between_looks_costs_a_tenth_of_the_height_at_most() -> None:
    # From 6 m/s to rest at 7 m/s^2; 200 px are 1.8 m. Distance gone: v t - a t^2 / 2.
    metre = 200 / 1.8
    t_s = np.arange(60) * STEP_S
    braking = np.clip(t_s - 0.7, 0, 6 / 7)
    gone = 6 * np.minimum(t_s, 0.7) + 6 * braking - 3.5 * braking**2
    true = np.array([100, 500, 170, 700]) + (gone * metre)[:, None] * np.array([1, 0, 1, 0])
    boxes = BoxFilter(true[0], sd=0.04)
    for frame in range(1, 60):
        boxes.predict(STEP_S)
        if frame % 9 == 0:
            boxes.update_box(true[frame], sd=0.04)
    assert np.abs(boxes.smoothed() - true)[:55].max() < 20


def test_motion_of_somebody_else_is_refused() -> None:
    boxes = BoxFilter(running_box(0), sd=0.02)
    for frame in range(1, 10):
        boxes.predict(STEP_S)
        boxes.update_box(running_box(frame * STEP_S), sd=0.02)
    before = boxes.box_xyxy
    assert not boxes.update_motion(np.array([-600.0, 0.0]), growth=0.0, sd=0.1, growth_sd=0.3)
    assert np.array_equal(boxes.box_xyxy, before)
    assert boxes.update_motion(np.array([310.0, 0.0]), growth=0.0, sd=0.1, growth_sd=0.3)


def test_where_points_do_not_show_a_growth_his_speed_counts() -> None:
    boxes = BoxFilter(running_box(0), sd=0.02)
    boxes.predict(STEP_S)
    assert boxes.update_motion(np.array([300.0, 0.0]), growth=0.0, sd=0.1, growth_sd=np.inf)
    assert boxes.speed[0] == pytest.approx(300, rel=0.1)
    assert np.isfinite(boxes.smoothed()).all()


def test_a_growth_that_nobody_has_leaves_his_size_alone_and_his_speed_counts() -> None:
    """Few points, some of them on what is behind him, make him three times as tall in a second."""
    boxes = BoxFilter(running_box(0), sd=0.02)
    for frame in range(1, 16):
        boxes.predict(STEP_S)
        boxes.update_box(running_box(frame * STEP_S), sd=0.02)
    for _ in range(10):
        boxes.predict(STEP_S)
        assert boxes.update_motion(np.array([300.0, 0.0]), growth=4.0, sd=0.1, growth_sd=0.3)
    true = running_box(25 * STEP_S)
    assert boxes.height == pytest.approx(true[3] - true[1], rel=0.1)
    assert boxes.box_xyxy[0] == pytest.approx(true[0], abs=10)


@pytest.mark.parametrize("keep_speed", [True, False])
def test_taking_back_what_was_told_since(keep_speed: bool) -> None:
    boxes = BoxFilter(running_box(0), sd=0.01)
    for frame in range(1, 31):
        boxes.predict(STEP_S)
        boxes.update_box(running_box(frame * STEP_S), sd=0.01)
    kept = boxes.box_xyxy
    for _ in range(6):
        boxes.predict(STEP_S)
        boxes.update_motion(np.array([100.0, 0.0]), growth=0.0, sd=0.5, growth_sd=1.5)
    boxes.coast_since(6, keep_speed)
    gone = 300 * 6 * STEP_S if keep_speed else 0.0
    assert boxes.box_xyxy == pytest.approx(kept + np.array([gone, 0, gone, 0]), abs=2.0)
    assert len(boxes.smoothed()) == 37


def test_a_long_film_is_smoothed_piece_by_piece_as_in_one(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(0)
    seen = [running_box(k * STEP_S, 20) + rng.normal(0, 4, 4) for k in range(1000)]

    def followed() -> np.ndarray:
        boxes = BoxFilter(seen[0], sd=0.03)
        for box in seen[1:]:
            boxes.predict(STEP_S)
            boxes.update_box(box, sd=0.03)
        return boxes.smoothed()

    pieces = []
    for kept in (10_000, 300):
        monkeypatch.setattr(box_filter, "KEPT_FRAMES", kept)
        monkeypatch.setattr(box_filter, "TAIL_FRAMES", 120)
        pieces.append(followed())
    assert pieces[1].shape == (1000, 4)
    # A tail of 4 s: what comes later moves the box by less than a thousandth of the height.
    assert np.abs(pieces[0] - pieces[1]).max() < 0.2


def test_a_size_carried_on_until_nothing_is_left_is_no_box() -> None:
    """A box that halves in a quarter of a second and is then carried for two seconds."""
    kept = BoxFilter(np.array([100.0, 100, 150, 220]), 0.02)
    for step in range(1, 9):
        half = (50 - 3 * step) / 2
        kept.predict(1 / 30)
        kept.update_box(np.array([125 - half, 160 - 2 * half, 125 + half, 160 + 2 * half]), 0.02)
    for _ in range(60):
        kept.predict(1 / 30)
    boxes = kept.smoothed()
    there = np.isfinite(boxes).all(axis=1)
    assert there[:9].all()
    assert not there[-1]
    assert (boxes[there, 2:] > boxes[there, :2]).all()
