"""Windows, the nearest frame, stretches and gaps, on times worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.maths.timeline import bridged, in_window, nearest_frame, seen_or_bridged, stretches

T_S = np.array([0.0, 0.1, 0.2, 0.3, 0.8, 0.9, 1.0])
YES, NO = True, False


@pytest.mark.parametrize(
    ("moment_s", "frame"), [(-5.0, 0), (0.14, 1), (0.16, 2), (0.54, 3), (0.56, 4), (7.0, 6)]
)
def test_nearest_frame(moment_s: float, frame: int) -> None:
    assert nearest_frame(T_S, moment_s) == frame


def test_nearest_frame_is_the_earlier_of_two_alike() -> None:
    assert nearest_frame(np.array([0.0, 1.0, 2.0]), 0.5) == 0


def test_a_window_holds_its_ends_though_frame_times_are_sums_of_fractions() -> None:
    t_s = np.arange(0, 1, 0.1)
    assert t_s[in_window(t_s, 0.3, 0.7)] == pytest.approx([0.3, 0.4, 0.5, 0.6, 0.7])


@pytest.mark.parametrize(
    ("limits", "parts"),
    [
        ({}, [[0, 1], [3, 4], [6]]),
        ({"bridged_s": 0.2}, [[0, 1, 3, 4, 6]]),
        ({"bridged_s": 0.19}, [[0, 1], [3, 4, 6]]),
        ({"broken_s": 0.4}, [[0, 1], [3], [4], [6]]),
        ({"bridged_s": 1.0, "broken_s": 0.4}, [[0, 1, 3], [4, 6]]),
    ],
)
def test_stretches(limits: dict[str, float], parts: list[list[int]]) -> None:
    t_s = np.array([0.0, 0.1, 0.2, 0.3, 0.8, 0.87, 0.95])
    where = np.array([YES, YES, NO, YES, YES, NO, YES])
    assert [part.tolist() for part in stretches(t_s, where, **limits)] == parts


def test_no_stretch_where_nothing_holds() -> None:
    assert stretches(T_S, np.zeros(7, dtype=bool)) == []


@pytest.mark.parametrize(
    ("max_gap_s", "kept"),
    [
        (0.1, [NO, YES, NO, YES, NO, YES, NO]),
        (0.2, [NO, YES, YES, YES, NO, YES, NO]),
        (0.6, [NO, YES, YES, YES, YES, YES, NO]),
    ],
)
def test_seen_or_bridged(max_gap_s: float, kept: list[bool]) -> None:
    seen = np.array([NO, YES, NO, YES, NO, YES, NO])
    assert seen_or_bridged(T_S, seen, max_gap_s + 1e-12).tolist() == kept


def test_nobody_seen_is_nothing_bridged() -> None:
    nobody = np.zeros(7, dtype=bool)
    assert not seen_or_bridged(T_S, nobody, 10.0).any()
    assert np.isnan(bridged(T_S, np.full((7, 2), np.nan), 10.0)).all()


def test_bridged_fills_short_gaps_by_a_straight_line_only() -> None:
    xy = np.column_stack([2 * T_S, 5 - T_S])
    holes = xy.copy()
    holes[[0, 2, 4, 6]] = np.nan
    filled = bridged(T_S, holes, 0.25)
    assert filled[[1, 2, 3, 5]] == pytest.approx(xy[[1, 2, 3, 5]])
    assert np.isnan(filled[[0, 4, 6]]).all()
    assert np.isnan(holes[2]).all()
