"""Films on the whole page of a practice: played in place, in the film room, and served."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from browser import keeps_what_it_stored, needs_browser
from drawn_practice import draw
from played import rep_entry, until, write_clip, write_player_page
from playwright.sync_api import Page, expect
from rep_views import BO, views, write_pages
from serving import running
from starlette.routing import Mount

from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice
from posecheck.web.app import LocalServer, reads, writes
from posecheck.web.results import results_routes

pytestmark = needs_browser

Opens = Callable[[Path | str], Page]


@pytest.fixture
def practice_page(tmp_path: Path) -> Path:
    """The page of a practice of four reps, drawn, the second of them run out upright."""
    made = views(tmp_path, "breakdown", "upright", "unclear", "breakdown")
    judged = [(view.result, view.rep, view.verdict) for view in made]
    clip = write_clip(tmp_path / "made.mp4").read_bytes()
    draw(tmp_path, [(result, rep) for result, rep, _ in judged], clip)
    notes = {
        result.path.as_posix(): ClipNotes(spot="top-left", defender=BO) for result, _, _ in judged
    }
    practice = Practice(Path(), "Tuesday", notes=notes)
    return write_pages(practice, judged, [], DEFAULT_THRESHOLDS, tmp_path)


def test_a_rep_plays_in_its_card_and_in_the_grid(practice_page: Path, open_page: Opens) -> None:
    page = open_page(practice_page)
    for place in (".look", ".tile"):
        page.locator(f"{place} a.play[data-rep='2']").click()
        film = page.locator(f"{place} video")
        until(page, "video => video.currentTime > 0")
        assert film.evaluate("video => video.videoWidth") == 320
        expect(page.locator(f"{place} .viewer")).to_be_in_viewport()
        page.get_by_role("button", name="Close").click()
        expect(page.locator("video")).to_have_count(0)
        expect(page.locator(f"{place} a.play[data-rep='2']")).to_be_visible()


def test_the_film_room_opens_and_its_stars_are_on_the_page_of_the_rep(
    practice_page: Path, open_page: Opens
) -> None:
    page = open_page(practice_page)
    page.get_by_role("button", name="Open the film room").click()
    about = page.locator(".film-room .about")
    expect(about).to_contain_text("Rep 4,")  # rep 2 is most like rep 1
    page.keyboard.press("n")
    expect(about).to_contain_text("Rep 2,")
    page.keyboard.press("s")
    page.keyboard.press("n")
    expect(about).to_contain_text("Rep 1,")
    page.get_by_role("button", name="Close the film room").click()
    keeps_what_it_stored(page)
    page.get_by_role("link", name="Rep 2, all figures").click()
    page.wait_for_url("**/reps/rep-002.html")
    expect(page.get_by_role("button", name="Starred")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("link", name="Tuesday").click()
    page.wait_for_url("**/practice.html")


def test_served_it_saves_stars_and_passes_rulings_on(tmp_path: Path, open_page: Opens) -> None:
    write_player_page(tmp_path, [rep_entry(1, "flagged"), rep_entry(2, "clear")])
    saved: list[object] = []
    api = [
        reads("/stars", lambda query: {"stars": []}),
        writes("/stars", saved.append),
        reads("/rulings", lambda query: {"count": "", "rulings": {}}),
        writes("/rulings", lambda given: {"count": "", "rulings": {}}),
    ]
    routes = [Mount("/api", routes=api), *results_routes(tmp_path)]
    with running(LocalServer(routes, 0, "page.html")) as server:
        page = open_page(server.address)
        page.evaluate(
            "document.addEventListener('posecheck-rule', ({ detail }) => {"
            " document.title += ` ${detail.number} ${detail.ruling}`; })"
        )
        page.get_by_role("button", name="Film room").click()
        expect(page.locator(".film-room .about")).to_contain_text("Rep 2,")
        until(page, "video => video.currentTime > 0")
        page.keyboard.press("n")
        for key in "rwu":
            page.keyboard.press(key)
        page.keyboard.press("n")
        page.get_by_role("button", name="Wrong").click()
        assert page.title() == "Tuesday 1 right 1 wrong 1 undecided 1 wrong"
        with page.expect_response("**/api/stars"):
            page.keyboard.press("s")
        with page.expect_response("**/api/stars"):
            page.keyboard.press("s")
    key = rep_entry(1, "flagged")["key"]
    assert saved == [{"key": key, "starred": True}, {"key": key, "starred": False}]
