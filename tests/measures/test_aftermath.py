"""The second after arrival, with runs and dodges worked by hand; goal at the origin, y upfield."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from posecheck.measures.aftermath import goal_side, unseen_s, went_across, worst_moment
from posecheck.practice.layout import Side, side_at

T_S = np.arange(0, 121) / 30
ARRIVAL_S = 2.0
TOP_LEFT = np.array([-6.0, 8.0])  # 10 m from the goal; topside is (0.8, 0.6)


def moving(place, velocity, from_s=ARRIVAL_S):
    """Standing at a place until a moment, then off at a steady velocity."""
    return np.asarray(place) + np.clip(T_S - from_s, 0, None)[:, None] * np.asarray(velocity)


def test_goal_side_is_the_difference_of_the_ways_to_the_goal():
    # 5 m by 3-4-5 and 13 m by 5-12-13.
    assert goal_side(np.array([[3.0, 4.0]]), np.array([[-5.0, 12.0]])) == pytest.approx([8.0])
    assert goal_side(np.array([[-5.0, 12.0]]), np.array([[3.0, 4.0]])) == pytest.approx([-8.0])


def worst(defender, attacker):
    return goal_side(defender, attacker)[worst_moment(T_S, defender, attacker, ARRIVAL_S)]


@pytest.mark.parametrize(
    ("defender", "attacker", "least_m"),
    [
        # Stays 1.5 m in front of an attacker who stands.
        (moving(0.85 * TOP_LEFT, (0, 0)), moving(TOP_LEFT, (0, 0)), 1.5),
        # Runs on past him at 4 m/s, straight out: from 1.5 m in front to 2.5 m behind.
        (moving(0.85 * TOP_LEFT, (-2.4, 3.2)), moving(TOP_LEFT, (0, 0)), -2.5),
        # Stands, and the attacker goes at the goal by him at 3 m/s.
        (moving(0.85 * TOP_LEFT, (0, 0)), moving(TOP_LEFT, (1.8, -2.4)), -1.5),
        # Goes with him at his pace.
        (moving(0.85 * TOP_LEFT, (1.8, -2.4)), moving(TOP_LEFT, (1.8, -2.4)), 1.5),
        # What happens later than a second after does not count.
        (moving(0.85 * TOP_LEFT, (0, 0)), moving(TOP_LEFT, (1.8, -2.4), 3.0), 1.5),
    ],
)
def test_the_worst_moment_of_the_second_by_hand(defender, attacker, least_m):
    assert worst(defender, attacker) == pytest.approx(least_m)


def test_who_was_goal_side_before_arrival_does_not_count():
    defender, attacker = moving(0.85 * TOP_LEFT, (0, 0)), moving(TOP_LEFT, (0, 0))
    attacker[T_S < 1.9] = 0.5 * TOP_LEFT
    assert worst(defender, attacker) == pytest.approx(1.5)


def test_beaten_and_recovered_was_beaten():
    defender = moving(0.9 * TOP_LEFT, (0, 0))
    attacker = moving(TOP_LEFT, (0, 0))
    attacker[(T_S > 2.4) & (T_S < 2.6)] = 0.7 * TOP_LEFT
    assert worst(defender, attacker) == pytest.approx(-2.0)


@pytest.mark.parametrize(
    ("stands", "velocity", "across_m"),
    [
        (TOP_LEFT, (0.8, 0.6), 1.0),  # square across, topside
        (TOP_LEFT, (-1.6, -1.2), -2.0),  # square across, down the alley
        (TOP_LEFT, (1.8, -2.4), 0.0),  # straight at the goal
        (TOP_LEFT, (0.0, 0.0), 0.0),
        ((6.0, 8.0), (-0.8, 0.6), 1.0),  # topside of a right spot is to the left
        ((0.0, 15.0), (1.5, -1.0), 1.5),  # at the top: the defender's right
    ],
)
def test_where_the_attacker_went_by_hand(stands, velocity, across_m):
    track = moving(stands, velocity)
    found = went_across(T_S, track, ARRIVAL_S, side_at(stands))
    assert found == pytest.approx(across_m, abs=1e-9)


def test_what_was_not_seen_does_not_count():
    defender, attacker = moving(0.85 * TOP_LEFT, (0, 0)), moving(TOP_LEFT, (1.8, -2.4))
    gone = attacker.copy()
    gone[T_S > 2.5] = np.nan
    # Seen for half of the second: the worst of that half, and half a second open.
    assert worst(defender, gone) == pytest.approx(0.0)
    assert unseen_s(T_S, defender, gone, ARRIVAL_S) == pytest.approx(0.5)
    assert np.isnan(went_across(T_S, gone, ARRIVAL_S, Side.LEFT))
    gone[T_S > 1.0] = np.nan
    assert worst_moment(T_S, defender, gone, ARRIVAL_S) is None
    assert unseen_s(T_S, defender, gone, ARRIVAL_S) == 1.0
    assert unseen_s(T_S, defender, attacker, ARRIVAL_S) == pytest.approx(0.0)


places = st.tuples(st.floats(-12, 12), st.floats(3, 16))
velocities = st.tuples(st.floats(-5, 5), st.floats(-5, 5))


@given(places, velocities, places, velocities)
def test_mirroring_the_field_changes_nothing_but_the_tops_side(
    here, velocity, there, other_velocity
):
    mirror = np.array([-1.0, 1.0])
    defender, attacker = moving(here, velocity), moving(there, other_velocity)
    side, mirrored_side = side_at(there), side_at((-there[0], there[1]))
    assert worst(mirror * defender, mirror * attacker) == pytest.approx(worst(defender, attacker))
    across = went_across(T_S, attacker, ARRIVAL_S, side)
    mirrored = went_across(T_S, mirror * attacker, ARRIVAL_S, mirrored_side)
    assert mirrored == pytest.approx(-across if side is Side.MIDDLE else across, abs=1e-9)


@given(places, velocities, places, velocities, st.floats(-3, 3))
def test_who_is_goal_side_does_not_turn_with_the_field(here, velocity, there, other_velocity, turn):
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    defender, attacker = moving(here, velocity), moving(there, other_velocity)
    turned = worst(defender @ rotation.T, attacker @ rotation.T)
    assert turned == pytest.approx(worst(defender, attacker), abs=1e-9)
