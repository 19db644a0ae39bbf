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
    spine = painted[150, 320]
    assert tuple(spine) == overlay.DEFENDER
    marks = changed(frame, painted)
    rows, columns = np.nonzero(marks)
    assert rows.min() >= 100 - 10 and rows.max() <= 280 + 10
    assert columns.min() >= 312 - 10 and columns.max() <= 328 + 10


def test_the_head_is_a_ring_about_the_face_and_no_feature_of_it_is_drawn() -> None:
    xy = body()
    centre = np.array([320.0, 60.0])
    rng = np.random.default_rng(1)
    xy[:11] = centre + rng.uniform(-3, 3, (11, 2))
    painted = overlay.draw_body(grass(), xy)
    assert (painted[50:70, 310:330] == GRASS).all(), "he is seen through the ring"
    # A trunk of 80 px is 0.5 m; the ring is 0.14 m in radius.
    radius = 0.14 * 80 / 0.5
    around = np.radians(np.arange(0, 360, 10))
    middle = xy[:11].mean(axis=0)
    ring = np.round(middle + radius * np.stack([np.cos(around), np.sin(around)], axis=1))
    assert all(tuple(painted[int(y), int(x)]) == overlay.DEFENDER for x, y in ring)
    neck = painted[round(middle[1] + radius + 6), 320]
    assert tuple(neck) == overlay.DEFENDER, "the spine reaches up to it"


def test_a_foot_is_one_plain_line() -> None:
    xy = body()
    for side, x in (("left", 328.0), ("right", 312.0)):
        xy[SKELETON.index(f"{side}_heel")] = x - 20, 300.0
        xy[SKELETON.index(f"{side}_foot_index")] = x + 40, 300.0
    painted = overlay.draw_body(grass(), xy)
    line = painted[290, 348]
    assert tuple(line) == overlay.DEFENDER, "from the ankle to the toes"
    assert (painted[298:302, 285:305] == GRASS).all(), "no triangle with the heel"


@pytest.mark.parametrize("tone", [(60, 120, 70), (200, 220, 245), (250, 250, 250), (20, 24, 40)])
def test_a_body_stands_out_from_grass_sky_and_jerseys(tone: tuple[int, int, int]) -> None:
    frame = np.full((360, 640, 3), tone, np.uint8)
    for colour in (overlay.DEFENDER, overlay.ATTACKER):
        row = overlay.draw_body(frame, body(), colour)[205, 322:335].astype(int)
        marks = {tuple(each) for each in row} - {tone}
        # WCAG 2.1, success criterion 1.4.11, should be 3 to 1 of what is not type (from memory).
        assert max(_contrast(each, tone) for each in marks) > 3


def _contrast(one: tuple[int, ...], other: tuple[int, ...]) -> float:
    """Contrast ratio of WCAG 2.1 (from memory)."""
    light = []
    for colour in (one, other):
        share = np.array(colour) / 255
        linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
        light.append(float(linear @ (0.2126, 0.7152, 0.0722)) + 0.05)
    return max(light) / min(light)


def test_the_limbs_near_to_the_camera_cross_over_the_others() -> None:
    """Facing right his right side is near: its line is whole where the left leg crosses it."""
    xy = body()
    at = {
        "left_hip": (300, 180), "left_knee": (340, 230), "left_ankle": (300, 280),
        "right_hip": (340, 180), "right_knee": (300, 230), "right_ankle": (340, 280),
        "left_heel": (300, 284), "right_heel": (340, 284),
        "left_foot_index": (330, 290), "right_foot_index": (370, 290),
    }  # fmt: skip
    for name, place in at.items():
        xy[SKELETON.index(name)] = place
    crossing = 205, 320

    def whole(painted: np.ndarray, towards: int) -> bool:
        """Whether the line down to the left (-1) or right (1) has no rim across it."""
        steps = np.arange(-9, 10)
        line = painted[crossing[0] + np.round(steps * 50 / 40).astype(int), 320 + towards * steps]
        return bool((line == overlay.DEFENDER).all())

    right_leg, left_leg = -1, 1
    painted = overlay.draw_body(grass(), xy)
    assert whole(painted, right_leg) and not whole(painted, left_leg)
    for side in ("left", "right"):
        toe, heel = SKELETON.index(f"{side}_foot_index"), SKELETON.index(f"{side}_heel")
        xy[toe] = 2 * xy[heel] - xy[toe]
    painted = overlay.draw_body(grass(), xy)
    assert whole(painted, left_leg) and not whole(painted, right_leg)


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
    painted = overlay.draw_knee(painted, nobody)
    painted = overlay.draw_trunk(painted, nobody)
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
    painted = overlay.draw_knee(frame, xy)
    leg = overlay.straighter_leg(xy)
    assert leg is not None
    half = np.radians(turn_deg / 2)  # the arc's middle, by hand: half the turn off straight down
    radius = 0.8 * 0.75 * 50
    x, y = leg[1] + radius * np.array([-np.sin(half), np.cos(half)])
    assert tuple(painted[round(y), round(x)]) == overlay.DEFENDER
    # Mirrored through the thigh's line there is no arc.
    mirrored = painted[round(y), round(2 * leg[1][0] - x)]
    assert tuple(mirrored) != overlay.DEFENDER


FIGURES = overlay.Figures("60 to 70°", "30 to 38°", Call.CLEAR)


@pytest.mark.parametrize(("x", "free"), [(320.0, "left"), (90.0, "right"), (600.0, "left")])
def test_figures_stand_in_a_corner_that_is_free(x: float, free: str) -> None:
    frame, xy = grass(), body(x=x)
    marks = changed(frame, overlay.draw_figures(frame, FIGURES, xy))
    columns = np.nonzero(marks)[1]
    assert (columns.max() < 320) if free == "left" else (columns.min() > 320)
    seen = xy[np.isfinite(xy).all(axis=1)]
    assert not marks[:, round(seen[:, 0].min()) : round(seen[:, 0].max()) + 1].any()


def test_figures_are_left_out_rather_than_put_over_a_player() -> None:
    frame = grass()
    both = np.concatenate([body(x=90.0), body(x=560.0)])
    assert not changed(frame, overlay.draw_figures(frame, FIGURES, both)).any()
    low = both + np.array([0.0, 150.0])
    assert changed(frame, overlay.draw_figures(frame, FIGURES, low)).any()


def test_no_figures_no_plates() -> None:
    frame = grass()
    assert not changed(frame, overlay.draw_figures(frame, overlay.Figures("", ""), body())).any()


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


def test_the_caption_is_a_band_at_the_top_and_readable_on_a_phone() -> None:
    frame = grass()
    painted = overlay.draw_caption(frame, "arrives in 0.4 s", "5.8 m/s")
    rows = np.nonzero(changed(frame, painted).any(axis=1))[0]
    assert rows.min() == 0
    band = len(rows)
    assert rows.max() == band - 1
    # Shown 390 px wide the type must not be smaller than 12 px.
    assert overlay.text_height(frame) * 390 / 640 >= 12
    assert (painted[:band] == overlay.GUIDE).all(axis=2).any(), "white type"


def test_words_longer_than_the_picture_are_cut_not_refused() -> None:
    frame = np.full((64, 64, 3), GRASS, np.uint8)
    painted = overlay.draw_caption(frame, "w" * 80, "m" * 80)
    assert painted.shape == frame.shape
