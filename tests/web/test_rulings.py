"""Rulings and stars from served pages: what is kept, what is refused, and pressing them."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from browser import needs_browser
from drawn_practice import draw
from factories import make_clip_result
from films import write_film
from playwright.sync_api import Browser, Page, expect
from serving import Answer, ask, running
from typer.testing import CliRunner

from posecheck.cli.commands import app
from posecheck.files.whole_file import write_whole
from posecheck.judging.ruling import CALLS, CLEAN, Ruling
from posecheck.judging.thresholds import Thresholds
from posecheck.pages.publish import write_page
from posecheck.pipeline.judge import judge_clip
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.store.record import Record
from posecheck.web.app import LocalServer
from posecheck.web.site import RESULTS, site

KINDS = ("upright", "breakdown", "unclear", "upright")


@pytest.fixture
def practice(tmp_path: Path) -> Practice:
    """Four reps of four clips, judged, drawn and written."""
    practice = read_practice(tmp_path)
    film = write_film(tmp_path / "any.mov", list(range(0, 5000, 40)), size=(320, 180)).read_bytes()
    with Record(tmp_path / "checked" / "record.sqlite", make=True) as record:
        for number, kind in enumerate(KINDS, 1):
            result = make_clip_result(practice.folder / f"rep-{number}.mp4", kind)
            record.save(practice, result)
            judge_clip(record, practice, result, Thresholds())
            draw(record.folder, [(result, rep) for rep in result.reps], film)
        write_page(record, practice, Thresholds())
    return practice


@pytest.fixture
def record(practice: Practice) -> Iterator[Record]:
    with Record(practice.folder / "checked" / "record.sqlite") as record:
        yield record


@pytest.fixture
def server(practice: Practice) -> Iterator[LocalServer]:
    with running(site(practice.folder, RESULTS)) as server:
        yield server


@pytest.fixture
def keys(record: Record, practice: Practice) -> list[str]:
    """Of the reps, in order of their clips."""
    return [f"{rep.clip_digest}/{rep.number}" for rep in record.measured_reps(practice)]


def post(server: LocalServer, what: str, **given: object) -> Answer:
    return ask(server, f"/{server.token}/api/{what}", json.dumps(given).encode())


def test_a_ruling_is_kept_and_taken_away(
    server: LocalServer, record: Record, practice: Practice, keys: list[str]
) -> None:
    first = (keys[0].split("/")[0], 1)
    answer = post(server, "rulings", key=keys[0], ruling="wrong", instead="hands_in")
    assert answer.status == 200
    assert answer.json() == {
        "count": "You ruled 1 rep: 0 right, 1 wrong, 0 undecided. Right in 0 % (0 to 73 %).",
        "rulings": {
            keys[0]: {"ruling": "wrong", "instead": "hands_in", "words": "wrong, hands in"}
        },
    }
    kept = record.rulings(practice)[first]
    assert (kept.ruling, kept.instead, kept.about.rule) == (
        Ruling.WRONG,
        "hands_in",
        "upright_run_out",
    )
    assert ask(server, f"/{server.token}/api/rulings").json() == answer.json()
    assert post(server, "rulings", key=keys[0], ruling=None).json()["rulings"] == {}
    assert record.rulings(practice) == {}


def test_a_ruling_says_when_its_call_is_no_longer_the_one_shown(
    server: LocalServer, record: Record, practice: Practice, keys: list[str]
) -> None:
    post(server, "rulings", key=keys[0], ruling="right")
    lax = Thresholds(upright_knee_bend_deg=5, max_overrun_m=5, max_arrival_speed_mps=7)
    judge_clip(record, practice, record.load(keys[0].split("/")[0]), lax)
    got = ask(server, f"/{server.token}/api/rulings").json()["rulings"]
    assert got[keys[0]]["words"] == "right, of the call ran out upright"


def test_stars_are_kept(
    server: LocalServer, record: Record, practice: Practice, keys: list[str]
) -> None:
    post(server, "stars", key=keys[2], starred=True)
    assert post(server, "stars", key=keys[1], starred=True).json() == {"stars": keys[1:3]}
    assert [f"{digest}/{number}" for digest, number in record.stars(practice)] == keys[1:3]
    assert post(server, "stars", key=keys[2], starred=False).json() == {"stars": [keys[1]]}
    assert ask(server, f"/{server.token}/api/stars").json() == {"stars": [keys[1]]}


@pytest.mark.parametrize(
    ("what", "given", "status"),
    [
        ("rulings", {"key": "ab" * 32 + "/1", "ruling": "right"}, 422),
        ("rulings", {"ruling": "perfect"}, 400),
        ("rulings", {"ruling": "right", "instead": CLEAN}, 400),
        ("rulings", {"ruling": "wrong", "instead": "upright_run_out"}, 400),
        ("rulings", {"ruling": "wrong", "instead": "'; DROP TABLE reps"}, 400),
        ("rulings", {"key": "nonsense", "ruling": "right"}, 400),
        ("rulings", {}, 400),
        ("stars", {"key": "ab" * 32 + "/1", "starred": True}, 422),
        ("stars", {"starred": "yes"}, 400),
        ("stars", {}, 400),
    ],
)
def test_what_makes_no_sense_is_refused_and_changes_nothing(
    server: LocalServer, record: Record, practice: Practice, keys: list[str], what: str,
    given: dict[str, object], status: int,
) -> None:  # fmt: skip
    answer = post(server, what, **{"key": keys[0], **given})
    assert answer.status == status
    assert answer.json()["error"].endswith((".", "it."))
    assert record.rulings(practice) == {}
    assert record.stars(practice) == ()


def test_another_site_cannot_rule(server: LocalServer, keys: list[str]) -> None:
    body = json.dumps({"key": keys[0], "ruling": "right"}).encode()
    where = f"/{server.token}/api/rulings"
    assert ask(server, where, body, Origin="http://evil.example").status == 403
    assert ask(server, "/api/rulings", body).status == 403


def test_posecheck_rep_says_what_the_coach_said(
    record: Record, practice: Practice, keys: list[str]
) -> None:
    record.rule(keys[0].split("/")[0], 1, Ruling.WRONG, instead=CLEAN)
    done = CliRunner().invoke(app, ["rep", str(practice.folder), "rep-1"])
    assert done.exit_code == 0
    (line,) = [line for line in done.output.splitlines() if line.startswith("Coach: ")]
    assert line.startswith("Coach: wrong, clean (")


def test_pages_opened_as_files_show_what_was_ruled(
    record: Record, practice: Practice, keys: list[str]
) -> None:
    for key, ruling in zip(keys, (Ruling.RIGHT, Ruling.WRONG, Ruling.UNDECIDED), strict=False):
        record.rule(key.split("/")[0], 1, ruling)
    page = write_page(record, practice, Thresholds()).read_text("utf-8")
    assert "You ruled 3 reps: 1 right, 1 wrong, 1 undecided. Right in 50 %" in page
    rep = (record.folder / "reps" / "rep-002.html").read_text("utf-8")
    assert "Coach: <b>wrong</b>" in rep
    assert "Clear" in rep  # the machine's call stays


def test_pages_are_written_again_when_serving_ends_after_a_ruling(
    record: Record, practice: Practice, keys: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    page = record.folder / "practice.html"
    written = page.stat().st_mtime_ns

    def until_stopped(ruling: Ruling | None) -> Callable[[LocalServer], None]:
        def serve(server: LocalServer) -> None:
            if ruling is not None:
                record.rule(keys[0].split("/")[0], 1, ruling)
            raise KeyboardInterrupt

        return serve

    for ruling, again in ((None, False), (Ruling.WRONG, True)):
        monkeypatch.setattr(LocalServer, "serve", until_stopped(ruling))
        done = CliRunner().invoke(app, ["serve", str(practice.folder), "--no-browser"])
        assert done.exit_code == 0, done.output
        assert (page.stat().st_mtime_ns > written) is again
    assert "You ruled 1 rep: 0 right, 1 wrong" in page.read_text("utf-8")


@needs_browser
@pytest.mark.parametrize("open_page", [390, 1440], indirect=True)
def test_ruling_by_button_and_key_where_the_page_is_served(
    server: LocalServer, record: Record, practice: Practice, keys: list[str],
    open_page: Callable[[str], Page],
) -> None:  # fmt: skip
    page = open_page(server.address)
    card = page.locator("article.look").first
    expect(card.get_by_role("group", name="Is the call right?")).to_be_visible()
    card.get_by_role("button", name="Wrong").click()
    expect(card.get_by_role("button", name="Wrong")).to_have_attribute("aria-pressed", "true")
    expect(card.locator(".ruling")).to_have_text("Coach: wrong")
    card.get_by_label("Your call").select_option(label="Clean")
    expect(card.locator(".ruling")).to_have_text("Coach: wrong, clean")
    expect(page.locator("p.ruled")).to_contain_text("You ruled 1 rep: 0 right, 1 wrong")
    assert [each.instead for each in record.rulings(practice).values()] == [CLEAN]
    # The call made is none to be named instead, and stays where it was.
    assert "Ran out upright" not in card.locator("option").all_text_contents()
    others = [name for name in CALLS.values() if name != "Ran out upright"]
    assert card.locator(".instead option").all_text_contents() == ["not said", *others]
    expect(card.locator(".fault")).to_contain_text("Ran out upright")
    expect(page.locator(".to-save").first).to_be_hidden()
    # The same once more takes it away.
    card.get_by_role("button", name="Wrong").click()
    expect(card.locator(".ruling")).to_be_hidden()
    assert record.rulings(practice) == {}
    page.goto(f"{server.root}reps/rep-002.html")
    group = page.get_by_role("group", name="Is the call right?")
    page.keyboard.press("r")
    expect(group.get_by_role("button", name="Right")).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("u")
    expect(page.locator("header .ruling")).to_have_text("Coach: undecided")
    page.keyboard.press("s")
    expect(page.locator(".do-star")).to_have_attribute("aria-pressed", "true")
    page.reload()
    expect(page.locator("header .ruling")).to_have_text("Coach: undecided")
    expect(page.locator(".do-star")).to_have_attribute("aria-pressed", "true")
    assert [f"{digest}/{number}" for digest, number in record.stars(practice)] == [keys[1]]


@needs_browser
def test_ruling_in_the_film_room(
    server: LocalServer, record: Record, practice: Practice, keys: list[str],
    open_page: Callable[[str], Page],
) -> None:  # fmt: skip
    page = open_page(server.address)
    page.get_by_role("button", name="Open the film room").click()
    room = page.get_by_role("dialog", name="Film room")
    page.keyboard.press("w")
    expect(room.locator(".about")).to_contain_text("coach: wrong")
    expect(room.get_by_role("button", name="Wrong")).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("n")
    expect(room.locator(".about")).not_to_contain_text("coach")
    room.get_by_role("button", name="Right").click()
    expect(room.locator(".about")).to_contain_text("coach: right")
    page.keyboard.press("p")
    expect(room.locator(".about")).to_contain_text("coach: wrong")
    assert sorted(each.ruling for each in record.rulings(practice).values()) == ["right", "wrong"]


@needs_browser
def test_a_ruling_that_cannot_be_kept_is_said(
    server: LocalServer, record: Record, practice: Practice, browser: Browser
) -> None:
    with closing(browser.new_page()) as page:  # unwatched: an answer of 422 is an error in it
        page.goto(server.address)
        card = page.locator("article.look").first
        expect(card.get_by_role("button", name="Right")).to_be_visible()
        # In one step: a page still asking must not find a file that is half written.
        write_whole(record.path, lambda file: file.write(b"gone"))
        card.get_by_role("button", name="Right").click()
        expect(card.get_by_role("status")).to_contain_text("Not kept: ")
        expect(card.get_by_role("status")).to_contain_text("this is no record of posecheck")
        expect(card.locator(".ruling")).to_be_hidden()


@needs_browser
def test_a_page_opened_as_a_file_has_no_buttons_that_would_save(
    record: Record, practice: Practice, keys: list[str], open_page: Callable[[Path], Page]
) -> None:
    record.rule(keys[0].split("/")[0], 1, Ruling.WRONG, instead="hands_in")
    page = open_page(write_page(record, practice, Thresholds()))
    expect(page.locator("article.look .ruling").first).to_have_text("Coach: wrong, hands in")
    expect(page.locator(".rule")).to_have_count(0)
    expect(page.locator(".to-save")).to_contain_text("posecheck serve FOLDER")
