"""Blurring: nothing sharp is left but the player's own outline."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from factories import make_series

from posecheck.pages.blurring import blurred, cell_px, outline, shown_alone

WIDTH, HEIGHT = 1920, 1080
TALL_PX = 320.0


@pytest.fixture(scope="module")
def busy() -> np.ndarray:
    """A picture that is all detail."""
    rng = np.random.default_rng(7)
    return rng.integers(0, 256, (HEIGHT, WIDTH, 3), dtype=np.uint8)


@pytest.fixture(scope="module")
def body() -> np.ndarray:
    return make_series().defender_xy_px[20]


def detail(picture: np.ndarray) -> float:
    return float(cv2.Laplacian(picture.astype(np.float32), cv2.CV_32F).std())


def test_outside_the_outline_not_a_pixel_is_of_the_sharp_picture(
    busy: np.ndarray, body: np.ndarray
) -> None:
    cell = cell_px(HEIGHT, TALL_PX)
    shown = shown_alone(busy, body, TALL_PX, [], cell)
    mask = outline(busy.shape[:2], body, TALL_PX) > 0
    assert np.array_equal(shown[~mask], blurred(busy, cell)[~mask])
    # In the middle of the trunk he is as filmed.
    x, y = body[[11, 12, 23, 24]].mean(axis=0).round().astype(int)
    assert np.array_equal(shown[y - 3 : y + 4, x - 3 : x + 4], busy[y - 3 : y + 4, x - 3 : x + 4])


def test_what_is_blurred_holds_no_detail(busy: np.ndarray) -> None:
    soft = blurred(busy, cell_px(HEIGHT, TALL_PX))
    assert detail(soft) < 0.005 * detail(busy)


def test_a_player_before_the_camera_is_blurred_by_the_whole_picture_s_cells() -> None:
    """The one shown is small and far; somebody's number fills a seventh of the picture's height."""
    picture = np.full((HEIGHT, WIDTH, 3), 30, np.uint8)
    cv2.putText(picture, "27", (800, 620), cv2.FONT_HERSHEY_SIMPLEX, 6, (255, 255, 255), 18)
    soft = blurred(picture, cell_px(HEIGHT, 60.0))
    assert cell_px(HEIGHT, 60.0) >= 45
    # A 2 and a 7 of that height differ by less than a tenth of their contrast.
    other = np.full_like(picture, 30)
    cv2.putText(other, "22", (800, 620), cv2.FONT_HERSHEY_SIMPLEX, 6, (255, 255, 255), 18)
    apart = np.abs(soft.astype(int) - blurred(other, cell_px(HEIGHT, 60.0)).astype(int)).max()
    assert apart < 0.1 * 225


def test_whoever_else_is_there_wins(busy: np.ndarray, body: np.ndarray) -> None:
    cell = cell_px(HEIGHT, TALL_PX)
    x, y = body[0]
    head = np.array([x - 40, y - 60, x + 40, y + 60])
    shown = shown_alone(busy, body, TALL_PX, [head], cell)
    left, top, right, bottom = head.round().astype(int)
    inside = np.s_[top:bottom, left:right]
    assert np.array_equal(shown[inside], blurred(busy, cell)[inside])


@pytest.mark.parametrize("missing", [[11, 12], [23, 24], list(range(33))])
def test_without_shoulders_or_hips_the_whole_frame_is_blurred(
    busy: np.ndarray, body: np.ndarray, missing: list[int]
) -> None:
    gone = body.copy()
    gone[missing] = np.nan
    cell = cell_px(HEIGHT, TALL_PX)
    assert np.array_equal(shown_alone(busy, gone, TALL_PX, [], cell), blurred(busy, cell))


def test_a_joint_that_jumped_opens_no_window_elsewhere(body: np.ndarray) -> None:
    astray = body.copy()
    astray[27] = 1500, 300  # an ankle on somebody at the other end of the picture
    mask = outline((HEIGHT, WIDTH), astray, TALL_PX)
    assert not mask[:, 1000:].any()
    assert mask[:, :1000].any()


def test_the_size_not_known_means_all_blurred(busy: np.ndarray, body: np.ndarray) -> None:
    cell = cell_px(HEIGHT, np.nan)
    assert np.array_equal(shown_alone(busy, body, np.nan, [], cell), blurred(busy, cell))
