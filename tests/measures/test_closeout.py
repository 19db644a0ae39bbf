"""Runs whose speeds and distances can be worked out by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from posecheck.measures.closeout import (
    at_moment,
    braking_distance,
    closeout_speed,
    path_length,
    peak_braking,
)

T_S = np.arange(0, 4, 1 / 30)


def test_five_metres_a_second_along_a_diagonal():
    xy = T_S[:, None] * np.array([3.0, 4.0])
    speed = np.linalg.norm(np.gradient(xy, T_S, axis=0), axis=1)
    assert closeout_speed(T_S, speed, 0.0, 3.0) == pytest.approx(5.0)
    assert path_length(T_S, xy, 0.25, 1.26) == pytest.approx(5.05)
    assert peak_braking(T_S, speed, 0.0, 3.0) == pytest.approx(0.0, abs=1e-9)


def test_even_braking_from_five_to_one():
    # From 5 m/s at 1 s, down by 4 m/s² to 1 m/s at 2 s: (5 + 1) / 2 * 1 s = 3 m.
    speed = np.clip(5.0 - 4.0 * (T_S - 1.0), 1.0, 5.0)
    gone = 5 * np.minimum(T_S, 1) + np.clip(T_S - 1, 0, 1) * 5 - 2 * np.clip(T_S - 1, 0, 1) ** 2
    xy = np.stack([0 * T_S, gone], axis=1)
    assert braking_distance(T_S, xy, 1.0, 2.0) == pytest.approx(3.0, abs=1e-3)
    assert peak_braking(T_S, speed, 0.5, 3.0) == pytest.approx(4.0)


def test_braking_for_less_than_the_window_counts_by_what_it_takes_off():
    # 0.1 s at 8 m/s² takes off 0.8 m/s, which over 0.2 s is 4 m/s².
    fine = np.arange(0, 2, 0.01)
    assert peak_braking(fine, 5 - 8 * np.clip(fine - 1, 0, 0.1), 0, 2) == pytest.approx(4.0)


def test_a_run_that_does_not_brake_before_arrival_has_braked_over_nothing():
    xy = T_S[:, None] * np.array([0.0, 5.0])
    assert braking_distance(T_S, xy, None, 2.0) == 0.0
    assert braking_distance(T_S, xy, 2.3, 2.0) == 0.0


def test_what_was_not_seen_stays_unknown():
    speed = np.where(T_S < 2, np.nan, 5.0)
    assert np.isnan(closeout_speed(T_S, speed, 0.0, 1.5))
    assert np.isnan(peak_braking(T_S, speed, 0.0, 1.5))
    assert np.isnan(at_moment(T_S, speed, 1.99))
    assert np.isnan(at_moment(T_S, speed, 17.0))
    assert np.isnan(path_length(T_S, np.stack([speed, speed], axis=1), 1.0, 3.0))


def test_a_missing_frame_in_between_is_bridged_by_a_straight_line():
    xy = T_S[:, None] * np.array([0.0, 5.0])
    xy[40] = np.nan
    assert path_length(T_S, xy, 1.0, 2.0) == pytest.approx(5.0)


@given(st.floats(0.3, 3.0), st.floats(0.01, 0.08))
def test_at_moment_is_exact_for_a_line_at_any_frame_rate(moment, step):
    t_s = np.arange(0, 4, step)
    assert at_moment(t_s, 3 - 2 * t_s, moment) == pytest.approx(3 - 2 * moment)
