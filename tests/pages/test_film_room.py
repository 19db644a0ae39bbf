"""The film room: reps one after the other in full screen, by key or touch; stars and their list."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pytest
from browser import keeps_what_it_stored, needs_browser
from played import ARRIVAL_S, TIMES_MS, frame, rep_entry, until, write_player_page
from playwright.sync_api import Page, expect

pytestmark = needs_browser

ARRIVAL_FRAME = TIMES_MS.index(round(1000 * ARRIVAL_S))

Opens = Callable[[Path], Page]

REPS = [
    rep_entry(1, "clear", player="Al Dorn (2)", seriousness=5),
    rep_entry(2, "flagged", seriousness=1, like=3),
    rep_entry(3, "clear", seriousness=6),
    rep_entry(4, "can't tell", seriousness=4, like=3),
    rep_entry(5, "flagged", player='=Eve, "E" (9)', seriousness=0, like=1),
    rep_entry(6, "flagged", clip=None, seriousness=2),
]


def enter(open_page: Opens, folder: Path) -> Page:
    page = open_page(write_player_page(folder, REPS))
    page.get_by_role("button", name="Film room").click()
    expect(page.get_by_role("dialog", name="Film room")).to_be_visible()
    return page


@pytest.fixture
def room(tmp_path: Path, open_page: Opens) -> Page:
    return enter(open_page, tmp_path)


def shown(page: Page) -> int:
    words = page.locator(".film-room .about").inner_text()
    return int(words.split(",")[0].removeprefix("Rep "))


def walk(page: Page, key: str = "n") -> list[int]:
    """Reps from here to the end of the queue."""
    last = int(page.locator(".film-room .count").inner_text().split(" of ")[1])
    reps = [shown(page)]
    for _ in range(last - 1):
        page.keyboard.press(key)
        reps.append(shown(page))
    return reps


def test_a_clean_one_the_flagged_one_and_a_clean_one_like_it(room: Page) -> None:
    expect(room.locator(".film-room .why")).to_have_text("A clean one first")
    # The most serious first. Rep 5 is like rep 1, so that the other clean one goes before it; rep 1
    # is then also the one before rep 2, which is like rep 3. Rep 6 has no clip, rep 4 is open.
    assert walk(room) == [3, 5, 1, 2, 3]
    assert walk(room, "p")[::-1] == [3, 5, 1, 2, 3]
    room.keyboard.press("n")
    expect(room.locator(".film-room .why")).to_have_text("Now the flagged one")
    expect(room.locator(".film-room .name")).to_have_text('=Eve, "E" (9)')
    expect(room.locator(".film-room .sentence")).to_have_text("What rep 5 looks like.")


def test_a_rep_is_named_as_in_his_own_file_too(tmp_path: Path, open_page: Opens) -> None:
    reps = [
        rep_entry(1, "clear", clip=None),  # not drawn, and counted all the same
        rep_entry(2, "flagged", player="Al Dorn (2)"),
        rep_entry(3, "clear"),
        rep_entry(4, "clear", player="unknown 7"),
    ]
    page = open_page(write_player_page(tmp_path, reps))
    page.get_by_role("button", name="Film room").click()
    page.get_by_label("What to show").select_option("All reps")
    about = page.locator(".film-room .about")
    for words in ("Rep 2, his rep 1, top", "Rep 3, his rep 2, top", "Rep 4, top"):
        expect(about).to_contain_text(words)
        page.keyboard.press("n")


def test_each_rep_plays_and_holds_at_arrival(room: Page) -> None:
    for _ in range(2):
        expect(room.get_by_role("status")).to_have_text("Stopped at arrival. Press play to go on.")
        assert frame(room) == ARRIVAL_FRAME
        room.keyboard.press("ArrowRight")
        assert frame(room) == ARRIVAL_FRAME + 1
        room.keyboard.press("n")
    room.keyboard.press("h")
    room.keyboard.press("0")
    until(room, "video => video.ended")


def test_it_fills_the_screen_and_escape_closes_it(room: Page) -> None:
    until(room, "() => document.fullscreenElement !== null")
    room.evaluate("document.exitFullscreen()")
    expect(room.get_by_role("dialog")).to_have_count(0)
    expect(room.get_by_role("button", name="Film room")).to_be_focused()
    assert room.locator("video").first.evaluate("video => video.paused")
    room.keyboard.press("Enter")
    expect(room.get_by_role("dialog", name="Film room")).to_be_visible()
    room.get_by_role("button", name="Close the film room").click()
    expect(room.get_by_role("dialog")).to_have_count(0)


def test_stars_are_kept_and_saved_as_a_list(room: Page, open_page: Opens, tmp_path: Path) -> None:
    room.keyboard.press("n")
    expect(room.get_by_role("status")).to_have_text("Stopped at arrival. Press play to go on.")
    room.keyboard.press("s")  # rep 5
    expect(room.get_by_role("status")).to_contain_text("Kept in this browser only; for posecheck")
    expect(room.get_by_role("button", name="Starred")).to_have_attribute("aria-pressed", "true")
    room.keyboard.press("n")
    room.keyboard.press("s")  # rep 1
    room.keyboard.press("n")
    expect(room.get_by_role("button", name="Star")).to_have_attribute("aria-pressed", "false")
    room.keyboard.press("p")
    expect(room.get_by_role("button", name="Starred")).to_have_attribute("aria-pressed", "true")
    keeps_what_it_stored(room)
    room.reload()  # kept by the browser
    room.get_by_role("button", name="Film room").click()
    room.get_by_label("What to show").select_option("Starred")
    assert walk(room) == [1, 5]
    with room.expect_download() as download:
        room.get_by_role("button", name="Save the list").click()
    saved = tmp_path / "stars.csv"
    download.value.save_as(saved)
    assert download.value.suggested_filename.endswith(".csv")
    text = saved.read_text("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [row["rep"] for row in rows] == ["1", "5"]
    # A name that a spreadsheet would take for a formula is text.
    assert rows[1]["player"] == '\'=Eve, "E" (9)'
    assert rows[1]["fault"] == "Stayed high" and rows[1]["clip"] == "clips/5.mp4"
    room.keyboard.press("s")
    room.get_by_label("What to show").select_option("All reps")
    room.get_by_label("What to show").select_option("Starred")
    assert walk(room) == [1]


def test_a_queue_with_nothing_in_it_says_so(room: Page) -> None:
    room.get_by_label("What to show").select_option("Starred")
    expect(room.locator(".film-room .empty")).to_have_text(
        "No rep is starred yet: press Star, or the key S, while one is shown."
    )
    room.keyboard.press("n")
    room.keyboard.press("s")
    room.keyboard.press("Space")
    room.get_by_label("What to show").select_option("Can't tell")
    assert walk(room) == [4]
    expect(room.locator(".film-room .why")).to_have_text("Watch it and decide")


def test_rulings_are_for_served_pages_only(room: Page) -> None:
    assert not room.get_by_role("button", name="Undecided").is_visible()
    assert "undecided" not in room.locator(".film-room .keys").inner_text()


@pytest.mark.parametrize("open_page", [390, 768, 1440], indirect=True)
def test_everything_is_within_reach_at_any_width(room: Page) -> None:
    width = room.evaluate("innerWidth")
    for each in room.locator(".film-room button:visible, .film-room select, .place").all():
        box = each.bounding_box()
        assert box is not None and box["height"] >= 44 and box["width"] >= 44
        assert box["x"] >= 0 and box["x"] + box["width"] <= width
    stage = room.locator(".film-room .stage").bounding_box()
    assert stage is not None and stage["height"] > 200


@pytest.mark.parametrize(("width", "height", "least_px"), [(844, 390, 480), (568, 320, 280)])
def test_on_a_phone_held_sideways_the_film_has_the_room(
    room: Page, width: int, height: int, least_px: int
) -> None:
    room.set_viewport_size({"width": width, "height": height})
    stage = room.locator(".film-room .stage").bounding_box()
    assert stage is not None and min(stage["width"], 16 / 9 * stage["height"]) > least_px
    slider = room.get_by_label("Place in the clip").bounding_box()
    assert slider is not None and slider["y"] >= stage["y"] + stage["height"]
    assert slider["y"] + slider["height"] <= height and slider["width"] == stage["width"]
    for each in room.locator(".film-room button:visible, .film-room select").all():
        each.scroll_into_view_if_needed()
        box = each.bounding_box()
        assert box is not None and box["height"] >= 44 and box["width"] >= 44
        assert box["x"] >= stage["x"] + stage["width"] and box["x"] + box["width"] <= width
        assert box["y"] >= 0 and box["y"] + box["height"] <= height
    # Whatever was scrolled, the film has stayed.
    assert room.locator(".film-room .stage").bounding_box() == stage


def test_without_clips_there_is_no_film_room(tmp_path: Path, open_page: Opens) -> None:
    page = open_page(write_player_page(tmp_path, [rep_entry(1, "clear", clip=None)]))
    assert not page.get_by_role("button", name="Film room").is_visible()
