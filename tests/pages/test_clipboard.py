"""The sheet for the clipboard: what stands on it, and how many pages it takes on paper."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from browser import needs_browser
from factories import make_clip_result
from playwright.sync_api import Browser, Page

from posecheck.judging.asked import Asked
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import judge
from posecheck.pages.clipboard import player_lines, three_pictures, write_clipboard
from posecheck.pages.own_words import CUES
from posecheck.pages.plan_drawing import forced_towards, plan_drawing
from posecheck.pages.rep_view import RepView, view_rep
from posecheck.practice.field import CLOSEOUT_CONES, closeout_layout
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes
from posecheck.practice.plan import Plan
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player

PLAN = {
    "top": Plan.WEAK_HAND,
    "top-left": Plan.ALLEY,
    "top-right": Plan.ALLEY,
    "side-left": Plan.MIDDLE,
    "side-right": Plan.ALLEY,
}

HANDS_IN = {"hand_reach": 0.1}


def scene(
    folder: Path, *reps: tuple[int, str, dict[str, float | None]]
) -> tuple[Practice, list[RepView]]:
    """Reps as (number of the player, kind, measures that differ)."""
    notes, results = {}, []
    for number, (player, kind, values) in enumerate(reps, 1):
        result = make_clip_result(Path(f"clips/rep-{number:02}.mp4"), kind=kind, **values)
        results.append(result)
        named = Player(player, f"Player Longer-Name {player}") if player else None
        notes[result.path.as_posix()] = ClipNotes(spot="top-left", defender=named)
    practice = Practice(
        folder=Path(),
        name="Tuesday <reps>",
        club="Harbor Point Herons",
        date=dt.date(2026, 9, 15),
        layout=closeout_layout(),
        plan=PLAN,
        notes=notes,
    )
    views = []
    for number, result in enumerate(results, 1):
        rep = result.reps[0]
        verdict = judge(rep.measures, DEFAULT_THRESHOLDS, Asked())
        judged = (result, rep, verdict)
        views.append(view_rep(number, practice, judged, DEFAULT_THRESHOLDS, folder))
    return practice, views


def test_each_player_has_the_most_serious_thing_counts_and_his_best(tmp_path: Path) -> None:
    _, views = scene(
        tmp_path,
        (4, "breakdown", HANDS_IN),
        (4, "upright", {}),
        (4, "breakdown", HANDS_IN),
        (4, "breakdown", {}),
        (9, "unclear", {}),
        (0, "upright", {}),
    )
    four, nine = player_lines(views)
    assert (four.fault, four.count, four.cue) == ("Ran out upright", 1, CUES["upright_run_out"])
    assert (four.reps, four.flagged, four.clear, four.unsure) == (4, 3, 1, 0)
    assert four.best is not None and four.best.number == 4
    assert (nine.fault, nine.unsure, nine.best) == (None, 1, None)


def test_a_picture_that_cannot_be_shown_costs_no_more_than_itself(tmp_path: Path) -> None:
    _, views = scene(tmp_path, (5, "upright", {}), (7, "upright", {}))
    broken = replace(views[0], rep=replace(views[0].rep, picture=b"\xff\xd8 broken"))
    pictures = three_pictures([broken, views[1]])
    assert [each.view.number for each in pictures] == [2]


def test_three_pictures_none_of_them_twice(tmp_path: Path) -> None:
    _, views = scene(
        tmp_path,
        (4, "breakdown", HANDS_IN),
        (5, "upright", {}),
        (6, "breakdown", HANDS_IN),
        (7, "breakdown", {}),
    )
    pictures = three_pictures(views)
    assert [each.view.number for each in pictures] == [2, 4, 1]
    assert [each.title for each in pictures] == [
        "The worst",
        "A clean one to hold beside it",
        "Most often: hands in, 3 of 4 reps",
    ]
    assert three_pictures([]) == []
    assert [each.title for each in three_pictures(views[3:])] == ["The deepest clean one"]


def test_the_page_says_it_all_and_needs_nothing_from_outside(tmp_path: Path) -> None:
    practice, views = scene(
        tmp_path, (4, "upright", {}), (5, "breakdown", {}), (6, "unclear", {}), (0, "upright", {})
    )
    page = write_clipboard(practice, views, tmp_path).read_text("utf-8")
    assert "Tuesday &lt;reps&gt;" in page
    assert "force him to his weak hand" in page and "force him down the alley" in page
    assert CUES["upright_run_out"] in page
    assert "Nothing to work on was seen." in page
    assert "Nothing flagged; 1 left open." in page
    assert "1 rep with nobody named." in page
    assert not re.search(r"https?:|url\(", page)
    for address in re.findall(r'(?:src|href)="([^"]*)"', page):
        assert address.startswith("data:image/jpeg;base64,") or address == "practice.html"


def test_without_names_plan_or_reps_nothing_is_made_up(tmp_path: Path) -> None:
    practice, _ = scene(tmp_path)
    page = write_clipboard(replace(practice, plan={}), [], tmp_path).read_text("utf-8")
    assert "No rep has a player who is named.</p>" in page
    assert "<figure" not in page and "Plan</h2>" not in page


def test_with_nobody_named_it_says_how_to_name_them(tmp_path: Path) -> None:
    practice, views = scene(tmp_path, (0, "upright", {}))
    practice = replace(practice, folder=Path("/film/fall <1>"))
    page = write_clipboard(practice, views, tmp_path).read_text("utf-8")
    assert "<code>posecheck names &#39;/film/fall &lt;1&gt;&#39;</code>" in page


@pytest.mark.parametrize("spot", [spot for spot in CLOSEOUT_CONES if spot not in ("inside", "top")])
def test_the_arrow_goes_where_the_plan_forces_him(spot: str) -> None:
    """Down the alley is away from the field's axis, to the middle is towards it; both downfield."""
    place = np.array(CLOSEOUT_CONES[spot])
    to_goal = -place / np.hypot(*place)
    alley, middle = (forced_towards(plan, place) for plan in (Plan.ALLEY, Plan.MIDDLE))
    assert alley is not None and middle is not None
    outwards = np.sign(place[0])
    # Which side of the line to the goal, seen from the attacker.
    turn = [np.cross([*to_goal, 0], [*way, 0])[2] * outwards for way in (alley, middle)]
    assert turn[0] > 0 > turn[1]
    assert all(float(way @ to_goal) > 0 for way in (alley, middle))


def test_where_the_plan_names_no_side_there_is_no_arrow() -> None:
    assert forced_towards(Plan.WEAK_HAND, np.array([-8.0, 12.5])) is None
    assert forced_towards(Plan.ALLEY, np.array([0.0, 15.0])) is None
    assert 'class="arrow"' not in plan_drawing({"top": Plan.WEAK_HAND}, closeout_layout())
    assert plan_drawing({"somewhere": Plan.ALLEY}, Layout()) == ""
    assert plan_drawing({"top-left": Plan.ALLEY}, Layout()).count('class="arrow"') == 1


def paper(browser: Browser, page_file: Path, format: str) -> int:
    """Pages of the sheet on paper."""
    page = browser.new_page()
    try:
        page.goto(page_file.as_uri())
        printed = page.pdf(format=format, print_background=True)
    finally:
        page.close()
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", printed))


def squad(size: int) -> list[tuple[int, str, dict[str, float | None]]]:
    """So many players with two reps each, every sort of line among them."""
    sorts = [("upright", {}), ("breakdown", HANDS_IN), ("breakdown", {}), ("unclear", {}),
             ("breakdown", {"overrun_m": 2.5}), ("breakdown", {"base_width": 0.8})]  # fmt: skip
    return [
        (player, *sorts[(player + again) % len(sorts)])
        for player in range(1, size + 1)
        for again in (0, 2)
    ]


@needs_browser
@pytest.mark.parametrize("format", ["A4", "Letter"])
def test_a_dozen_players_take_one_page_and_more_take_more(
    tmp_path: Path, browser: Browser, format: str
) -> None:
    dozen = write_clipboard(*scene(tmp_path, *squad(12)), tmp_path)
    assert paper(browser, dozen, format) == 1
    thirty = write_clipboard(*scene(tmp_path, *squad(30)), tmp_path)
    assert paper(browser, thirty, format) == 2


@needs_browser
@pytest.mark.parametrize("open_page", [718], indirect=True)  # A4 less its margins
def test_on_paper_a_player_has_six_lines_at_most(
    tmp_path: Path, open_page: Callable[..., Page]
) -> None:
    practice, views = scene(tmp_path, (1, "upright", {}), (1, "breakdown", {}))
    page = open_page(write_clipboard(practice, views, tmp_path))
    page.emulate_media(media="print")
    player = page.locator(".lines li")
    name = player.locator("h3").bounding_box()
    assert name is not None
    for cue in CUES.values():
        player.locator(".say").evaluate("(line, cue) => { line.textContent = cue; }", cue)
        box = player.bounding_box()
        assert box is not None
        line_px = float(player.evaluate("li => parseFloat(getComputedStyle(li).lineHeight)"))
        below_name = box["y"] + box["height"] - name["y"] - name["height"]
        assert below_name <= 5 * line_px + 1, cue


@needs_browser
@pytest.mark.parametrize("open_page", [390, 1440], indirect=True)
def test_it_fits_a_phone_and_its_button_prints(
    tmp_path: Path, open_page: Callable[..., Page]
) -> None:
    page = open_page(write_clipboard(*scene(tmp_path, *squad(6)), tmp_path))
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.evaluate("() => { window.print = () => { document.title = 'printed'; }; }")
    page.get_by_role("button", name="Print").click()
    assert page.title() == "printed"
