"""Sides and distances on a field drawn by hand: goal at the origin, y upfield."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from posecheck.measures.approach import approach_offset, bow, heading, overrun, topside
from posecheck.practice.layout import Side, side_at

TOP, TOP_LEFT, TOP_RIGHT = np.array([0.0, 15.0]), np.array([-8.0, 12.5]), np.array([8.0, 12.5])
SIDE_LEFT, SIDE_RIGHT = np.array([-11.5, 4.5]), np.array([11.5, 4.5])


@pytest.mark.parametrize(
    ("attacker", "defender", "offset"),
    [
        # Beside the line by a 3-4-5 triangle: attacker at 10 m, defender 0.5 m square to it.
        (np.array([-6.0, 8.0]), np.array([-6.0, 8.0]) + 0.5 * np.array([0.8, 0.6]), 0.5),
        (np.array([6.0, 8.0]), np.array([6.0, 8.0]) + 0.5 * np.array([-0.8, 0.6]), 0.5),
        # The alley side is negative.
        (np.array([-6.0, 8.0]), np.array([-6.0, 8.0]) - 0.5 * np.array([0.8, 0.6]), -0.5),
        # On the line, straight up, wherever along it.
        (SIDE_LEFT, 0.8 * SIDE_LEFT, 0.0),
        # At the top positive is the defender's right, looking out.
        (TOP, np.array([0.7, 13.3]), 0.7),
        (TOP, np.array([-0.7, 13.3]), -0.7),
    ],
)
def test_approach_offset_by_hand(attacker, defender, offset):
    assert approach_offset(defender, attacker, side_at(attacker)) == pytest.approx(offset)


@pytest.mark.parametrize("attacker", [TOP_LEFT, TOP_RIGHT, SIDE_LEFT, SIDE_RIGHT])
def test_topside_points_to_the_middle_of_the_field(attacker):
    across = topside(attacker, side_at(attacker))
    assert across @ attacker == pytest.approx(0.0)
    far_upfield = np.array([0.0, 50.0])
    assert across @ (far_upfield - attacker) > 0


def test_bow_of_a_half_circle_is_its_radius_and_of_a_line_nothing():
    angle = np.linspace(0, np.pi, 61)
    # From (0, 0) to (0, 10) bulging to +x, which is topside for an attacker on the left.
    arc = np.stack([5 * np.sin(angle), 5 - 5 * np.cos(angle)], axis=1)
    attacker = np.array([-1.0, 10.0])
    assert bow(arc, attacker, Side.LEFT) == pytest.approx(5.0)
    assert bow(arc * [-1, 1], attacker, Side.LEFT) == pytest.approx(-5.0)
    arc[30] = np.nan
    assert bow(arc, attacker, Side.LEFT) == pytest.approx(5.0 * np.sin(angle[29]))
    line = np.linspace([0, 0], [0, 10], 30)
    assert bow(line, attacker, Side.LEFT) == pytest.approx(0.0)
    assert np.isnan(bow(line * np.nan, attacker, Side.LEFT))
    assert np.isnan(bow(np.zeros((5, 2)), attacker, Side.LEFT))


T_S = np.arange(0, 4, 1 / 30)


def towards(attacker, turned_deg, across, t_s=T_S):
    """A straight run at 5 m/s that arrives 1 m from the attacker after 2 s, turned off the line."""
    out = attacker / np.linalg.norm(attacker)
    along = np.cos(np.radians(turned_deg)) * out + np.sin(np.radians(turned_deg)) * across
    return attacker - out + 5.0 * (t_s[:, None] - 2.0) * along


@pytest.mark.parametrize("turned_deg", [0.0, 20.0, -50.0, 90.0, -170.0])
@pytest.mark.parametrize(
    ("attacker", "across"),
    [
        # By 3-4-5 triangles: the goal behind, the middle of the field across.
        (np.array([-6.0, 8.0]), np.array([0.8, 0.6])),
        (np.array([8.0, 6.0]), np.array([-0.6, 0.8])),
        (np.array([0.0, 15.0]), np.array([1.0, 0.0])),
    ],
)
def test_heading_is_the_turn_put_in(attacker, across, turned_deg):
    run = towards(attacker, turned_deg, across)
    found = heading(T_S, run, attacker, 0.0, 2.0, side_at(attacker))
    assert np.degrees(found) == pytest.approx(turned_deg)


def test_heading_counts_the_last_steps_only():
    # A corner: up the field, then the last 2 m square across, towards the defender's left.
    gone = 5.0 * T_S
    xy = np.stack([-np.clip(gone - 8.0, 0, None), np.minimum(gone, 8.0)], axis=1)
    attacker = np.array([-3.0, 8.0])
    out, across = attacker / np.hypot(3, 8), np.array([8.0, 3.0]) / np.hypot(3, 8)
    by_hand = np.arctan2(np.array([-1.0, 0.0]) @ across, np.array([-1.0, 0.0]) @ out)
    found = heading(T_S, xy, attacker, 0.0, 2.0, Side.LEFT)
    assert found == pytest.approx(by_hand)
    assert np.degrees(found) == pytest.approx(-69.4, abs=0.1)


def test_heading_needs_the_arrival_and_a_way_before_it():
    run = towards(TOP_LEFT, 10.0, topside(TOP_LEFT, Side.LEFT))
    assert np.isnan(heading(T_S, run, TOP_LEFT, 0.0, 9.0, Side.LEFT))  # after the film
    assert np.isnan(heading(T_S, run, TOP_LEFT, 1.8, 2.0, Side.LEFT))  # 1 m in all
    # Frames not seen are passed over for one that was, a little further back.
    run[(T_S > 1.5) & (T_S < 1.9)] = np.nan
    found = heading(T_S, run, TOP_LEFT, 0.0, 2.0, Side.LEFT)
    assert np.degrees(found) == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("stops_at_m", "past_m"),
    [
        (8.0, 0.0),  # in front of him
        (10.0, 0.0),  # level with him
        (11.5, 1.5),  # past him and stopped
        (99.0, 3.2),  # never stops: 5 m/s for a second from 1.8 m before him
    ],
)
def test_overrun_by_hand(stops_at_m, past_m):
    gone = np.minimum(5.0 * T_S, stops_at_m)
    xy = np.stack([0.6 * gone, 0.8 * gone], axis=1)
    attacker = np.array([6.0, 8.0])
    arrival_s = 8.2 / 5.0
    if stops_at_m < 8.2:
        arrival_s = stops_at_m / 5.0
    # The last frame within the second lies up to a frame's run (0.17 m) before its end.
    assert overrun(T_S, xy, attacker, 0.0, arrival_s) == pytest.approx(past_m, abs=0.17)


def test_running_by_at_a_distance_is_past_along_the_run():
    xy = np.stack([np.full(len(T_S), 1.5), 5.0 * T_S], axis=1)
    past = overrun(T_S, xy, np.array([0.0, 10.0]), 0.0, 1.8)
    assert past == pytest.approx(4.0, abs=0.17)


def test_overrun_is_unknown_when_the_aftermath_is_not_seen():
    xy = np.stack([0 * T_S, 5.0 * T_S], axis=1)
    xy[T_S > 1.64] = np.nan
    assert np.isnan(overrun(T_S, xy, np.array([0.0, 10.0]), 0.0, 1.64))


places = st.tuples(st.floats(-12, 12), st.floats(3, 16)).map(np.array)


@given(places, places)
def test_mirroring_the_field_keeps_topside_except_at_the_top(attacker, defender):
    side, mirror = side_at(attacker), np.array([-1.0, 1.0])
    here = approach_offset(defender, attacker, side)
    there = approach_offset(mirror * defender, mirror * attacker, side_at(mirror * attacker))
    assert there == pytest.approx(-here if side is Side.MIDDLE else here, abs=1e-9)


@given(places, st.floats(-179, 179))
def test_mirroring_the_field_keeps_the_heading_except_at_the_top(attacker, turned_deg):
    side, mirror = side_at(attacker), np.array([-1.0, 1.0])
    run = towards(attacker, turned_deg, topside(attacker, side))
    there = heading(T_S, mirror * run, mirror * attacker, 0.0, 2.0, side_at(mirror * attacker))
    expected = -turned_deg if side is Side.MIDDLE else turned_deg
    assert np.degrees(there) == pytest.approx(expected, abs=1e-6)
