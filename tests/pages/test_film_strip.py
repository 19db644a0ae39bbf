"""The page of long films: what it says, what it shows where, how heavy it is."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from browser import needs_browser
from films import write_film
from long_film import FAULT, FILM, STRETCHES, make_practice
from playwright.sync_api import Page, expect

from posecheck.errors import UnreadableClip
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.pages.film_strip import clock, view_film, write_films_page
from posecheck.pages.publish import draw_clips, write_page
from posecheck.pages.strip_pictures import draw_strips, row_name
from posecheck.practice.cuts import FilmCuts, SetStretch, Stretch, StretchKind
from posecheck.practice.found_cuts import cuts_path, read_cuts
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.practice.set_cuts import write_set
from posecheck.store.record import Record

REP, UNSURE, NONE = StretchKind.REP, StretchKind.UNSURE, StretchKind.NONE


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return make_practice(tmp_path)


@pytest.fixture
def page(folder: Path, open_page: Callable[..., Page]) -> Page:
    return open_page(folder / "checked" / "films.html")


def cuts_of(*stretches: Stretch, duration_s: float = 75.0) -> FilmCuts:
    return FilmCuts(FILM, "a" * 64, duration_s, "key", stretches, (24.0,), stretches)


def rewrite(folder: Path) -> str:
    with Record(folder / "checked" / "record.sqlite") as record:
        write_page(record, read_practice(folder), DEFAULT_THRESHOLDS)
    return (folder / "checked" / "films.html").read_text("utf-8")


# -- what is in it -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("time_s", "words"),
    [(0.0, "0:00"), (59.99, "0:59"), (872.4, "14:32"), (3599.0, "59:59"), (3723.0, "1:02:03")],
)
def test_moments_are_written_as_people_say_them(time_s: float, words: str) -> None:
    assert clock(time_s) == words


def test_each_stretch_is_marked_from_start_to_end(tmp_path: Path) -> None:
    film = view_film(cuts_of(*STRETCHES), (), {}, tmp_path)
    assert [row.at for row in film.rows] == ["0:00", "0:30", "1:00"]
    first, second, third = ([(m.left, m.width) for m in row.marks] for row in film.rows)
    # A row is 30 s: from 4.2 to 11.9 s is from 14 % on, 25.67 % wide.
    assert first == [(14.0, 25.67), (91.67, 8.33)]
    assert second == [(0.0, 15.0), (33.33, 10.0), (83.33, 16.67)]
    assert third == [(0.0, 3.33), (6.67, 21.66)]
    assert [(m.begins, m.ends) for m in film.rows[0].marks] == [(True, True), (True, False)]
    assert [row.changes for row in film.rows] == [(80.0,), (), ()]
    assert [row.seen for row in film.rows] == [100.0, 100.0, 50.0]


def test_what_is_no_rep_is_marked_only_where_the_coach_said_so(tmp_path: Path) -> None:
    walk = Stretch(46.0, 52.0, NONE, "two walk side by side")
    assert not any(row.marks for row in view_film(cuts_of(walk), (), {}, tmp_path).rows)
    his = SetStretch(46.0, 52.0, NONE, (46.0, 52.0))
    (mark,) = view_film(cuts_of(walk), [his], {}, tmp_path).rows[1].marks
    assert (mark.view.words, mark.view.by_hand) == ("no rep at 0:46", True)


def test_what_is_not_in_the_reps_yet_is_counted(tmp_path: Path) -> None:
    cuts = cuts_of(*STRETCHES)
    moved = SetStretch(5.0, 12.0, REP, (4.2, 11.9))
    added = SetStretch(70.0, 74.0, REP)
    removed = SetStretch(40.0, 43.0, NONE, (40.0, 43.0))
    counts = [view_film(cuts, his, {}, tmp_path).n_open for his in
              ([], [moved], [moved, added], [moved, added, removed])]  # fmt: skip
    assert counts == [0, 1, 2, 3]
    # What was set when it was last checked and is taken back counts as well.
    checked = FilmCuts(FILM, "a" * 64, 75.0, "key", cuts.as_set([added]), (), cuts.found)
    assert view_film(checked, [], {}, tmp_path).n_open == 1


def test_the_practice_page_leads_to_it_while_there_are_long_films(folder: Path) -> None:
    practice = folder / "checked" / "practice.html"
    assert 'href="films.html"' in practice.read_text("utf-8")
    (cuts,) = read_cuts(folder / "checked")
    cuts_path(folder / "checked", cuts.digest).unlink()
    with Record(folder / "checked" / "record.sqlite") as record:
        write_page(record, read_practice(folder), DEFAULT_THRESHOLDS)
    assert not (folder / "checked" / "films.html").exists()
    assert list((folder / "checked" / "strips").iterdir()) == []
    assert 'href="films.html"' not in practice.read_text("utf-8")


def test_a_damaged_film_says_so_at_its_name(tmp_path: Path) -> None:
    said = "3.50 s within it cannot be read, the file is damaged; copy it from the phone again."
    cuts = replace(cuts_of(), damage=said)
    path = write_films_page(Practice(tmp_path, "Tuesday"), [cuts, cuts_of()], {}, {}, tmp_path)
    assert path is not None
    assert path.read_text("utf-8").count(said) == 1


def test_names_of_films_are_text(tmp_path: Path) -> None:
    name = '<img src=x> & "film".mp4'
    cuts = FilmCuts(name, "b" * 64, 60.0, "key", (), (), ())
    path = write_films_page(Practice(tmp_path, "Tuesday"), [cuts], {}, {}, tmp_path)
    assert path is not None
    text = path.read_text("utf-8")
    assert "<img src=x>" not in text
    assert "&lt;img src=x&gt; &amp; &#34;film&#34;.mp4" in text


def test_names_that_are_no_text_are_shown_and_their_cuts_linked(tmp_path: Path) -> None:
    cut = "odd #1 %41\udce9.mp4/0001.000-0009.000.mp4"
    (tmp_path / "cuts" / cut).parent.mkdir(parents=True)
    (tmp_path / "cuts" / cut).write_bytes(b"film")
    stretch = Stretch(1.0, 9.0, UNSURE, "nobody can be followed", cut)
    cuts = FilmCuts("odd #1 %41\udce9.mp4", "b" * 64, 60.0, "key", (stretch,), (), (stretch,))
    path = write_films_page(Practice(tmp_path, "Tuesday"), [cuts], {}, {}, tmp_path)
    assert path is not None
    text = path.read_text("utf-8")
    assert ">odd #1 %41\\xe9.mp4</h2>" in text
    assert 'src="cuts/odd%20%231%20%2541%E9.mp4/0001.000-0009.000.mp4"' in text


# -- pictures ------------------------------------------------------------------------------------


def grey(picture: np.ndarray, at: int) -> float:
    """How light the grey quarter of a strip's picture is: the film gets lighter every 0.2 s."""
    return float(picture[10:35, 160 * at + 90 : 160 * at + 150].mean())


def test_a_strip_shows_the_film_along_time(folder: Path) -> None:
    (cuts,) = read_cuts(folder / "checked")
    rows = [cv2.imread(str(folder / "checked" / row_name(cuts, at))) for at in range(3)]
    assert [row.shape for row in rows] == [(90, 960, 3)] * 3
    # Only pictures that are stored by themselves are looked at; the film has one every 250.
    assert grey(rows[0], 0) == pytest.approx(40, abs=8)
    # 75 s: the last row has three pictures, then nothing.
    assert rows[2][:, :480].mean() > 40
    assert rows[2][:, 490:].mean() < 3


def test_pictures_that_are_there_are_not_made_again(folder: Path) -> None:
    strips = folder / "checked" / "strips"
    before = {path.name: path.stat().st_mtime_ns for path in strips.iterdir()}
    gone = next(name for name in before if "-row-001" in name)
    (strips / gone).unlink()
    with Record(folder / "checked" / "record.sqlite") as record:
        assert draw_clips(record, read_practice(folder)) == []
    after = {path.name: path.stat().st_mtime_ns for path in strips.iterdir()}
    assert after.keys() == before.keys()
    assert [name for name in before if before[name] != after[name]] == [gone]


def test_a_film_that_is_gone_costs_its_pictures_alone(folder: Path) -> None:
    (folder / FILM).unlink()
    for path in (folder / "checked" / "strips").iterdir():
        path.unlink()
    with Record(folder / "checked" / "record.sqlite") as record:
        (fault,) = draw_clips(record, read_practice(folder))
    assert fault.startswith(f"{FILM}: ")
    assert rewrite(folder).count(">no pictures<") == 3


def test_an_upright_film_is_shown_whole(tmp_path: Path) -> None:
    film = write_film(tmp_path / "film.mp4", range(0, 4000, 200), size=(90, 160))
    draw_strips(film, cuts_of(duration_s=4.0), (), tmp_path)
    row = cv2.imread(str(tmp_path / row_name(cuts_of(), 0)))
    beside, inside = row[:, :50].mean(), row[:, 56:104].mean()
    assert beside < 3
    assert inside > 40


def test_forty_minutes_stay_light(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    noise = rng.integers(0, 255, (45, 80, 3), np.uint8)
    picture = cv2.GaussianBlur(cv2.resize(noise, (160, 90)), (0, 0), 1.2)
    # As much detail as players on grass have, in every picture of 80 rows.
    row = np.hstack([picture] * 6)
    _, data = cv2.imencode(".jpg", row, [cv2.IMWRITE_JPEG_QUALITY, 60])
    stretches = tuple(
        Stretch(at, at + 8, UNSURE if at % 120 == 0 else REP, "one runs at another")
        for at in range(0, 2400, 24)
    )
    cuts = cuts_of(*stretches, duration_s=2400.0)
    path = write_films_page(Practice(tmp_path, "Tuesday"), [cuts], {}, {}, tmp_path)
    assert path is not None
    in_all = path.stat().st_size + 80 * len(data) + 20 * 10_000
    assert in_all < 3_000_000


def test_a_film_that_cannot_be_read_says_so(tmp_path: Path) -> None:
    (tmp_path / "film.mp4").write_bytes(b"no film")
    with pytest.raises(UnreadableClip):
        draw_strips(tmp_path / "film.mp4", cuts_of(), (), tmp_path)


# -- in a browser --------------------------------------------------------------------------------


@needs_browser
@pytest.mark.parametrize("open_page", [390, 1440], indirect=True)
def test_it_opens_offline_and_fits(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    expect(page.get_by_text("1:15 long: 2 reps, 3 to look at, 2 camera changes.")).to_be_visible()
    shown = page.locator(".film-row img").evaluate_all(
        "all => all.map(one => one.scrollIntoView() || one.decode().then(() => one.naturalWidth))"
    )
    assert len(shown) == 3
    page.wait_for_timeout(300)
    widths = page.locator(".film-row img").evaluate_all("all => all.map(one => one.naturalWidth)")
    assert widths == [960] * 3


@needs_browser
def test_what_is_not_sure_is_listed_with_its_reason(page: Page) -> None:
    first, second, third = page.locator(".to-look-at li").all()
    expect(first).to_contain_text("Not sure at 0:40")
    expect(first).to_contain_text("The runner leaves the picture")
    expect(first).to_contain_text("0:40 to 0:43")
    expect(second).to_contain_text("Measured as")
    expect(second.get_by_role("link")).to_have_attribute("href", "reps/rep-003.html")
    expect(third).to_contain_text("Not measured at 1:02")
    expect(third).to_contain_text(FAULT[1:])
    video = first.locator("video")
    assert video.get_attribute("preload") == "none"
    assert (video.get_attribute("poster") or "").startswith("strips/")
    video.evaluate("video => video.play()")
    page.wait_for_timeout(500)
    assert video.evaluate("video => video.currentTime") > 0


@needs_browser
def test_reps_lead_to_their_pages(page: Page) -> None:
    page.get_by_role("link", name="rep 2 at 0:27").first.click()
    expect(page.locator("h1")).to_contain_text("Rep 2")
    page.go_back()
    page.get_by_role("link", name=re.compile("rep 1, unknown 1: ")).click()
    expect(page.locator("h1")).to_contain_text("Rep 1")


@needs_browser
def test_an_unsure_mark_leads_to_its_place_in_the_list(page: Page) -> None:
    page.get_by_role("link", name="not sure at 0:40").press("Enter")
    expect(page.locator(".to-look-at li:target")).to_contain_text("Not sure at 0:40")


@needs_browser
def test_as_a_file_it_says_how_to_set_things(page: Page) -> None:
    expect(page.get_by_text("posecheck serve FOLDER")).to_be_visible()
    assert page.get_by_role("button").count() == 0
    expect(page.locator("dialog")).to_be_hidden()
    # Pressing the strip beside every mark does nothing.
    page.locator(".film-row").first.click(position={"x": 5, "y": 5})
    expect(page.locator("dialog")).to_be_hidden()


@needs_browser
def test_kinds_are_told_apart_without_colour(page: Page) -> None:
    dashes = {
        kind: page.locator(f".is-{kind} .bar").first.evaluate(
            "bar => getComputedStyle(bar).strokeDasharray"
        )
        for kind in ("rep", "unsure")
    }
    assert dashes["rep"] == "none" != dashes["unsure"]
    texts = page.locator(".marks text").evaluate_all("all => all.map(one => one.textContent)")
    assert texts == ["rep 1", "2", "2", "?", "not sure", "?", "not measured"]


@needs_browser
def test_what_the_coach_set_is_said_to_count_next_time(
    folder: Path, open_page: Callable[..., Page]
) -> None:
    write_set(folder, {FILM: [SetStretch(5.0, 12.0, REP, (4.2, 11.9))]})
    rewrite(folder)
    page = open_page(folder / "checked" / "films.html")
    expect(page.get_by_role("note")).to_have_text(
        "1 change set here is not in the reps yet: the next posecheck check uses it."
    )
    item = page.locator(".found li").first
    expect(item).to_contain_text("0:05 to 0:12")
    expect(item).to_contain_text("Rep. Not measured yet.")
    expect(item).to_contain_text("set by hand")
