"""Known points of the field, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.practice.field import (
    CREASE_RADIUS_WORLD_M,
    closeout_layout,
    crease_radius_m,
    waiting_at,
)
from posecheck.practice.layout import Layout, Side, side_at


def test_an_attacker_waits_behind_his_cone_as_seen_from_the_goal() -> None:
    """A cone 5 m out along (3, 4): 0.4 m further is (3.24, 4.32)."""
    np.testing.assert_allclose(waiting_at(np.array([3.0, 4.0])), (3.24, 4.32))


@pytest.mark.parametrize(
    ("place", "side"),
    [
        ((0.0, 15.0), Side.MIDDLE),
        ((1.0, 15.0), Side.MIDDLE),
        # The tangent of 12 degrees is 0.2126.
        ((2.12, 10.0), Side.MIDDLE),
        ((2.13, 10.0), Side.RIGHT),
        ((-2.13, 10.0), Side.LEFT),
        ((-11.5, 4.5), Side.LEFT),
        ((5.0, -3.0), Side.RIGHT),  # behind the goal
    ],
)
def test_a_side_follows_from_the_angle_from_the_goal(
    place: tuple[float, float], side: Side
) -> None:
    assert side_at(place) is side
    assert Layout({"here": place}, goal=True).side_of("here") is side


def test_the_usual_spots_lie_where_their_names_say() -> None:
    sides = {spot: closeout_layout().side_of(spot) for spot in closeout_layout().cones}
    assert sides == {
        "inside": Side.MIDDLE,
        "top": Side.MIDDLE,
        "top-left": Side.LEFT,
        "side-left": Side.LEFT,
        "top-right": Side.RIGHT,
        "side-right": Side.RIGHT,
    }


def test_without_a_goal_or_a_place_no_side_is_known() -> None:
    place = {"top-left": (-8.0, 12.5)}
    assert Layout(place).side_of("top-left") is None
    assert Layout(place, goal=True).side_of("top-right") is None
    assert Layout(place, goal=True).side_of(None) is None


def test_the_crease_reaches_as_far_as_its_point_upfield() -> None:
    assert crease_radius_m(closeout_layout(CREASE_RADIUS_WORLD_M)) == 3.0
    assert crease_radius_m(Layout({"top": (0.0, 15.0)})) is None
