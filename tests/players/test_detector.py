"""Which regions are searched for people, and what is read of those found."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
import pytest
from actors import BLUE, RED, Actor, SeesJerseys, field, standing_pose, stands
from hypothesis import given
from hypothesis import strategies as st

from posecheck.maths.boxes import overlap
from posecheck.maths.homography import mapped, mapped_box
from posecheck.players.detector import (
    PaintedOut,
    Person,
    around,
    around_motion,
    colours_in,
    exposed_tiles,
    find_people,
    moving_boxes,
    regions_for,
    tiles,
)
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PlayerPose

WIDTHS = [(1920, 1080), (1080, 1920), (1280, 720), (720, 720)]


@pytest.mark.parametrize("size", WIDTHS)
@pytest.mark.parametrize("turn", [0, 1])
@given(data=st.data())
def test_every_player_tall_enough_lies_wholly_in_a_tile_that_shows_him(
    size: tuple[int, int], turn: int, data: st.DataObject
) -> None:
    # Tall enough: a fifth of a tile, as far as the detector goes; tiles overlap by a quarter.
    shorter = min(size)
    height = data.draw(st.floats(0.12, 0.148)) * shorter if turn == 0 else 0.11 * shorter
    x = data.draw(st.floats(0.2 * height, size[0] - 1 - 0.2 * height))
    y = data.draw(st.floats(height, size[1] - 1))
    box = np.array([x - 0.2 * height, y - height, x + 0.2 * height, y])
    squares = tiles(*size, turn=turn)
    assert any(np.all(tile[:2] <= box[:2]) and np.all(box[2:] <= tile[2:]) for tile in squares)


def test_a_sweep_is_cheap() -> None:
    assert len(tiles(1920, 1080, turn=0)) == 39
    assert len(tiles(1920, 1080, turn=1)) == 15


def test_raised_hands_do_not_make_a_player_taller() -> None:
    body = np.array([280.0, 100, 320, 200])
    pose = standing_pose(body)
    pose.xy_px[SKELETON.indices("left_wrist", "left_index")] = 300, 40
    (person,) = find_people(Finds(pose), field(), [body])
    assert person.box_xyxy == pytest.approx(body, abs=5)


class Finds:
    """Finds one person."""

    def __init__(self, pose: PlayerPose) -> None:
        self._pose = pose

    def find_people(self, frame_rgb: np.ndarray, regions: Sequence[np.ndarray]) -> list[PlayerPose]:
        return [self._pose]

    def person_in(self, frame_rgb: np.ndarray, box_xyxy: np.ndarray) -> PlayerPose | None:
        return self._pose


@pytest.mark.parametrize(
    ("pan_px", "lefts"),
    [(0, set()), (100, set()), (300, {1272}), (-300, {0}), (2000, {0, 424, 848, 1272})],
)
def test_a_pan_is_followed_by_looks_at_what_it_shows(pan_px: int, lefts: set[int]) -> None:
    to_swept = np.array([[1, 0, pan_px], [0, 1, 0], [0, 0, 1.0]])
    squares = exposed_tiles(1920, 1080, to_swept)
    assert {int(square[0]) for square in squares} == lefts
    assert len(squares) == 2 * len(lefts)


def test_players_near_each_other_share_a_region_and_others_do_not() -> None:
    one = np.array([100.0, 100, 160, 300])
    beside = one + np.array([120, 0, 120, 0])
    apart = one + np.array([700, 0, 700, 0])
    far_behind = np.array([130.0, 150, 150, 210])
    regions = regions_for([(one, 0.0), (beside, 10.0), (apart, 0.0), (far_behind, 0.0)])
    assert len(regions) == 3
    for box, region in ((one, regions[0]), (beside, regions[0]), (apart, regions[1])):
        assert np.all(region[:2] <= box[:2]) and np.all(box[2:] <= region[2:])
    assert np.allclose(regions[2], around(far_behind))


def test_a_person_found_has_the_whole_body_and_the_jersey() -> None:
    picture = field()
    actors = [Actor(RED, stands(200, 300)), Actor(BLUE, stands(400, 300))]
    for actor in actors:
        left, top, right, bottom = actor.box(0.0).round().astype(int)
        picture[top:bottom, left:right] = (70, 60, 55)
        high = bottom - top
        picture[top + round(0.16 * high) : top + round(0.55 * high), left:right] = actor.jersey
    people = find_people(
        SeesJerseys(RED, BLUE), picture, [around(actor.box(0.0)) for actor in actors]
    )
    people.sort(key=lambda person: person.box_xyxy[0])
    assert len(people) == 2
    for person, actor in zip(people, actors, strict=True):
        assert overlap(person.box_xyxy, actor.box(0.0)) > 0.85
    red, blue = people
    assert red.colours @ red.colours == pytest.approx(1.0)
    assert red.colours @ blue.colours < 0.2
    assert colours_in(picture, red.box_xyxy, red.trunk) @ red.colours > 0.95


def test_people_already_found_are_painted_out_of_a_copy() -> None:
    picture = field()
    before = picture.copy()
    actor = Actor(RED, stands(200, 300))
    person = Person(actor.box(0.0), np.array([0.3, 0.2, 0.7, 0.5]), np.ones(1))
    painted = PaintedOut(picture, [person.box_xyxy])
    rest = painted[:, :]
    assert np.array_equal(picture, before)
    left, top, right, bottom = actor.box(0.0).round().astype(int)
    assert np.all(rest[top:bottom, left + 6 : right - 6] == 128)
    changed = np.flatnonzero((rest != before).any(axis=(0, 2)))
    # What reaches into the sides of the box may be the other player's.
    assert left < changed[0] and changed[-1] < right - 1
    assert np.array_equal(painted[top + 9 : bottom, left + 3 :], rest[top + 9 : bottom, left + 3 :])


def test_what_moves_is_found_on_a_steadied_picture_and_known_players_are_left_out() -> None:
    wide = cv2.cvtColor(field(800, 360), cv2.COLOR_RGB2GRAY)
    before, now = wide[:, 60:700].copy(), wide[:, 80:720].copy()
    for picture, x in ((before, 320), (now, 330)):
        picture[150:230, x : x + 26] = 20
    for picture, x in ((before, 110), (now, 70)):
        picture[150:230, x : x + 26] = 230
    pan = np.array([[1, 0, -20], [0, 1, 0], [0, 0, 1.0]])
    boxes = moving_boxes(before, now, pan, [])
    middles = sorted((box[0] + box[2]) / 2 for box in boxes)
    assert middles == pytest.approx([93, 328], abs=3)
    left_out = moving_boxes(before, now, pan, [np.array([50.0, 130, 140, 250])])
    assert [(box[0] + box[2]) / 2 > 250 for box in left_out] == [True]
    assert moving_boxes(before, before, np.eye(3), []) == []


@given(
    height=st.floats(20, 600), moved=st.floats(0, 3), x=st.floats(-50, 1900), y=st.floats(0, 1080)
)
def test_a_runner_fills_enough_of_the_region_where_something_moved(
    height: float, moved: float, x: float, y: float
) -> None:
    """Up to three heights between two looks: he is inside, and at least a fourth as tall. The
    other regions are smaller and larger, about the same middle."""
    change = np.array([x, y - height, x + (0.4 + moved) * height, y])
    region, *others = around_motion(change)
    sides = [other[2] - other[0] for other in others]
    assert min(sides) < region[2] - region[0] < max(sides)
    for other in others:
        assert (other[:2] + other[2:]) == pytest.approx(region[:2] + region[2:])
    assert (region[:2] <= change[:2]).all() and (change[2:] <= region[2:]).all()
    side = region[2:] - region[:2]
    assert side[0] == pytest.approx(side[1])
    assert height >= side[1] / 4


def test_boxes_through_a_homography_against_opencv() -> None:
    turn = cv2.Rodrigues(np.array([0.05, 0.1, 0.02]))[0]
    camera = np.array([[1000, 0, 640], [0, 1000, 360], [0, 0, 1.0]])
    homography = camera @ turn @ np.linalg.inv(camera)
    points = np.array([[100.0, 200], [640, 360], [900, 50]])
    expected = cv2.perspectiveTransform(points[None], homography)[0]
    assert np.allclose(mapped(homography, points), expected)
    box = np.array([600.0, 300, 660, 460])
    there = mapped_box(homography, box)
    back = mapped_box(np.linalg.inv(homography), there)
    assert np.allclose(back, box, atol=1.0)
    zoomed = mapped_box(np.diag([2.0, 2.0, 1.0]), box)
    assert np.allclose(zoomed, 2 * box)
