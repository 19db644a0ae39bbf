"""The page of one rep: everything that is known of it, and the ways to the others."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from browser import keeps_what_it_stored, needs_browser
from played import ARRIVAL_S, SLOW_FROM_S, TIMES_MS, frame, until, write_clip
from playwright.sync_api import Locator, Page, expect
from rep_views import views

from posecheck.filming.quality import Aspect, FilmQuality, Grade, Graded
from posecheck.judging.asked import Asked
from posecheck.judging.ruling import CALLS
from posecheck.maths.units import Units
from posecheck.pages.annotated import ClipTimes, annotated_name
from posecheck.pages.rep_page import write_rep_pages
from posecheck.pages.rep_view import view_rep
from posecheck.practice.layout import Side
from posecheck.practice.plan import Plan
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player

PRACTICE = Practice(Path(), "Tuesday <closeouts>")
EVE = Player(9, "</script><b>Eve")


def page(folder: Path, number: int) -> str:
    return (folder / "reps" / f"rep-{number:03}.html").read_text("utf-8")


def words(html: str) -> str:
    html = re.sub(r"<(style|script)\b.*?</\1>", " ", html, flags=re.S)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_every_figure_stands_with_its_error_bar(tmp_path: Path) -> None:
    write_rep_pages(views(tmp_path, "upright"), PRACTICE, tmp_path)
    html = page(tmp_path, 1)
    # Knee bend 17 within 11 to 23 in the invented upright rep.
    assert "17° 11 to 23" in words(html)
    assert html.count('class="bar"') >= 15
    assert html.count('class="curve"') == 2
    assert "From above" in words(html) and "Who is who: the defender is the one" in words(html)
    assert "Film: usable." in words(html) and "no medical or injury assessment" in words(html)


def test_the_side_is_among_what_is_judged_where_the_plan_asks_for_one(tmp_path: Path) -> None:
    (view,) = views(tmp_path, "upright")
    free = replace(view, asked=Asked())
    assert "approach_offset_m" in [each.key for each in free.other_strips]
    asked = replace(view, asked=Asked(Plan.ALLEY, "right", "top-left", Side.LEFT))
    (side,) = (each for each in asked.judged_strips if each.key == "approach_offset_m")
    assert side.wanted == "at least +0.3 m, positive is topside"
    assert "approach_offset_m" not in [each.key for each in asked.other_strips]


def test_every_sentence_is_in_the_units_of_the_practice(tmp_path: Path) -> None:
    slow = Graded(Aspect.SPEED, Grade.TOO_POOR, "he takes 1.1 steps a second of 3.4 m each", "")
    (view,) = views(
        tmp_path,
        "upright",
        film=("its marks put the camera 3.1 m above the ground",),
        quality=FilmQuality((slow,)),
    )
    yards = Practice(Path(), "Tuesday", units=Units.YARDS)
    judged = (view.result, view.rep, view.verdict)
    write_rep_pages([view_rep(1, yards, judged, view.thresholds, tmp_path)], PRACTICE, tmp_path)
    text = words(page(tmp_path, 1))
    assert "3.4 yd above the ground" in text
    assert "of 3.7 yd each" in text


def test_reps_lead_to_those_before_and_after_and_back(tmp_path: Path) -> None:
    write_rep_pages(views(tmp_path, "upright", "unclear", "breakdown"), PRACTICE, tmp_path)
    links = [
        re.findall(r'<a (?:rel="(\w+)" )?href="([^"]*)"', page(tmp_path, n)) for n in (1, 2, 3)
    ]
    assert links == [
        [("", "../practice.html"), ("next", "rep-002.html")],
        [("", "../practice.html"), ("prev", "rep-001.html"), ("next", "rep-003.html")],
        [("", "../practice.html"), ("prev", "rep-002.html")],
    ]


def test_pages_of_reps_that_are_no_more_are_taken_away(tmp_path: Path) -> None:
    made = views(tmp_path, "upright", "unclear", "breakdown")
    write_rep_pages(made, PRACTICE, tmp_path)
    (tmp_path / "reps" / "mine.html").write_text("kept")
    write_rep_pages(made[:1], PRACTICE, tmp_path)
    assert sorted(path.name for path in (tmp_path / "reps").iterdir()) == [
        "mine.html", "rep-001.html",
    ]  # fmt: skip


def test_other_calls_are_named_in_the_order_of_their_seriousness(tmp_path: Path) -> None:
    write_rep_pages(views(tmp_path, "upright"), PRACTICE, tmp_path)
    data = re.search(r'id="calls">(.*?)</script>', page(tmp_path, 1))
    assert data is not None
    assert json.loads(data[1]) == [[call, name] for call, name in CALLS.items()]


def test_a_name_is_text_whatever_it_holds(tmp_path: Path) -> None:
    write_rep_pages(views(tmp_path, "upright", player=EVE), PRACTICE, tmp_path)
    html = page(tmp_path, 1)
    assert "<b>Eve" not in html and "<closeouts>" not in html
    data = re.search(r'id="reps"[^>]*>(.*?)</script>', html)
    assert data is not None
    assert json.loads(data[1])[0]["player"] == f"{EVE.name} (9)"


def test_nothing_is_loaded_from_a_network(tmp_path: Path) -> None:
    write_rep_pages(views(tmp_path, "upright"), PRACTICE, tmp_path)
    html = page(tmp_path, 1)
    assert not re.search(r"(https?:)?//\w", re.sub(r"base64,[^\"]*", "", html))
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)
    assert policy is not None and policy[1].startswith("default-src 'none';")
    assert "unsafe" not in policy[1] and "http" not in policy[1] and "*" not in policy[1]


def test_two_hundred_pages_in_two_seconds(tmp_path: Path) -> None:
    made = views(tmp_path, *(["upright", "breakdown", "unclear", "breakdown"] * 50), picture=None)
    start = time.process_time()
    write_rep_pages(made, PRACTICE, tmp_path)
    assert time.process_time() - start < 2
    assert len(list((tmp_path / "reps").iterdir())) == 200


def test_what_was_not_seen_is_said(tmp_path: Path) -> None:
    (made,) = views(tmp_path, "unclear", picture=None)
    blank = {
        name: np.full_like(array, np.nan)
        for name, array in vars(made.rep.series).items()
        if name != "t_s"
    }
    moments = replace(made.rep.rep, braking_s=None, arrival_s=None, source=None)
    (made,) = views(
        tmp_path, "unclear", picture=None, rep=moments, series=replace(made.rep.series, **blank)
    )
    write_rep_pages([made], PRACTICE, tmp_path)
    assert "The film does not show the arrival." in words(page(tmp_path, 1))
    assert "nan" not in re.findall(r"[a-z]+", page(tmp_path, 1).lower().split("<main")[1])


# -- in a browser ----------------------------------------------------------------------------------

ARRIVAL_FRAME = TIMES_MS.index(round(1000 * ARRIVAL_S))


@pytest.fixture
def rep(tmp_path: Path, open_page: Callable[[Path], Page]) -> Page:
    """The second of three reps, drawn.

    It arrives at 2.3 s of the film, 0.8 s into the clip, which so begins at 1.5 s; its slow part
    begins again at 2.1 s.
    """
    made = views(tmp_path, "breakdown", "upright", "unclear")
    arrival_s = made[1].rep.rep.arrival_s
    assert arrival_s is not None
    for view in made:
        write_clip(tmp_path / "clips" / annotated_name(view.result, view.rep))
    made = views(tmp_path, "breakdown", "upright", "unclear")
    first_s = arrival_s - ARRIVAL_S
    clip_s = np.array(TIMES_MS) / 1000
    slow = clip_s >= SLOW_FROM_S
    film_s = np.where(slow, arrival_s - 0.2 + (clip_s - SLOW_FROM_S) / 4, first_s + clip_s)
    times = ClipTimes(
        0.5, ARRIVAL_S, SLOW_FROM_S, 2.56, tuple(clip_s.tolist()), tuple(film_s.tolist())
    )
    made = [replace(view, times=times) for view in made]
    write_rep_pages(made, PRACTICE, tmp_path)
    return open_page(tmp_path / "reps" / "rep-002.html")


def line(page: Page) -> Locator:
    """The line that follows the film in the plot of the knee."""
    return page.locator("svg.plot .now").first


def line_s(page: Page) -> float:
    """Where that line stands, in seconds of the film."""
    plot = page.locator("svg.plot[data-first-s]").first
    first_s, last_s, left, right = (
        float(plot.get_attribute(f"data-{name}") or "nan")
        for name in ("first-s", "last-s", "left", "right")
    )
    moved = re.search(r"translate\(([\d.]+)", line(page).get_attribute("transform") or "")
    assert moved is not None
    return first_s + (float(moved[1]) - left) / (right - left) * (last_s - first_s)


def wait_for_frame(page: Page, number: int) -> None:
    expect(page.locator("input.place")).to_have_value(str(number))
    until(page, "video => video.readyState > 1 && !video.seeking")


@needs_browser
def test_the_film_waits_at_arrival_and_so_do_the_plots(rep: Page) -> None:
    wait_for_frame(rep, ARRIVAL_FRAME)
    assert rep.locator("video").evaluate("video => video.paused")
    # The made-up upright rep starts at 0.4 s and arrives 1.9 s later.
    assert line_s(rep) == pytest.approx(2.3, abs=0.01)


@needs_browser
def test_moving_in_the_film_moves_the_lines_in_the_plots(rep: Page) -> None:
    wait_for_frame(rep, ARRIVAL_FRAME)
    places = rep.locator(".now-place")
    assert places.count() == 2 and places.first.is_visible()
    before = places.first.get_attribute("transform")
    for _ in range(5):
        rep.keyboard.press("ArrowLeft")
    assert line_s(rep) == pytest.approx(2.3 - 5 * 0.04, abs=0.01)
    rep.get_by_label("Place in the clip").fill(str(TIMES_MS.index(1200)))  # the slow part begins
    assert line_s(rep) == pytest.approx(2.1, abs=0.01)
    assert places.first.get_attribute("transform") != before
    rep.keyboard.press("0")
    until(rep, "video => !video.paused && video.currentTime > 0.1")
    rep.keyboard.press("Space")
    until(rep, "video => video.paused")
    assert line_s(rep) == pytest.approx(1.5 + frame(rep) * 0.04, abs=0.01)


@needs_browser
def test_a_press_and_a_drag_in_a_plot_lead_the_film(rep: Page) -> None:
    wait_for_frame(rep, ARRIVAL_FRAME)
    plot = rep.locator("svg.plot[data-first-s]").nth(1)
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    assert box is not None
    first_s, last_s = (
        float(plot.get_attribute(f"data-{end}-s") or "nan") for end in ("first", "last")
    )

    def x(t_s: float) -> float:
        return box["x"] + box["width"] * (30 + 292 * (t_s - first_s) / (last_s - first_s)) / 340

    middle = box["y"] + box["height"] / 2
    rep.mouse.click(x(1.9), middle)
    wait_for_frame(rep, 10)  # 1.5 s is the clip's first frame
    rep.mouse.move(x(1.9), middle)
    rep.mouse.down()
    rep.mouse.move(x(2.1), middle, steps=4)
    wait_for_frame(rep, 15)
    rep.mouse.up()
    rep.mouse.move(x(2.5), middle)
    assert frame(rep) == 15, "it leads only while pressed"
    assert line_s(rep) == pytest.approx(2.1, abs=0.01)


@needs_browser
def test_keys_lead_to_the_reps_before_and_after_and_star(rep: Page) -> None:
    wait_for_frame(rep, ARRIVAL_FRAME)
    rep.keyboard.press("s")
    expect(rep.get_by_role("button", name="Starred")).to_have_attribute("aria-pressed", "true")
    keeps_what_it_stored(rep)
    rep.keyboard.press("n")
    rep.wait_for_url("**/rep-003.html")
    expect(rep.get_by_role("button", name="Star")).to_have_attribute("aria-pressed", "false")
    rep.keyboard.press("p")
    rep.wait_for_url("**/rep-002.html")
    expect(rep.get_by_role("button", name="Starred")).to_have_attribute("aria-pressed", "true")


@needs_browser
def test_a_star_on_a_page_opened_as_a_file_says_where_it_is_kept(rep: Page) -> None:
    wait_for_frame(rep, ARRIVAL_FRAME)
    words = rep.get_by_text("Kept in this browser only")
    expect(words).to_have_count(0)
    rep.keyboard.press("s")
    expect(words).to_be_visible()
    expect(words).to_have_class("quiet")


@needs_browser
def test_a_star_that_the_browser_does_not_keep_is_said(rep: Page) -> None:
    wait_for_frame(rep, ARRIVAL_FRAME)
    rep.evaluate("() => { Storage.prototype.setItem = () => { throw new Error(); }; }")
    rep.keyboard.press("s")
    expect(rep.get_by_role("button", name="Starred")).to_have_attribute("aria-pressed", "true")
    expect(rep.get_by_text("This browser keeps no stars")).to_be_visible()


@needs_browser
@pytest.mark.parametrize("open_page", [390, 768, 1440], indirect=True)
def test_nothing_is_cut_off_at_any_width(rep: Page) -> None:
    wait_for_frame(rep, ARRIVAL_FRAME)
    rep.evaluate("document.querySelectorAll('details').forEach((box) => { box.open = true; })")
    assert rep.evaluate("document.documentElement.scrollWidth") == rep.evaluate("innerWidth")
    for each in rep.locator(".viewer button, .viewer input, .among a").all():
        box = each.bounding_box()
        assert box is not None and box["height"] >= 44 and box["width"] >= 44


@needs_browser
def test_on_paper_every_fault_is_named_and_nothing_asks_to_be_pressed(rep: Page) -> None:
    wait_for_frame(rep, ARRIVAL_FRAME)
    expect(rep.get_by_text("Press or drag in the plots")).to_be_visible()
    rep.emulate_media(media="print")
    expect(rep.get_by_text("Press or drag in the plots")).to_be_hidden()
    expect(rep.get_by_text("Also flagged:")).to_be_visible()
    expect(rep.get_by_text("Film: usable.")).to_be_visible()
    expect(rep.get_by_text("Other measures")).to_be_hidden()
    assert rep.locator("button:visible").count() == 0
