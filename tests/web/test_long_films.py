"""Setting reps of long films on their served page: what is kept, what is refused, every button."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser import needs_browser
from long_film import DIGEST, FILM, make_practice
from playwright.sync_api import Browser, Locator, Page, expect
from serving import Answer, ask, running

from posecheck.practice.cuts import SetStretch, StretchKind
from posecheck.practice.set_cuts import read_set, write_set
from posecheck.web.app import LocalServer
from posecheck.web.site import RESULTS, site

REP, NONE = StretchKind.REP, StretchKind.NONE


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return make_practice(tmp_path)


@pytest.fixture
def server(folder: Path) -> Iterator[LocalServer]:
    with running(site(folder, RESULTS)) as server:
        yield server


@pytest.fixture
def page_refused(server: LocalServer, browser: Browser) -> Iterator[Page]:
    """The same for tests in which the server refuses something: a browser logs that as an error."""
    page = browser.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(f"{server.root}films.html")
    yield page
    page.close()
    assert not wrong


@pytest.fixture
def page(server: LocalServer, open_page: Callable[..., Page]) -> Page:
    return open_page(f"{server.root}films.html")


def post(server: LocalServer, what: str, **given: object) -> Answer:
    return ask(server, f"/{server.token}/api/films/{what}", json.dumps(given).encode())


def set_to(server: LocalServer, from_s: object, to_s: object, **more: object) -> Answer:
    given = {"film": DIGEST, "from_s": from_s, "to_s": to_s, "kind": "rep", "instead": None} | more
    return post(server, "set", **given)


def page_text(folder: Path) -> str:
    return (folder / "checked" / "films.html").read_text("utf-8")


# -- what is kept --------------------------------------------------------------------------------


def test_a_found_stretch_is_moved_and_moved_again(server: LocalServer, folder: Path) -> None:
    assert set_to(server, 5.0, 12.5, instead=[4.2, 11.9]).status == 200
    assert read_set(folder) == {FILM: (SetStretch(5.0, 12.5, REP, (4.2, 11.9)),)}
    assert 'data-from="5.000" data-to="12.500"' in page_text(folder)
    # What was found there at first is not forgotten.
    assert set_to(server, 6.0, 12.5, instead=[5.0, 12.5]).status == 200
    assert read_set(folder) == {FILM: (SetStretch(6.0, 12.5, REP, (4.2, 11.9)),)}


def test_a_stretch_is_added_and_taken_back(server: LocalServer, folder: Path) -> None:
    assert set_to(server, 70.0, 74.0).status == 200
    assert read_set(folder) == {FILM: (SetStretch(70.0, 74.0, REP),)}
    assert post(server, "take-back", film=DIGEST, from_s=70.0, to_s=74.0).status == 200
    assert read_set(folder) == {}
    assert 'data-from="70.000"' not in page_text(folder)


def test_an_unsure_stretch_becomes_none_and_is_taken_back(
    server: LocalServer, folder: Path
) -> None:
    assert set_to(server, 40.0, 43.0, kind="none", instead=[40.0, 43.0]).status == 200
    assert read_set(folder) == {FILM: (SetStretch(40.0, 43.0, NONE, (40.0, 43.0)),)}
    assert "not sure at 0:40" not in page_text(folder)
    assert post(server, "take-back", film=DIGEST, from_s=40.0, to_s=43.0).status == 200
    assert "not sure at 0:40" in page_text(folder)


def test_where_no_rep_was_found_one_may_be_set(server: LocalServer, folder: Path) -> None:
    assert set_to(server, 45.0, 52.5).status == 200
    assert read_set(folder) == {FILM: (SetStretch(45.0, 52.5, REP),)}


def test_other_films_keep_what_was_set_of_them(server: LocalServer, folder: Path) -> None:
    other = {"elsewhere.mp4": (SetStretch(1.0, 9.0, REP),)}
    write_set(folder, other)
    assert set_to(server, 70.0, 74.0).status == 200
    assert read_set(folder) == {**other, FILM: (SetStretch(70.0, 74.0, REP),)}


# -- what is refused -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ((70.0, 76.0), "film-01.mp4 is 1:15 long; give a start and an end within it."),
        ((-1.0, 3.0), "film-01.mp4 is 1:15 long; give a start and an end within it."),
        ((74.0, 70.0), "The end must be 1 second or more after the start; change one."),
        ((70.0, 70.5), "The end must be 1 second or more after the start; change one."),
        ((1.0, 62.0), "A rep is 60 seconds long at most; set a start and an end for each rep."),
        ((70.0, "74"), "A start and an end are numbers; write them as 14:32.5."),
        ((True, 74.0), "A start and an end are numbers; write them as 14:32.5."),
        ((None, 74.0), "A start and an end are numbers; write them as 14:32.5."),
        ((1e999, 74.0), "A start and an end are numbers; write them as 14:32.5."),
        (
            (11.0, 15.0),
            "It runs into the stretch from 0:04 to 0:11; change that one, or give other times.",
        ),
    ],
)
def test_what_cannot_be_is_one_sentence(
    server: LocalServer, folder: Path, given: tuple[object, object], sentence: str
) -> None:
    answer = set_to(server, *given)
    assert (answer.status, answer.json()) == (422, {"error": sentence})
    assert read_set(folder) == {}


def test_one_rep_may_not_take_its_neighbour(server: LocalServer, folder: Path) -> None:
    answer = set_to(server, 54.0, 69.0, instead=[55.0, 61.0])
    assert answer.json()["error"].startswith("It runs into the stretch from 1:02 to 1:08;")
    assert (
        set_to(server, 3.0, 13.0).json()["error"].startswith("It runs into the stretch from 0:04")
    )
    assert read_set(folder) == {}


def test_it_may_not_run_into_what_was_set_before(server: LocalServer, folder: Path) -> None:
    set_to(server, 20.0, 26.0)
    before = read_set(folder)
    answer = set_to(server, 25.0, 30.0, instead=[27.5, 34.5])
    assert answer.json()["error"].startswith("It runs into the stretch from 0:20 to 0:26;")
    assert read_set(folder) == before


@pytest.mark.parametrize(
    ("changes", "status", "words"),
    [
        ({"film": "../film-01.mp4"}, 422, "There is no such film; reload the page."),
        ({"film": "/etc/passwd"}, 422, "There is no such film; reload the page."),
        ({"instead": [1.0, 2.0]}, 422, "The page is older than what was set; reload it."),
        ({"kind": "unsure"}, 400, "unknown"),
        ({"kind": "other"}, 400, "unknown"),
        ({"instead": 3}, 400, "unknown"),
        ({"instead": [1.0]}, 400, "unknown"),
    ],
)
def test_what_no_page_sends_is_refused(
    server: LocalServer, folder: Path, changes: dict[str, object], status: int, words: str
) -> None:
    answer = set_to(server, 70.0, 74.0, **changes)
    assert answer.status == status
    assert words in answer.json()["error"]
    assert read_set(folder) == {}


def test_what_was_found_cannot_be_taken_back(server: LocalServer) -> None:
    answer = post(server, "take-back", film=DIGEST, from_s=4.2, to_s=11.9)
    assert answer.json() == {"error": "Nothing was set of that stretch; reload the page."}


def test_pictures_of_its_films_and_no_others(server: LocalServer) -> None:
    def get(query: str) -> Answer:
        return ask(server, f"/{server.token}/api/films/picture?{query}")

    good = get(f"film={DIGEST}&t_s=12.3")
    assert (good.status, good.headers["Content-Type"], good.body[:2]) == (
        200,
        "image/jpeg",
        b"\xff\xd8",
    )
    assert get("film=..%2Fother.mp4&t_s=1").status == 422
    assert get(f"film={DIGEST}&t_s=soon").status == 400
    # Beyond the end the last picture is on show.
    assert get(f"film={DIGEST}&t_s=1e9").status == 200
    assert get(f"film={DIGEST}&t_s=nan").status == 400


# -- in a browser --------------------------------------------------------------------------------


def dialog(page: Page) -> Locator:
    return page.locator("dialog.adjust")


def edge(page: Page, words: str) -> Locator:
    return page.get_by_role("textbox", name=f"{words}, minutes and seconds")


def press(page: Page, words: str) -> None:
    dialog(page).get_by_role("button", name=words, exact=True).click()


def until_kept(page: Page) -> None:
    expect(dialog(page)).to_be_hidden()


@needs_browser
@pytest.mark.parametrize("open_page", [390, 1440], indirect=True)
def test_start_and_end_are_set_by_buttons(page: Page, folder: Path) -> None:
    expect(page.get_by_text("posecheck serve FOLDER")).to_be_hidden()
    page.get_by_role("link", name="rep 1 at 0:04").click()
    expect(dialog(page)).to_contain_text("Rep 1 at 0:04")
    assert page.evaluate("document.querySelector('dialog').scrollWidth <= window.innerWidth")
    for words in (
        "Start +1 seconds",
        "Start \u22120.1 seconds",
        "End \u22121 seconds",
        "End +0.1 seconds",
    ):
        press(page, words)
    expect(edge(page, "Start")).to_have_value("0:05.1")
    expect(edge(page, "End")).to_have_value("0:11.0")
    press(page, "Start +0.1 seconds")
    press(page, "Start \u22121 seconds")
    press(page, "End +1 seconds")
    press(page, "End \u22120.1 seconds")
    press(page, "Keep as a rep")
    until_kept(page)
    assert read_set(folder) == {FILM: (SetStretch(4.2, 11.9, REP, (4.2, 11.9)),)}
    expect(page.get_by_role("note")).to_be_hidden()  # the same times


@needs_browser
def test_times_are_typed(page: Page, folder: Path) -> None:
    page.locator(".found li").first.get_by_role("button", name="Set start and end").click()
    edge(page, "Start").fill("0:05,5")
    edge(page, "End").fill("13")
    edge(page, "End").press("Enter")
    expect(edge(page, "Start")).to_have_value("0:05.5")
    expect(edge(page, "End")).to_have_value("0:13.0")
    press(page, "Keep as a rep")
    until_kept(page)
    assert read_set(folder) == {FILM: (SetStretch(5.5, 13.0, REP, (4.2, 11.9)),)}
    expect(page.get_by_role("note")).to_contain_text("1 change set here is not in the reps yet")
    expect(page.locator(".found li").first).to_contain_text("0:05 to 0:13")


@needs_browser
def test_bad_times_are_one_sentence_and_nothing_is_lost(page: Page, folder: Path) -> None:
    page.get_by_role("button", name="Add a stretch").click()
    edge(page, "Start").fill("soon")
    edge(page, "Start").press("Tab")
    expect(page.get_by_role("alert")).to_have_text(
        "That is no time of the film; write it as 14:32.5."
    )


@needs_browser
@pytest.mark.parametrize("open_page", [390, 1440], indirect=True)
def test_handles_are_dragged_and_moved_by_keys(page: Page, folder: Path) -> None:
    page.get_by_role("link", name="rep 1 at 0:04").click()
    start, end = (page.get_by_role("slider", name=name) for name in ("Start", "End"))
    before = start.get_attribute("aria-valuenow") or ""
    start.hover()  # waits until nothing moves it any more
    page.mouse.down()
    box, near = start.bounding_box(), page.locator(".near-marks").bounding_box()
    assert box is not None
    assert near is not None
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    # On show are 0 to 17.9 s.
    page.mouse.move(middle[0] + near["width"] * 2 / 17.9, middle[1], steps=4)
    page.mouse.up()
    expect(start).not_to_have_attribute("aria-valuenow", before)
    dragged = start.get_attribute("aria-valuenow")
    assert float(dragged or 0) == pytest.approx(6.2, abs=0.15)
    end.press("ArrowRight")
    end.press("PageDown")
    expect(end).to_have_attribute("aria-valuetext", "0:11.0")
    # One handle does not pass the other.
    for _ in range(8):
        end.press("PageDown")
    now = [float(one.get_attribute("aria-valuenow") or 0) for one in (start, end)]
    assert now[1] - now[0] == pytest.approx(1.0, abs=0.11)


@needs_browser
def test_unsure_stretches_are_ruled_with_one_press(page: Page, folder: Path) -> None:
    items = page.locator(".to-look-at li")
    items.first.get_by_role("button", name="No rep").click()
    expect(items).to_have_count(2)
    # The keyboard goes on with the next.
    expect(items.first.get_by_role("button", name="A rep", exact=True)).to_be_focused()
    page.keyboard.press("Enter")
    expect(items).to_have_count(1)
    kinds = [(each.from_s, each.kind) for each in read_set(folder)[FILM]]
    assert kinds == [(40.0, NONE), (55.0, REP)]
    expect(page.locator(".is-none text").first).to_have_text("\u00d7")
    # What is a rep now was measured before.
    expect(page.get_by_role("link", name="rep 3 at 0:55").first).to_be_visible()
    expect(page.get_by_role("note")).to_contain_text("2 changes set here are not in the reps yet")


@needs_browser
def test_a_rep_in_which_nothing_can_be_measured_is_still_to_be_looked_at(
    page: Page, folder: Path
) -> None:
    first = page.locator(".to-look-at li").first
    first.get_by_role("button", name="A rep", exact=True).click()
    expect(first).to_contain_text("Not measured at 0:40")
    expect(first).to_contain_text("set by hand")
    expect(first.get_by_role("button", name="A rep", exact=True)).to_have_count(0)
    assert read_set(folder) == {FILM: (SetStretch(40.0, 43.0, REP, (40.0, 43.0)),)}


@needs_browser
def test_one_press_that_cannot_be_kept_says_why(page_refused: Page, folder: Path) -> None:
    page = page_refused
    # Set elsewhere meanwhile, so that the page is older than what was set.
    write_set(folder, {FILM: [SetStretch(39.0, 44.0, REP, (40.0, 43.0))]})
    page.locator(".to-look-at li").first.get_by_role("button", name="No rep").click()
    expect(page.get_by_role("alert")).to_have_text(
        "The page is older than what was set; reload it."
    )


@needs_browser
def test_what_was_set_is_taken_back(page: Page, folder: Path) -> None:
    page.get_by_role("link", name="not sure at 0:40").click()
    expect(dialog(page).get_by_role("button", name="Take back what was set")).to_be_hidden()
    press(page, "No rep")
    until_kept(page)
    page.get_by_role("link", name="no rep at 0:40").click()
    press(page, "Take back what was set")
    until_kept(page)
    assert read_set(folder) == {}
    expect(page.get_by_role("link", name="not sure at 0:40")).to_have_count(1)


@needs_browser
def test_a_stretch_is_added_where_the_strip_is_pressed(page: Page, folder: Path) -> None:
    row = page.locator(".film-row").first
    box = row.bounding_box()
    assert box is not None
    row.click(position={"x": box["width"] * 15 / 30, "y": 10})
    expect(dialog(page)).to_contain_text("A stretch more")
    press(page, "Keep as a rep")
    until_kept(page)
    (his,) = read_set(folder)[FILM]
    assert his.from_s == pytest.approx(15.0, abs=0.1)
    assert his.to_s - his.from_s == pytest.approx(8.0)
    expect(page.get_by_role("link", name=re.compile("rep at 0:1[45]")).first).to_be_visible()


@needs_browser
def test_what_the_server_refuses_is_said_where_it_was_asked(
    page_refused: Page, folder: Path
) -> None:
    page = page_refused
    page.get_by_role("button", name="Add a stretch").click()
    press(page, "Keep as a rep")
    expect(page.get_by_role("alert")).to_contain_text("It runs into the stretch from 0:04 to 0:11;")
    expect(dialog(page)).to_be_visible()
    assert read_set(folder) == {}


@needs_browser
def test_stretches_without_a_rep_may_become_one(page: Page, folder: Path) -> None:
    page.get_by_text("1 stretch without a rep").click()
    page.locator(".found li", has_text="Two walk").get_by_role(
        "button", name="A rep", exact=True
    ).click()
    expect(page.locator(".found li", has_text="0:46")).to_contain_text("set by hand")
    assert read_set(folder) == {FILM: (SetStretch(46.0, 52.0, REP, (46.0, 52.0)),)}


@needs_browser
def test_the_stretch_plays_and_escape_closes(page: Page) -> None:
    page.get_by_role("link", name="rep 2 at 0:27").first.press("Enter")
    look = dialog(page).locator("video")
    look.evaluate("video => video.play()")
    page.wait_for_timeout(500)
    assert look.evaluate("video => video.currentTime") > 0
    expect(dialog(page).get_by_role("link", name="Its page")).to_have_attribute(
        "href", "reps/rep-002.html"
    )
    page.keyboard.press("Escape")
    expect(dialog(page)).to_be_hidden()
    assert look.evaluate("video => video.paused")
    page.get_by_role("link", name="rep 2 at 0:27").first.click()
    press(page, "Close")
    expect(dialog(page)).to_be_hidden()


@needs_browser
def test_a_clip_that_no_browser_plays_is_shown_in_stills(page: Page, folder: Path) -> None:
    (folder / "checked" / "cuts" / FILM / "a.mp4").write_bytes(b"no film")
    page.get_by_role("link", name="rep 1 at 0:04").click()
    expect(dialog(page).locator("video")).to_be_hidden()
    for each in dialog(page).locator(".near-pictures img, .edges img").all():
        assert each.evaluate("one => one.decode().then(() => one.naturalWidth)") == 160


@needs_browser
def test_a_stretch_that_is_too_long_for_a_rep_is_refused(page_refused: Page, folder: Path) -> None:
    page = page_refused
    page.get_by_role("button", name="Add a stretch").click()
    edge(page, "End").fill("1:10")
    edge(page, "End").press("Tab")
    press(page, "Keep as a rep")
    expect(page.get_by_role("alert")).to_contain_text("A rep is 60 seconds long at most;")
