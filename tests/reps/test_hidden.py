"""Players who are hidden for a while, on runs that are worked by hand."""

import numpy as np
import pytest

from posecheck.reps.hidden import said_of_expected, standing_place
from posecheck.reps.rep import ArrivalSource
from posecheck.reps.splitting import find_reps

HERE = np.array([0.0, 10.4])
T_S = np.arange(0, 4, 1 / 30)


def running(until_s: float = np.inf, again_s: float = np.inf, stays_m: float | None = None):
    """5 m/s along y from the first frame, 8.6 m to within 1.8 m of HERE: there at 1.72 s. Lost
    from one moment to another, and at rest in one place from then on."""
    y = 5.0 * T_S if stays_m is None else np.where(again_s <= T_S, stays_m, 5.0 * T_S)
    speed = np.where(again_s <= T_S, 0.3, 5.0)
    xy, velocity = (np.column_stack([np.zeros(len(T_S)), each]) for each in (y, speed))
    lost = (until_s < T_S) & (again_s > T_S)
    xy[lost], velocity[lost] = np.nan, np.nan
    return xy, velocity


def waiting(*, hidden_s=(9.0, 9.0), comes_back_m=0.0):
    xy = np.tile(HERE, (len(T_S), 1))
    xy[hidden_s[1] <= T_S] += (comes_back_m, 0.0)
    xy[(hidden_s[0] < T_S) & (hidden_s[1] > T_S)] = np.nan
    return xy


@pytest.mark.parametrize("until_s", [1.0, 1.3, 1.7])
def test_who_is_lost_at_a_run_is_expected_when_he_would_be_there(until_s):
    xy, velocity = running(until_s)
    (rep,) = find_reps(xy, waiting(), T_S, velocity)
    assert (rep.arrival_s, rep.source, rep.braking_s) == (None, None, None)
    assert rep.expected_s == pytest.approx(1.72)
    assert rep.about_s == rep.expected_s
    assert rep.end_s == pytest.approx(2.72)
    (said,) = said_of_expected(rep)
    assert "at about 1.7 s, give or take 0.4 s" in said


def test_who_is_lost_running_around_him_is_expected_too_and_who_walks_is_not():
    xy, velocity = running(1.6)  # 2.4 m away, 0.6 m to go
    velocity[(T_S > 1.5) & (T_S <= 1.6)] = (1.44, 1.08)
    (rep,) = find_reps(xy, waiting(), T_S, velocity)
    assert rep.expected_s == pytest.approx(1.6 + 0.6 / 1.8)
    velocity[(T_S > 1.5) & (T_S <= 1.6)] = (0.0, 1.08)
    (rep,) = find_reps(xy, waiting(), T_S, velocity)
    assert rep.expected_s is None


def test_at_the_cone_he_is_expected_as_well():
    xy, velocity = running(1.2)
    (rep,) = find_reps(xy, None, T_S, velocity, cone_xy_m=HERE)
    assert rep.expected_s == pytest.approx(1.72)


def test_who_is_seen_for_a_part_of_his_run_only_is_expected_as_well():
    # Seen from 3.9 m away until 2.2 m: 1.7 m. Before that he has come 5 ** 2 / (2 * 6.5) = 1.9 m.
    xy, velocity = running(1.65)
    part = (T_S < 1.3)[:, None]
    xy, velocity = np.where(part, np.nan, xy), np.where(part, np.nan, velocity)
    (rep,) = find_reps(xy, waiting(), T_S, velocity)
    assert rep.expected_s == pytest.approx(1.72)
    # Who stops there in sight has not come to him.
    seen_on = T_S > 1.65
    xy[seen_on], velocity[seen_on] = (0.0, 8.2), 0.0
    assert find_reps(xy, waiting(), T_S, velocity) == ()


def test_the_attacker_may_be_lost_with_him():
    xy, velocity = running(1.2)
    (rep,) = find_reps(xy, waiting(hidden_s=(1.1, 9.0)), T_S, velocity)
    assert rep.expected_s == pytest.approx(1.72)


@pytest.mark.parametrize(
    ("until_s", "again_s", "stays_m"),
    [
        (0.8, 9.0, None),  # 0.92 s before he would be there
        (1.2, 2.2, 5.0),  # back a second later, and farther from him than when he was lost
        (1.1, 1.7, 8.0),  # seen again just before, 2.4 m away
    ],
)
def test_nobody_is_expected_whom_too_little_or_the_film_itself_speaks_against(
    until_s, again_s, stays_m
):
    xy, velocity = running(until_s, again_s, stays_m)
    reps = find_reps(xy, waiting(), T_S, velocity)
    assert [each.expected_s for each in reps] == [None] * len(reps)


def test_nobody_is_expected_after_the_end_of_the_film():
    xy, velocity = running(1.2)
    short = T_S < 1.6
    (rep,) = find_reps(xy[short], waiting()[short], T_S[short], velocity[short])
    assert rep.about_s is None


def test_who_arrives_in_sight_is_not_expected_besides():
    (rep,) = find_reps(running()[0], waiting(), T_S, running()[1])
    assert rep.arrival_s == pytest.approx(1.72)
    assert rep.expected_s is None
    assert said_of_expected(rep) == ()


def test_an_attacker_hidden_by_the_defender_stands_where_he_is_seen_again():
    xy, velocity = running()
    (rep,) = find_reps(xy, waiting(hidden_s=(1.2, 2.4), comes_back_m=0.3), T_S, velocity)
    assert rep.source is ArrivalSource.ATTACKER
    # He moves by 0.3 m aside in 1.2 s: 0.13 m by then, hardly any nearer or farther.
    assert rep.arrival_s == pytest.approx(1.72, abs=0.01)


@pytest.mark.parametrize(
    ("hidden_s", "comes_back_m"),
    [
        ((1.2, 2.4), 1.0),  # has moved
        ((0.5, 3.6), 0.0),  # hidden for too long
        ((1.2, 9.0), 0.0),  # not seen again
    ],
)
def test_else_nothing_is_known_of_him(hidden_s, comes_back_m):
    seen = waiting(hidden_s=hidden_s, comes_back_m=comes_back_m)
    place = standing_place(T_S, seen)
    assert np.isnan(place[(hidden_s[0] + 0.1 < T_S) & (hidden_s[1] - 0.1 > T_S)]).all()
    (rep,) = find_reps(running()[0], seen, T_S, running()[1])
    assert rep.arrival_s is None
