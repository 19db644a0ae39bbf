"""Smoothing against scipy's Butterworth filter, and against motion that can be done by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import butter, sosfiltfilt

from posecheck.keypoints.smoothing import smooth, smooth_track
from posecheck.keypoints.tuning import CUTOFF_HZ, MAX_FILL_S
from posecheck.maths.arrays import FloatArray
from posecheck.pose.track import PoseTrack

rates = st.sampled_from([24.0, 29.97, 30.0, 60.0, 119.88, 240.0])
seeds = st.integers(0, 2**32 - 1)


def uneven_times(rate_hz: float, duration_s: float, seed: int) -> FloatArray:
    """Times as a phone gives them: each frame up to a fifth of a frame early or late."""
    t_s = np.arange(0, duration_s, 1 / rate_hz)
    return t_s + np.random.default_rng(seed).uniform(-0.2, 0.2, len(t_s)) / rate_hz


@pytest.mark.parametrize("rate_hz", [120.0, 240.0])
def test_same_as_a_forward_and_backward_butterworth_filter(rate_hz: float) -> None:
    """Outside check: scipy's second-order Butterworth, run both ways, on noise.

    Its cut-off is raised by Winter's factor 1/0.802 for the two passes (from memory).
    """
    t_s = np.arange(0, 6, 1 / rate_hz)
    noise = np.random.default_rng(5).normal(size=(len(t_s), 1))
    sos = butter(2, CUTOFF_HZ / 0.802, fs=rate_hz, output="sos")
    want = sosfiltfilt(sos, noise, axis=0)
    middle = (t_s > 1) & (t_s < 5)
    off = (smooth(t_s, noise) - want)[middle]
    # The digital filter's bilinear transform bends its response a little.
    assert off.std() < 0.02 * want[middle].std()


@given(rate_hz=rates, seed=seeds, level=st.floats(-1e4, 1e4))
def test_constant_stays_constant(rate_hz: float, seed: int, level: float) -> None:
    t_s = uneven_times(rate_hz, 2, seed)
    values = np.full((len(t_s), 2), level)
    np.testing.assert_allclose(smooth(t_s, values), values, atol=1e-6)


@given(rate_hz=rates, seed=seeds)
def test_steady_motion_stays_as_it_is(rate_hz: float, seed: int) -> None:
    t_s = uneven_times(rate_hz, 2, seed)
    values = np.stack([3.0 + 5.0 * t_s, -2.0 * t_s], axis=1)
    np.testing.assert_allclose(smooth(t_s, values), values, atol=1e-6)


@given(rate_hz=rates, seed=seeds, later_s=st.floats(-1e5, 1e5))
def test_does_not_matter_when_the_clip_began(rate_hz: float, seed: int, later_s: float) -> None:
    t_s = uneven_times(rate_hz, 2, seed)
    values = np.random.default_rng(seed).normal(size=(len(t_s), 2))
    np.testing.assert_allclose(smooth(t_s + later_s, values), smooth(t_s, values), atol=1e-6)


@given(rate_hz=rates, seed=seeds, phase=st.floats(0, 2 * np.pi))
def test_two_hertz_keeps_amplitude_and_timing(rate_hz: float, seed: int, phase: float) -> None:
    """A running stride: under 1 % lost, under a hundredth of a frame moved."""
    t_s = uneven_times(rate_hz, 4, seed)
    values = np.sin(2 * np.pi * 2 * t_s + phase)[:, None]
    smoothed = smooth(t_s, values)[:, 0]
    middle = (t_s > 1) & (t_s < 3)
    waves = np.stack(
        [np.sin(2 * np.pi * 2 * t_s + phase), np.cos(2 * np.pi * 2 * t_s + phase)], axis=1
    )
    (along, across), *_ = np.linalg.lstsq(waves[middle], smoothed[middle], rcond=None)
    assert np.hypot(along, across) == pytest.approx(1.0, abs=0.01)
    lag_s = np.arctan2(across, along) / (2 * np.pi * 2)
    assert abs(lag_s) < 0.01 / rate_hz


@given(rate_hz=st.sampled_from([30.0, 60.0]), seed=seeds)
def test_a_gap_stays_a_gap_and_spreads_no_further(rate_hz: float, seed: int) -> None:
    t_s = uneven_times(rate_hz, 3, seed)
    values = np.random.default_rng(seed).normal(size=(len(t_s), 2))
    gap = (t_s > 1.2) & (t_s < 1.6)
    values[gap, 0] = np.nan
    smoothed = smooth(t_s, values)
    np.testing.assert_array_equal(np.isnan(smoothed), np.repeat(gap[:, None], 2, axis=1))
    # What lies beyond a gap does not count: the runs are fitted separately.
    before = t_s < 1.2
    np.testing.assert_allclose(smoothed[before], smooth(t_s[before], values[before]), atol=1e-9)


def test_short_gap_is_filled_up_to_the_limit_only() -> None:
    t_s = np.arange(40) / 30.0
    values = (2.0 * t_s)[:, None]
    three_missing, four_missing = values.copy(), values.copy()
    three_missing[20:23] = np.nan
    four_missing[20:24] = np.nan
    assert t_s[23] - t_s[20] == pytest.approx(MAX_FILL_S)
    np.testing.assert_allclose(smooth(t_s, three_missing), values, atol=1e-9)
    np.testing.assert_array_equal(
        np.flatnonzero(np.isnan(smooth(t_s, four_missing))), [20, 21, 22, 23]
    )


def test_a_player_read_every_tenth_of_a_second_is_filled_in() -> None:
    t_s = uneven_times(29.97, 3, seed=3)
    values = (2.0 * t_s)[:, None]
    sparse = np.full_like(values, np.nan)
    sparse[::3] = values[::3]
    smoothed = smooth(t_s, sparse)
    last = np.flatnonzero(np.isfinite(sparse[:, 0]))[-1]
    np.testing.assert_allclose(smoothed[: last + 1], values[: last + 1], atol=1e-9)
    assert np.isnan(smoothed[last + 1 :]).all()


def test_who_is_read_every_fifth_of_a_second_is_filled_in_where_that_is_meant() -> None:
    t_s = uneven_times(29.97, 3, seed=3)
    values = (2.0 * t_s)[:, None]
    sparse = np.full_like(values, np.nan)
    sparse[::6] = values[::6]
    smoothed = smooth(t_s, sparse, spacing_s=0.2)
    last = np.flatnonzero(np.isfinite(sparse[:, 0]))[-1]
    np.testing.assert_allclose(smoothed[: last + 1], values[: last + 1], atol=1e-9)
    sparse[36] = np.nan  # two fifths of a second without him are a gap all the same
    assert np.isnan(smooth(t_s, sparse, spacing_s=0.2)[31:42]).all()
    np.testing.assert_array_equal(smooth(t_s, sparse), sparse)


def test_a_slow_camera_is_not_taken_for_gaps() -> None:
    t_s = np.arange(12) / 8.0  # every frame further apart than the longest filled gap
    values = (2.0 * t_s)[:, None]
    np.testing.assert_allclose(smooth(t_s, values), values, atol=1e-9)


def test_nothing_is_added_at_the_ends_and_short_runs_are_left_alone() -> None:
    t_s = np.arange(20) / 30.0
    values = np.full((20, 1), np.nan)
    values[8:12] = [[0.0], [5.0], [-5.0], [0.0]]
    np.testing.assert_array_equal(smooth(t_s, values), values)
    np.testing.assert_array_equal(smooth(t_s, np.full((20, 1), np.nan)), np.full((20, 1), np.nan))


def standing_track(n_frames: int = 30, px_per_m: float = 100.0) -> PoseTrack:
    """A body at rest, 33 landmarks scattered over 1.8 m, at 30 frames a second."""
    world = np.random.default_rng(1).uniform(-0.9, 0.9, size=(33, 3))
    xy_px = 500.0 + px_per_m * world[:, :2]
    return PoseTrack(
        np.arange(n_frames) / 30.0,
        np.repeat(xy_px[None], n_frames, axis=0),
        np.repeat(world[None], n_frames, axis=0),
        np.full((n_frames, 33), 0.9),
    )


@pytest.mark.parametrize(
    ("jump_m", "removed"),
    [
        (0.3, True),  # a jump: there and back in a fifteenth of a second it would take 270 m/s^2
        (0.08, False),  # a quick move: smoothed, but counted as seen
    ],
)
def test_single_frame_jump(jump_m: float, removed: bool) -> None:
    track = standing_track()
    xy_px = track.xy_px.copy()
    xy_px[12, 25] += (100.0 * jump_m, 0.0)
    smoothed = smooth_track(PoseTrack(track.t_s, xy_px, track.world_m, track.score))
    assert np.isnan(smoothed.score[12, 25]) == removed
    assert np.isnan(smoothed.score).sum() == int(removed)
    assert smoothed.left_out is not None
    np.testing.assert_array_equal(smoothed.left_out, np.isnan(smoothed.score))
    np.testing.assert_array_equal(np.isnan(smoothed.believed_xy_px).any(axis=2), smoothed.left_out)
    assert np.isfinite(smoothed.xy_px).all()
    if removed:
        np.testing.assert_allclose(smoothed.xy_px, track.xy_px, atol=1e-6)


def test_a_fast_run_is_no_jump() -> None:
    """8 m/s across the picture: 0.27 m from frame to frame, all of it real."""
    track = standing_track()
    run_px = 800.0 * track.t_s[:, None, None] * np.array([1.0, 0.0])
    running = PoseTrack(track.t_s, track.xy_px + run_px, track.world_m, track.score)
    smoothed = smooth_track(running)
    assert np.isfinite(smoothed.score).all()
    np.testing.assert_allclose(smoothed.xy_px, running.xy_px, atol=1e-6)


def test_frames_without_a_pose_stay_without() -> None:
    track = standing_track()
    for array in (track.xy_px, track.world_m, track.score):
        array[10:20] = np.nan
    smoothed = smooth_track(track)
    unseen = np.isnan(smoothed.xy_px).any(axis=(1, 2))
    np.testing.assert_array_equal(np.flatnonzero(unseen), np.arange(10, 20))
