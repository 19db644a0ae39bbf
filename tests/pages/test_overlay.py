"""Painters are judged by pixels: they change where they should, and only there."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.judging.verdict import Call
from posecheck.pages import overlay
from posecheck.pose.skeleton import SKELETON

GRASS = (60, 120, 70)


def grass() -> np.ndarray:
    return np.full((360, 640, 3), GRASS, np.uint8)


def body(knee_turn_deg: float = 0.0, x: float = 320.0) -> np.ndarray:
    """A body with both legs alike: thighs straight down, shins turned back by the given angle."""
    xy = np.full((33, 2), np.nan)
    for side, shift in (("left", 8.0), ("right", -8.0)):
        turn = np.radians(knee_turn_deg)
        joints = {
            "shoulder": (x + shift, 100.0),
            "hip": (x + shift, 180.0),
            "knee": (x + shift, 230.0),
            "ankle": (x + shift - 50 * np.sin(turn), 230.0 + 50 * np.cos(turn)),
        }
        for joint, place in joints.items():
            xy[SKELETON.index(f"{side}_{joint}")] = place
    return xy


def changed(before: np.ndarray, after: np.ndarray) -> np.ndarray:
    return (before != after).any(axis=2)


def test_a_body_is_drawn_on_its_limbs_and_nowhere_else() -> None:
    frame = grass()
    painted = overlay.draw_body(frame, body())
    assert (frame == GRASS).all(), "the picture handed in is left alone"
    thigh_middle = painted[205, 328]
    assert tuple(thigh_middle) == overlay.DEFENDER
    marks = changed(frame, painted)
    rows, columns = np.nonzero(marks)
    assert rows.min() >= 100 - 10 and rows.max() <= 280 + 10
    assert columns.min() >= 312 - 10 and columns.max() <= 328 + 10


def test_a_landmark_not_seen_takes_its_limbs_with_it_and_no_more() -> None:
    whole, partly = body(), body()
    partly[SKELETON.index("left_ankle")] = np.nan
    full = overlay.draw_body(grass(), whole)
    part = overlay.draw_body(grass(), partly)
    assert tuple(full[258, 328]) == overlay.DEFENDER
    assert tuple(part[258, 328]) == GRASS
    assert tuple(part[205, 328]) == overlay.DEFENDER


def test_nothing_is_drawn_of_a_body_not_seen() -> None:
    nobody = np.full((33, 2), np.nan)
    frame = grass()
    painted = overlay.draw_body(frame, nobody)
    painted = overlay.draw_knee(painted, nobody, "30°")
    painted = overlay.draw_trunk(painted, nobody, "10°")
    assert not changed(frame, painted).any()


def test_an_angle_not_measured_is_not_drawn() -> None:
    frame = grass()
    painted = overlay.draw_knee(frame, body(30.0), "")
    painted = overlay.draw_trunk(painted, body(30.0), "")
    assert not changed(frame, painted).any()


def test_the_straighter_leg_is_chosen() -> None:
    xy = body(60.0)
    ankle, knee = SKELETON.index("right_ankle"), SKELETON.index("right_knee")
    xy[ankle] = xy[knee] + (0.0, 50.0)
    leg = overlay.straighter_leg(xy)
    assert leg is not None
    assert leg[1] == pytest.approx(xy[knee])
    xy[ankle] = np.nan
    leg = overlay.straighter_leg(xy)
    assert leg is not None
    assert leg[1] == pytest.approx(xy[SKELETON.index("left_knee")])


@pytest.mark.parametrize("turn_deg", [20.0, 60.0, -60.0])
def test_the_arc_lies_between_the_thighs_line_and_the_shin(turn_deg: float) -> None:
    xy = body(turn_deg)
    frame = grass()
    painted = overlay.draw_knee(frame, xy, f"{abs(turn_deg):.0f}°")
    leg = overlay.straighter_leg(xy)
    assert leg is not None
    half = np.radians(turn_deg / 2)  # the arc's middle, by hand: half the turn off straight down
    radius = 0.8 * 0.75 * 50
    x, y = leg[1] + radius * np.array([-np.sin(half), np.cos(half)])
    assert tuple(painted[round(y), round(x)]) == overlay.DEFENDER
    # Mirrored through the thigh's line there is no arc.
    mirrored = painted[round(y), round(2 * leg[1][0] - x)]
    assert tuple(mirrored) != overlay.DEFENDER


@pytest.mark.parametrize("side", [-1, 1])
def test_labels_stand_on_the_asked_side_of_the_body(side: int) -> None:
    xy = body(0.0)
    frame = grass()
    marks = changed(frame, overlay.draw_trunk(frame, xy, "12°", side))
    left, right = marks[:, :300].any(), marks[:, 340:].any()
    assert (left, right) == ((True, False) if side < 0 else (False, True))


def test_a_label_goes_to_the_other_side_when_the_picture_ends() -> None:
    xy = body(0.0, x=20.0)
    frame = grass()
    marks = changed(frame, overlay.draw_trunk(frame, xy, "12°", side=-1))
    assert marks[:, 40:].any()


@pytest.mark.parametrize("size", [0.2, 0.5, 1.0])
def test_the_labels_of_trunk_and_knee_do_not_cover_each_other(size: float) -> None:
    middle = np.array([320.0, 200.0])
    xy, frame = middle + size * (body() - middle), grass()
    beside = slice(345, None)
    trunk, knee = (
        changed(frame, draw(frame, xy, "40°", 1))[:, beside].any(axis=1)
        for draw in (overlay.draw_trunk, overlay.draw_knee)
    )
    assert trunk.any() and knee.any() and not (trunk & knee).any()


def test_the_free_side_is_away_from_the_other_body() -> None:
    here, there = body(x=200.0), body(x=400.0)
    assert overlay.free_side(here, there) == -1
    assert overlay.free_side(there, here) == 1
    assert overlay.free_side(here, np.full((33, 2), np.nan)) == -1


def test_calls_differ_in_shape_not_only_in_colour() -> None:
    shapes = []
    for call in Call:
        painted = grass()
        overlay.paint_mark(painted, np.array([100.0, 100.0]), 20, call)
        shapes.append((painted == overlay.CALL_COLOUR[call]).all(axis=2))
    areas = [shape.sum() for shape in shapes]
    # By hand: a triangle of base 44 and height 40 has 880 square pixels, a disc of radius 20 has
    # 1257; the open diamond is an outline and leaves its middle alone.
    assert areas[0] == pytest.approx(880, rel=0.1)
    assert areas[1] == pytest.approx(1257, rel=0.1)
    assert not shapes[2][100, 100] and shapes[2][100, 76:80].any()


def test_the_caption_is_a_band_at_the_foot_and_readable_on_a_phone() -> None:
    frame = grass()
    painted = overlay.draw_caption(frame, "arrives in 0.4 s", "5.8 m/s")
    rows = np.nonzero(changed(frame, painted).any(axis=1))[0]
    assert rows.max() == 359
    band = len(rows)
    assert rows.min() == 360 - band
    # Shown 390 px wide the type must not be smaller than 12 px.
    assert overlay.text_height(frame) * 390 / 640 >= 12
    assert (painted[rows.min() :] == overlay.GUIDE).all(axis=2).any(), "white type"


def test_words_longer_than_the_picture_are_cut_not_refused() -> None:
    frame = np.full((64, 64, 3), GRASS, np.uint8)
    painted = overlay.draw_tag(overlay.draw_caption(frame, "w" * 80, "m" * 80), "slow" * 20)
    assert painted.shape == frame.shape
