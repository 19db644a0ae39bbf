"""An attacker who is hidden by the defender, with the camera behind the run."""

import numpy as np
import pytest

from posecheck.reps.behind import held_behind
from posecheck.reps.rep import ArrivalSource
from posecheck.reps.splitting import find_reps

CAMERA = np.array([0.0, -6.0])
HERE = np.array([0.0, 10.4])
T_S = np.arange(0, 4, 1 / 30)
SPEED = np.where(T_S < 1.8, 5.0, 0.0)


def running(aside_m: float = 0.0):
    """At 5 m/s along y until 9 m out: there, 1.8 m from HERE, at 1.72 s."""
    return np.column_stack([np.full(len(T_S), aside_m), np.minimum(5.0 * T_S, 9.0)])


def waiting(from_s: float, to_s: float = 9.0, *, comes_back_m: float = 0.0):
    xy = np.tile(HERE, (len(T_S), 1))
    xy[to_s <= T_S] += (comes_back_m, 0.0)
    xy[(from_s < T_S) & (to_s > T_S)] = np.nan
    return xy


def held(attacker, defender=None):
    return held_behind(T_S, attacker, running() if defender is None else defender, CAMERA)


def known(xy):
    return np.isfinite(xy).all(axis=1)


def test_who_is_not_seen_again_stays_for_as_long_as_a_runner_may_be_lost():
    place = held(waiting(0.8))
    assert known(place).tolist() == (T_S <= 0.8 + 1.5).tolist()
    assert place[known(place)] == pytest.approx(np.tile(HERE, (known(place).sum(), 1)))
    velocity = np.column_stack([0 * T_S, SPEED])
    (rep,) = find_reps(running(), place, T_S, velocity)
    assert (rep.arrival_s, rep.source) == (pytest.approx(1.72), ArrivalSource.ATTACKER)
    (rep,) = find_reps(running(), waiting(0.8), T_S, velocity)
    assert rep.source is not ArrivalSource.ATTACKER


def test_who_is_found_late_stood_there_before():
    assert known(held(waiting(-1.0, 1.4))).all()
    assert known(held(waiting(-1.0, 2.0))).tolist() == (T_S >= 0.5 - 1e-9).tolist()


def test_who_is_seen_again_where_he_was_may_be_hidden_for_long():
    place = held(waiting(0.3, 3.3, comes_back_m=0.3))
    assert place[:, 0] == pytest.approx(np.clip((T_S - 0.3) * 0.1, 0, 0.3))


def test_who_is_seen_again_elsewhere_has_moved():
    attacker = waiting(0.3, 3.3, comes_back_m=1.0)
    assert np.array_equal(held(attacker), attacker, equal_nan=True)


@pytest.mark.parametrize(
    "defender",
    [
        running(aside_m=0.7),  # beside the line of sight
        running() + np.array([0.0, 12.0]),  # beyond him
        np.where((T_S > 0.6)[:, None], np.nan, running()),  # lost himself; nobody hides him
    ],
)
def test_nothing_is_known_of_one_whom_the_defender_does_not_hide(defender):
    place = held(waiting(0.8), defender)
    assert not known(place)[T_S > 0.8].any()


def test_who_is_nowhere_seen_has_no_place():
    assert not known(held(waiting(-1.0))).any()


def test_a_short_gap_is_left_as_it_is():
    attacker = waiting(0.8, 1.2)
    assert np.array_equal(held(attacker), attacker, equal_nan=True)


def test_who_walks_when_he_is_lost_is_not_held():
    attacker = waiting(0.8)
    attacker[:, 0] += 1.5 * T_S
    assert np.array_equal(held(attacker), attacker, equal_nan=True)


def test_he_is_held_where_he_stood_not_where_he_was_read_half_hidden():
    attacker = waiting(0.8)
    attacker[(T_S > 0.6) & (T_S <= 0.8), 1] -= 0.3
    assert held(attacker)[np.searchsorted(T_S, 1.5)] == pytest.approx(HERE)
