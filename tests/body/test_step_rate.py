"""Step rates of a body that swings its legs at a known rate, whichever is taken for the left."""

from __future__ import annotations

import numpy as np
import pytest
from walker import walker

from posecheck.body.step_rate import bounce_rate, step_rate
from posecheck.pose.skeleton import SKELETON

T_S = np.arange(0, 2.5, 1 / 30)
TWO_A_STRIDE = 2.8
"""Steps a second of ``walker``, who makes 1.4 strides."""


@pytest.mark.parametrize("turned_deg", [90.0, 60.0, -45.0])
def test_steps_are_two_a_stride(turned_deg: float) -> None:
    found = step_rate(T_S, walker(T_S, turned_deg).xy_px)
    assert found is not None
    assert found.hz == pytest.approx(TWO_A_STRIDE, abs=0.06)
    assert found.share > 0.5


def test_sides_exchanged_at_random_change_nothing() -> None:
    pose = walker(T_S, 70.0)
    exchanged = pose.xy_px.copy()
    left, right = (
        SKELETON.indices(*(f"{side}_{part}" for part in ("knee", "ankle")))
        for side in ("left", "right")
    )
    for frame in np.flatnonzero(np.random.default_rng(1).random(len(T_S)) < 0.4):
        exchanged[frame, [*left, *right]] = pose.xy_px[frame, [*right, *left]]
    assert step_rate(T_S, exchanged) == step_rate(T_S, pose.xy_px)


def test_uneven_times_and_gaps() -> None:
    rng = np.random.default_rng(2)
    uneven = np.sort(rng.choice(np.arange(0, 2.5, 1 / 60), 70, replace=False))
    pose = walker(uneven, 80.0)
    pose.xy_px[20:25] = np.nan
    found = step_rate(uneven, pose.xy_px)
    assert found is not None
    assert found.hz == pytest.approx(TWO_A_STRIDE, abs=0.1)


def test_somebody_who_comes_nearer() -> None:
    pose = walker(T_S, 75.0)
    grows = np.linspace(1, 2.5, len(T_S))[:, None, None]
    found = step_rate(T_S, pose.xy_px * grows)
    assert found is not None
    assert found.hz == pytest.approx(TWO_A_STRIDE, abs=0.1)


def test_who_stands_has_no_step_rate() -> None:
    stands = walker(np.zeros(1), 90.0).xy_px.repeat(len(T_S), axis=0)
    noise = np.random.default_rng(3).normal(0, 2.0, stands.shape)
    assert step_rate(T_S, stands + noise) is None
    assert step_rate(T_S, stands) is None
    assert step_rate(T_S, np.full_like(stands, np.nan)) is None


def test_two_steps_are_too_few() -> None:
    short = T_S[T_S < 0.7]
    assert step_rate(short, walker(short, 90.0).xy_px) is None


def bounces(hz: float, height_px: float = 110.0, over_s: float = 3.0) -> tuple[np.ndarray, ...]:
    """A player who runs straight at the camera, small in the picture: times, and landmarks
    whose trunk goes up and down by 5 cm; he crouches at the end, and the landmarks have the pose
    model's noise."""
    t_s = np.arange(0, over_s, 1 / 30)
    rng = np.random.default_rng(4)
    stands = walker(np.zeros(1), 0.0).xy_px.repeat(len(t_s), axis=0)
    stands *= height_px / np.ptp(stands[0, :, 1])
    rises = 0.015 * height_px * np.sin(2 * np.pi * hz * t_s)
    sinks = 0.1 * height_px * np.clip(t_s - 2.0, 0, 1)
    noise = rng.normal(0, 0.006 * height_px, stands.shape)
    return t_s, stands * np.linspace(1, 1.3, len(t_s))[:, None, None] + noise + np.stack(
        [0 * t_s, rises + sinks], axis=-1
    )[:, None]


@pytest.mark.parametrize("hz", [1.8, 2.1, 2.6, 3.2])
def test_a_trunk_goes_up_and_down_once_a_step(hz: float) -> None:
    found = bounce_rate(*bounces(hz), (0.8, 2.0))
    assert found is not None
    assert found.hz == pytest.approx(hz, abs=0.15)


def test_no_bounce_no_steps() -> None:
    t_s, steady_px = bounces(0.0)
    assert bounce_rate(t_s, steady_px, (0.8, 2.0)) is None
    t_s, steady_px = bounces(2.6)
    assert bounce_rate(t_s, steady_px, (2.7, 2.9)) is None  # nothing of it is whole
    steady_px[20:60] = np.nan
    assert bounce_rate(t_s, steady_px, (0.8, 2.0)) is None
