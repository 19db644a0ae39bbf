"""Playing a rep in place of its picture: hold at arrival, steps, speed, keys."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from browser import needs_browser
from played import ARRIVAL_S, TIMES_MS, frame, rep_entry, seconds, until, write_player_page
from playwright.sync_api import Page, expect

pytestmark = needs_browser

ARRIVAL_FRAME = TIMES_MS.index(round(1000 * ARRIVAL_S))

Opens = Callable[[Path], Page]


@pytest.fixture
def film(tmp_path: Path, open_page: Opens) -> Page:
    """A page on which the first of two reps has been set playing."""
    page = open_page(write_player_page(tmp_path, [rep_entry(1, "flagged"), rep_entry(2, "clear")]))
    page.get_by_role("link", name="Play the rep").first.click()
    return page


def at_arrival(page: Page) -> None:
    expect(page.get_by_role("status")).to_have_text("Stopped at arrival. Press play to go on.")
    assert frame(page) == ARRIVAL_FRAME


def test_it_plays_in_place_of_the_picture_and_holds_at_arrival(film: Page) -> None:
    assert film.locator("video").count() == 1
    assert film.locator(".shot").count() == 1
    at_arrival(film)
    assert film.locator("video").evaluate("video => video.paused")
    # The picture on show is the frame of arrival itself: 0.80 s, the 21st of 40 ms each.
    assert TIMES_MS[ARRIVAL_FRAME] / 1000 <= seconds(film) < TIMES_MS[ARRIVAL_FRAME + 1] / 1000
    assert film.locator(".now-words").inner_text() == "arrival"


def test_after_holding_once_it_plays_to_its_end(film: Page) -> None:
    at_arrival(film)
    film.keyboard.press("Space")
    until(film, "video => video.ended")
    assert frame(film) == len(TIMES_MS) - 1
    assert film.locator(".now-words").inner_text() == "arrival again, slowly"
    film.keyboard.press("Space")  # again from the beginning, and held again
    at_arrival(film)


def test_without_holding_it_plays_through(film: Page) -> None:
    hold = film.get_by_role("button", name="Hold at arrival")
    expect(hold).to_have_attribute("aria-pressed", "true")
    hold.click()
    expect(hold).to_have_attribute("aria-pressed", "false")
    if film.locator("video").evaluate("video => video.paused"):
        film.keyboard.press("0")
    until(film, "video => video.ended")
    assert film.get_by_role("status").inner_text() == ""


def test_keys_and_buttons_step_frame_by_frame(film: Page) -> None:
    at_arrival(film)
    film.keyboard.press("ArrowLeft")
    assert frame(film) == ARRIVAL_FRAME - 1
    assert film.locator(".now-words").inner_text() == "0.04 s before arrival"
    assert film.get_by_role("status").inner_text() == ""
    for _ in range(3):
        film.get_by_role("button", name="One frame on").click()
    assert frame(film) == ARRIVAL_FRAME + 2
    until(film, "video => !video.seeking")
    # Every step shows the frame it names: time lies within that frame.
    assert TIMES_MS[ARRIVAL_FRAME + 2] <= 1000 * seconds(film) < TIMES_MS[ARRIVAL_FRAME + 3]
    film.keyboard.press("a")
    assert frame(film) == ARRIVAL_FRAME


def test_every_frame_is_reached_even_where_the_film_is_slow(film: Page) -> None:
    at_arrival(film)
    for number in range(ARRIVAL_FRAME + 1, len(TIMES_MS)):
        film.keyboard.press("ArrowRight")
        until(film, "video => !video.seeking")
        assert frame(film) == number
        assert 1000 * seconds(film) >= TIMES_MS[number]
    film.keyboard.press("ArrowRight")
    assert frame(film) == len(TIMES_MS) - 1


def test_speed_is_kept_for_the_next_film(film: Page) -> None:
    at_arrival(film)
    film.keyboard.press("4")
    quarter = film.get_by_role("button", name="Quarter speed")
    expect(quarter).to_have_attribute("aria-pressed", "true")
    assert film.locator("video").evaluate("video => video.playbackRate") == 0.25
    film.get_by_role("button", name="Close").click()
    film.get_by_role("link", name="Play the rep").nth(1).click()
    until(film, "video => video.readyState > 0")
    assert film.locator("video").evaluate("video => video.playbackRate") == 0.25
    film.get_by_role("button", name="Half speed").click()
    assert film.locator("video").evaluate("video => video.playbackRate") == 0.5


def test_closing_puts_the_picture_back(film: Page) -> None:
    at_arrival(film)
    film.keyboard.press("Escape")
    assert film.locator("video").count() == 0
    expect(film.get_by_role("link", name="Play the rep").first).to_be_focused()


def test_the_slider_leads_the_film_and_is_moved_by_keys(film: Page) -> None:
    at_arrival(film)
    place = film.get_by_label("Place in the clip")
    place.fill("5")
    until(film, "video => !video.seeking")
    assert TIMES_MS[5] <= 1000 * seconds(film) < TIMES_MS[6]
    place.press("ArrowRight")
    assert frame(film) == 6
    assert place.get_attribute("aria-valuetext") == "0.56 s before arrival"


def test_a_clip_that_is_gone_says_so(tmp_path: Path, open_page: Opens) -> None:
    path = write_player_page(tmp_path, [rep_entry(1, "clear")])
    (tmp_path / "clips" / "1.mp4").write_bytes(b"no film")
    page = open_page(path)
    page.get_by_role("link", name="Play the rep").click()
    expect(page.get_by_role("status")).to_contain_text("This clip cannot be played")


@pytest.mark.parametrize("open_page", [390], indirect=True)
def test_targets_are_large_enough_for_a_finger(film: Page) -> None:
    at_arrival(film)
    for box in film.locator(".viewer button, .viewer input").all():
        size = box.bounding_box()
        assert size is not None and size["height"] >= 44 and size["width"] >= 44
    assert film.evaluate("document.documentElement.scrollWidth") == 390
