"""The contact sheet in a browser: a practice is named by keys, and what is wrong is put right."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from browser import needs_browser
from named_practice import make_practice
from playwright.sync_api import Page, expect
from serving import running

from posecheck.practice.reading import read_practice
from posecheck.web.app import LocalServer
from posecheck.web.sheet_page import OWN_FILES
from posecheck.web.site import NAMES, site

WIDTHS = pytest.mark.parametrize("open_page", [390, 768, 1440], indirect=True)
expect.set_options(timeout=20_000)

SLOW_MS = 60_000
"""The first answer waits for the content of all code to be read, on a machine that may be busy."""

Opens = Callable[..., Page]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_practice(tmp_path_factory.mktemp("made") / "practice")


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "practice"))


@pytest.fixture
def server(folder: Path) -> Iterator[LocalServer]:
    with running(site(folder, NAMES)) as server:
        yield server


def opened(open_page: Opens, server: LocalServer) -> Page:
    page = open_page(server.address)
    expect(page.locator("#count")).to_have_text("Clip 1 of 5", timeout=SLOW_MS)
    return page


def names(page: Page) -> list[str]:
    return page.locator("#clips b").all_inner_texts()


def notes(folder: Path, name: str) -> Any:
    return read_practice(folder).notes_for(folder / "clips" / f"{name}.mp4")


def enter(page: Page, number: str) -> None:
    """Type a number, as a coach does who never leaves the keyboard."""
    before = page.locator("#count").inner_text()
    page.keyboard.type(number)
    page.keyboard.press("Enter")
    if not before.startswith("Clip 5"):
        expect(page.locator("#count")).not_to_have_text(before)


@needs_browser
@WIDTHS
def test_a_whole_practice_is_named_by_keys(
    folder: Path, server: LocalServer, open_page: Opens
) -> None:
    page = opened(open_page, server)
    expect(page.locator("#defender")).to_be_focused()
    expect(page.locator("#echo")).to_have_text("unknown 1")
    for number in ("14", "22", "14"):
        enter(page, number)
    # Back, put right, and on; an empty Enter leaves one as he is.
    page.keyboard.press("ArrowLeft")
    expect(page.locator("#defender")).to_have_value("14")
    enter(page, "22")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowDown")
    enter(page, "")
    enter(page, "14")
    expect(page.locator("#kept")).to_have_text(
        re.compile("That was the last clip; 1 without a name.|Saved, pages written")
    )
    theo, ellis = "Theo Marsh (14)", "Ellis Rowan (22)"
    assert names(page) == [theo, ellis, ellis, "unknown 4", theo]
    said = [notes(folder, name).defender_name for name in "abcde"]
    assert said == [theo, ellis, ellis, "unknown", theo]
    page.click("#to-page")
    expect(page.locator("h1")).to_have_text("Tuesday one-on-ones")
    text = page.content()
    assert theo in text
    assert "unknown 4" in text
    page.click("text=Who is in which clip")
    expect(page.locator("#echo")).to_have_text("unknown 4")


@needs_browser
@WIDTHS
def test_a_number_that_is_not_on_the_roster_is_said_at_once(
    folder: Path, server: LocalServer, open_page: Opens
) -> None:
    page = opened(open_page, server)
    page.keyboard.type("31")
    expect(page.locator("#echo")).to_have_text("31 is not on the roster.")
    page.keyboard.press("Enter")
    expect(page.locator("#count")).to_have_text("Clip 1 of 5")
    assert not (folder / "clips.toml").exists()
    page.fill("#new-name", "Toby Reed")
    page.click("#add-him")
    expect(page.locator("#echo")).to_have_text("Toby Reed")
    expect(page.locator("#add")).to_be_hidden()
    page.press("#defender", "Enter")
    expect(page.locator("#count")).to_have_text("Clip 2 of 5")
    assert names(page)[0] == "Toby Reed (31)"


@needs_browser
def test_whatever_leads_to_another_clip_keeps_what_was_typed(
    folder: Path, server: LocalServer, open_page: Opens
) -> None:
    page = opened(open_page, server)
    count = page.locator("#count")
    page.keyboard.type("14")
    page.click("#next")
    expect(count).to_have_text("Clip 2 of 5")
    page.keyboard.type("22")
    page.keyboard.press("ArrowDown")
    expect(count).to_have_text("Clip 3 of 5")
    page.keyboard.type("14")
    page.locator("#clips button").nth(3).click()
    expect(count).to_have_text("Clip 4 of 5")
    # Left and right move in a number that is being typed.
    page.keyboard.type("2")
    page.keyboard.press("ArrowLeft")
    expect(count).to_have_text("Clip 4 of 5")
    page.keyboard.press("ArrowRight")
    page.keyboard.type("2")
    page.click("#previous")
    expect(count).to_have_text("Clip 3 of 5")
    page.locator("#clips button").nth(4).click()
    page.keyboard.type("14")
    page.click("#to-page")
    expect(page.locator("h1")).to_have_text("Tuesday one-on-ones")
    theo, ellis = "Theo Marsh (14)", "Ellis Rowan (22)"
    said = [notes(folder, name).defender_name for name in "abcde"]
    assert said == [theo, ellis, theo, ellis, theo]


@needs_browser
@pytest.mark.parametrize(
    "away", ["#next", "#clips li:last-child button", "#to-page", "#fill", "ArrowUp"]
)
def test_a_number_that_cannot_be_kept_is_not_left_behind(
    folder: Path, server: LocalServer, open_page: Opens, away: str
) -> None:
    page = opened(open_page, server)
    page.click("#rotation summary")
    page.fill("#order", "14 22")
    page.fill("#defender", "31")
    if away.startswith("#"):
        page.click(away)
    else:
        page.press("#defender", away)
    expect(page.locator("#kept")).to_have_text(
        "31 is not on the roster: add him, or put the number right."
    )
    expect(page.locator("#count")).to_have_text("Clip 1 of 5")
    expect(page.locator("#defender")).to_have_value("31")
    expect(page.locator("#defender")).to_be_focused()
    assert not (folder / "clips.toml").exists()
    page.fill("#defender", "")
    page.press("#defender", "ArrowDown")
    expect(page.locator("#count")).to_have_text("Clip 2 of 5")
    expect(page.locator("#kept")).to_be_empty()


@needs_browser
def test_a_look_at_the_film_leaves_a_typed_number_standing(
    server: LocalServer, open_page: Opens
) -> None:
    page = opened(open_page, server)
    page.keyboard.type("22")
    page.click("#open-film")
    page.click("#close")
    expect(page.locator("#film")).to_be_hidden()
    expect(page.locator("#defender")).to_have_value("22")


@needs_browser
@WIDTHS
def test_a_rotation_fills_the_clips_that_follow(
    folder: Path, server: LocalServer, open_page: Opens
) -> None:
    page = opened(open_page, server)
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    enter(page, "22")
    page.locator("#clips button").nth(1).click()
    page.click("#rotation summary")
    page.fill("#order", "14, 99")
    page.click("#fill")
    expect(page.locator("#turns-said")).to_have_text("99 is not on the roster.")
    page.fill("#order", "14 22")
    page.press("#order", "Enter")
    expect(page.locator("#turns-said")).to_contain_text("Filled 3 clips, Theo Marsh (14) first.")
    theo, ellis = "Theo Marsh (14)", "Ellis Rowan (22)"
    # The third was named before, and counts as a turn.
    assert names(page) == ["unknown 1", theo, ellis, theo, ellis]
    page.locator("#clips button").nth(3).click()
    enter(page, "22")
    assert names(page) == ["unknown 1", theo, ellis, ellis, ellis]
    page.click("#unfill")
    expect(page.locator("#turns-said")).to_have_text("Taken back.")
    assert names(page) == ["unknown 1", "unknown 2", ellis, "unknown 4", "unknown 5"]


@needs_browser
@WIDTHS
def test_spot_and_attacker_are_put_right_and_judged_at_once(
    folder: Path, server: LocalServer, open_page: Opens
) -> None:
    page = opened(open_page, server)
    verdict = page.locator("#verdict")
    expect(verdict).to_contain_text("Broken down and under control")
    page.select_option("#spot", "side-right")
    expect(verdict).not_to_contain_text("Broken down and under control")
    expect(page.locator("#stated")).to_contain_text("measures this clip again")
    page.fill("#attacker", "22")
    page.press("#attacker", "Enter")
    expect(page.locator("#count")).to_have_text("Clip 2 of 5")
    assert (notes(folder, "a").spot, notes(folder, "a").attacker.number) == ("side-right", 22)
    assert notes(folder, "a").defender is None


@needs_browser
@WIDTHS
def test_a_wrong_arrival_and_a_wrong_defender_are_put_right(
    folder: Path, server: LocalServer, open_page: Opens
) -> None:
    page = opened(open_page, server)
    page.click("#open-film")
    expect(page.locator("#arrives")).to_be_enabled()
    said = page.locator("#film-said")
    expect(said).to_contain_text("Or press “Click the defender”, then click him.")
    page.click("#stage")
    expect(said).to_have_text("To say who he is, press “Click the defender” first.")
    # The film is 25 frames, 40 ms apart, and ends before the arrival that is on record.
    expect(page.locator("#time")).to_have_text("0.96 s")
    page.click("#back")
    page.click("#back")
    page.click("#on")
    expect(page.locator("#time")).to_have_text("0.92 s")
    page.click("#arrives")
    expect(page.locator("#film-said")).to_contain_text("He arrives at 0.92 s.")
    expect(page.locator("#stated")).to_contain_text("Arrival at 0.92 s, as you stated")
    expect(page.locator("#again")).to_contain_text("One clip is measured again")

    page.click("#point")
    expect(page.locator("#picture")).to_have_js_property("naturalWidth", 128)
    page.locator("#stage").scroll_into_view_if_needed()
    box = page.locator("#picture").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + 0.75 * box["width"], box["y"] + 0.25 * box["height"])
    expect(page.locator("#film-said")).to_contain_text("He is the defender.")
    at = notes(folder, "a").defender_at
    # Three quarters across 128 pixels whose first has its middle at 0, a quarter down 96.
    assert (at.t_s, at.x_px, at.y_px) == pytest.approx((0.92, 95.5, 23.5), abs=1.0)
    assert notes(folder, "a").arrival_s == pytest.approx(0.92)

    page.click("#take-back")
    expect(page.locator("#film-said")).to_contain_text("Taken back.")
    expect(page.locator("#again")).to_be_hidden()
    assert (notes(folder, "a").arrival_s, notes(folder, "a").defender_at) == (None, None)
    page.click("#close")
    expect(page.locator("#film")).to_be_hidden()
    expect(page.locator("#defender")).to_be_focused()


@needs_browser
@WIDTHS
def test_everything_fits_and_can_be_tapped(server: LocalServer, open_page: Opens) -> None:
    page = opened(open_page, server)
    page.click("#rotation summary")
    page.click("#open-film")
    wide = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    assert wide <= 0
    for control in page.locator("button:visible, select:visible, summary:visible").all():
        box = control.bounding_box()
        assert box is not None
        assert box["height"] >= 44, control.inner_text()
    page.click("#close")
    near = page.locator("#sheet").bounding_box()
    assert near is not None
    page.click("#whole")
    whole = page.locator("#sheet").bounding_box()
    assert whole is not None
    # 320 of 1080 pixels tall with his helmet, he is brought to 55 % of the picture's height.
    assert near["width"] / whole["width"] == pytest.approx(0.55 / (320 / 1080), rel=0.15)
    page.click("#to-points")
    expect(page).to_have_title("Known points")
    page.click("#to-names")
    expect(page.locator("#count")).to_have_text("Clip 1 of 5")


def test_the_page_s_files_name_no_outside_place() -> None:
    for name in OWN_FILES:
        text = (files("posecheck.web") / "templates" / name).read_text("utf-8")
        assert re.findall(r"https?://[^\s\"']+|url\(", text) == [], name
