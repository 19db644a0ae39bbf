"""The page of habits and its sheet: what stands on them, at any width, and on paper."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from urllib.parse import unquote

import numpy as np
import pytest
from browser import needs_browser
from playwright.sync_api import Browser, Page
from seasons import MADE, ROSTER, Truth, made_up_season

from posecheck.habits.changes import changes
from posecheck.habits.habit import habits
from posecheck.habits.season import Season
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.maths.units import Units
from posecheck.pages.habits_page import write_habits_page
from posecheck.practice.roster import Player

HABITS = habits(DEFAULT_THRESHOLDS)
SINCE = dt.date(2026, 10, 1)
ZOE = Player(4, "Zoë <b>& Co</b>")


def full_season() -> Season:
    """Twelve players, eight practices, six reps each, of which one practice was measured by an
    older version and one rep is not named."""
    truths = {player: Truth() for player in (ZOE, *ROSTER[1:])}
    truths[ZOE] = Truth(last={"knee_bend_deg": -30})
    truths[ROSTER[2]] = Truth(left={"knee_bend_deg": -25})
    truths[ROSTER[3]] = Truth(trend={"knee_bend_deg": 6})
    season = made_up_season(np.random.default_rng(1), truths)
    first, *others, last = season.practices
    old = replace(first, made=frozenset({replace(MADE, version="0.4.0")}))
    nobody = (replace(last.reps[0], who=None, name=""), *last.reps[1:])
    return replace(season, practices=(old, *others, replace(last, reps=nobody)))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("habits")
    season = full_season()
    pages = [folder / f"week {number}" / "checked" / "practice.html" for number in range(1, 9)]
    for page in pages:
        page.parent.mkdir(parents=True)
        page.write_text(f"<!doctype html><title>{page.parent.parent.name}</title>")
    (folder / "season.html").write_text("<!doctype html><title>season</title>")
    described = zip(season.practices, pages, strict=True)
    season = replace(season, practices=tuple(replace(each, page=page) for each, page in described))
    write_habits_page(
        season, HABITS, changes(season, HABITS, SINCE), SINCE, "Usual limits.", folder / "habits"
    )
    return folder / "habits"


def text_of(path: Path) -> str:
    page = re.sub(r"<(style|script)>.*?</\1>", "", path.read_text("utf-8"), flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_pages_load_nothing_and_names_are_text(folder: Path) -> None:
    for name in ("habits.html", "habits-sheet.html"):
        page = (folder / name).read_text("utf-8")
        assert "default-src 'none'" in page
        assert not re.search(r"""(?:src|href)=["']?(?:https?:)?//""", page)
        assert "<b>& Co" not in page
        assert "Zoë &lt;b&gt;&amp; Co" in page


def test_cautions_counts_and_what_is_not_compared_stand_there(folder: Path) -> None:
    for name in ("habits.html", "habits-sheet.html"):
        assert "not a medical or injury assessment" in text_of(folder / name)
    text = text_of(folder / "habits.html")
    assert "8 practices, 12 players, 576 reps, 1 Sep to 20 Oct 2026." in text
    assert "not compared with the latest" in text
    assert "1 rep on 20 Oct" in text
    assert re.search(r"\d of 6", text)
    assert "It does not compare his legs" in text


def test_changes_are_said_with_their_bars_and_sides_are_worth_a_look(folder: Path) -> None:
    text = text_of(folder / "habits.html")
    look, better = text.partition("By date Dot:")[0].split("Better", 1)
    assert re.search(r"Zoë .* Knee bend on 20 Oct: \d+° less \(\d+ to \d+°\) than in his", look)
    assert re.search(r"Cal Whitlock \(7\) Knee bend to his left: \d+° less", look)
    assert re.search(r"Dev Okoro \(8\) Knee bend: \d+° more \(\d+ to \d+°\) a month", better)


def test_a_season_in_yards_is_written_in_yards(tmp_path: Path) -> None:
    season = made_up_season(np.random.default_rng(1), {each: Truth() for each in ROSTER[:2]})
    practices = tuple(
        replace(each, described=replace(each.described, units=Units.YARDS))
        for each in season.practices
    )
    season = replace(season, practices=practices)
    write_habits_page(season, HABITS, changes(season, HABITS), None, "", tmp_path)
    text = text_of(tmp_path / "habits.html")
    assert "mph" in text and " yd" in text and "m/s" not in text


def test_one_practice_one_player_one_rep(tmp_path: Path) -> None:
    season = made_up_season(
        np.random.default_rng(1), {ROSTER[0]: Truth()}, practices=1, reps=1, unseen=0
    )
    write_habits_page(season, HABITS, changes(season, HABITS), None, "", tmp_path)
    text = text_of(tmp_path / "habits.html")
    assert "1 practice, 1 player, 1 reps" not in text
    assert "1 practice, 1 player, 1 rep, 1 Sep 2026." in text
    assert "Nothing went the wrong way as far as these reps can show." in text
    assert 'class="one"' in (tmp_path / "habits.html").read_text("utf-8")


Opens = Callable[[Path], Page]


def shown(page: Page, what: str) -> Sequence[str]:
    return [each.get_attribute("data-habit") or "" for each in page.locator(what).all()
            if each.is_visible()]  # fmt: skip


@needs_browser
@pytest.mark.parametrize("open_page", [390, 768, 1440], indirect=True)
def test_it_fits_every_width(folder: Path, open_page: Opens) -> None:
    for name in ("habits.html", "habits-sheet.html"):
        page = open_page(folder / name)
        width = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert width <= 0, name
    page = open_page(folder / "habits.html")
    for control in page.locator("select:visible, thead button:visible, summary:visible").all():
        box = control.bounding_box()
        assert box is not None and box["height"] >= 44 - 0.5


@needs_browser
def test_choosing_shows_one_habit_of_all_or_all_of_one(folder: Path, open_page: Opens) -> None:
    page = open_page(folder / "habits.html")
    assert shown(page, "figure") == ["knee_bend_deg"] * 12
    assert shown(page, "tbody tr[data-habit]") == ["knee_bend_deg"] * 12
    first, second = page.locator(".chooser").all()
    first.locator("[data-by=habit]").select_option(label="Arrival speed")
    assert set(shown(page, "figure")) == {"arrival_speed_mps"}
    second.locator("[data-by=player]").select_option(label="Dev Okoro (8)")
    assert shown(page, "figure") == [habit.key for habit in HABITS]
    assert first.locator("output").inner_text() == "1 player"
    first.locator("[data-by=player]").select_option("")
    assert len(shown(page, "figure")) == 12


@needs_browser
def test_a_name_leads_to_the_plot(folder: Path, open_page: Opens) -> None:
    page = open_page(folder / "habits.html")
    link = page.locator(".said a").first
    link.click()
    target = page.locator(f"figure[id='{(link.get_attribute('href') or '')[1:]}']")
    assert target.is_visible()
    assert target.get_attribute("data-player") == link.inner_text()
    assert "Worth a look" in target.inner_text()


@needs_browser
def test_ways_lead_to_practices_to_his_reps_and_back(folder: Path, open_page: Opens) -> None:
    page = open_page(folder / "habits.html")
    page.get_by_role("link", name="All practices").click()
    assert page.title() == "season"
    page.go_back()
    page.get_by_role("link", name="Week 3", exact=True).click()
    assert page.title() == "week 3"
    page.go_back()
    dev = page.locator(".said li", has_text="Dev Okoro (8)").first.locator("small a")
    assert dev.all_inner_texts() == ["6 Oct", "13 Oct", "20 Oct"]
    page.locator("summary", has_text="Dev Okoro").click()
    first = page.get_by_role("region", name="Dev Okoro (8) by date").locator("tbody a").first
    for link, title in ((first, "week 1"), (dev.last, "week 8")):
        link.click()
        assert (page.title(), unquote(page.url.partition("#")[2])) == (
            title,
            "player=Dev Okoro (8)",
        )
        page.go_back()
        page.locator("summary", has_text="Dev Okoro").click()
    page.get_by_role("link", name="one sheet to print").click()
    assert page.get_by_role("button", name="Print").is_visible()
    page.get_by_role("link", name="Habits").click()
    assert page.locator("h1").inner_text() == "Habits"


@needs_browser
def test_one_player_s_figures_alone_are_offered_with_him(folder: Path, open_page: Opens) -> None:
    page = open_page(folder / "habits.html")
    assert page.locator("summary:visible").count() == 12
    page.locator("[data-by=player]").first.select_option("Dev Okoro (8)")
    assert page.locator("summary:visible").all_inner_texts() == ["Dev Okoro (8) in figures"]
    page.locator("[data-by=player]").first.select_option("")
    assert page.locator("summary:visible").count() == 12


@needs_browser
def test_headings_sort_figures_as_figures(folder: Path, open_page: Opens) -> None:
    page = open_page(folder / "habits.html")
    head = page.get_by_role("button", name="Last practice")
    cells = page.locator("tr[data-habit=knee_bend_deg] td:nth-child(6)")
    for reverse in (False, True):
        head.click()
        keys = [float(each.get_attribute("data-sort") or "nan") for each in cells.all()]
        assert len(keys) == 12 and keys == sorted(keys, reverse=reverse)
    assert head.locator("..").get_attribute("aria-sort") == "descending"


@needs_browser
def test_figures_by_date_open(folder: Path, open_page: Opens) -> None:
    page = open_page(folder / "habits.html")
    page.locator("summary", has_text="Dev Okoro").click()
    table = page.get_by_role("region", name="Dev Okoro (8) by date")
    assert table.locator("tbody tr:visible").count() == 8
    assert len(table.locator("tbody tr").first.locator("td").all()) == len(HABITS)


@needs_browser
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheet_is_one_sheet(folder: Path, browser: Browser, paper: str) -> None:
    page = browser.new_page()
    page.goto((folder / "habits-sheet.html").as_uri())
    printed = page.pdf(format=paper, landscape=True, print_background=True)
    page.close()
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


@needs_browser
def test_ink_and_paper_differ_in_the_dark_too(folder: Path, browser: Browser) -> None:
    """Relative luminance and contrast of the Web Content Accessibility Guidelines 2.1."""
    for scheme in ("light", "dark"):
        page = browser.new_page(color_scheme=scheme)  # type: ignore[arg-type]
        page.goto((folder / "habits.html").as_uri())
        for what, ground in ((".lead", "body"), (".called", "figure"), ("small", "body")):
            colours = [
                page.locator(selector).first.evaluate(f"each => getComputedStyle(each).{name}")
                for selector, name in ((what, "color"), (ground, "backgroundColor"))
            ]
            bright = sorted(map(luminance, colours))
            assert (bright[1] + 0.05) / (bright[0] + 0.05) >= 4.5, (scheme, what, colours)
        page.close()


def luminance(colour: str) -> float:
    parts = [int(each) / 255 for each in re.findall(r"\d+", colour)[:3]]
    red, green, blue = (
        each / 12.92 if each <= 0.03928 else ((each + 0.055) / 1.055) ** 2.4 for each in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
