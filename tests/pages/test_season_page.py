"""The page of a season in a browser: every way from it leads somewhere, at any width."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from browser import needs_browser
from factories import make_clip_result
from playwright.sync_api import Page

from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import Call
from posecheck.pages.season_page import PracticeLine, practice_line, write_season_page
from posecheck.pipeline.judge import judge_clip
from posecheck.practice.practice import Practice
from posecheck.store.record import Record

LONG = "Recovery reps before the semifinal, second group, with-a-word-that-is-far-too-long-to-fit"


@pytest.fixture
def page(tmp_path: Path) -> Path:
    """Four practices: one as usual, one with an odd name, one broken, one never checked."""
    pages = [tmp_path / "fall" / name / "checked" / "practice.html" for name in ("a", "b #2 50%")]
    for each in pages:
        each.parent.mkdir(parents=True)
        each.write_text(f"<!doctype html><title>{each.parent.parent.name}</title>")
    habits = tmp_path / "fall" / "habits" / "habits.html"
    habits.parent.mkdir()
    habits.write_text("<!doctype html><title>habits</title>")
    calls = Counter({Call.FLAGGED: 112, Call.CLEAR: 31, Call.CANT_TELL: 7})
    lines = [
        PracticeLine("Tuesday", dt.date(2026, 9, 1), pages[0], calls, 3),
        PracticeLine(f"{LONG} <b>&</b>", dt.date(2026, 9, 8), pages[1], calls, 0),
        PracticeLine("Thursday", None, pages[0], calls, 0, "practice.toml: units is 'miles'."),
        PracticeLine("Friday", None, None, Counter(), 0, "There are no clips in friday."),
    ]
    return write_season_page(
        "Fall", "Harbor Point Herons", lines, ["x.mp4"], habits, tmp_path / "fall"
    )


def test_a_rep_that_has_left_its_page_is_not_counted(tmp_path: Path) -> None:
    practice = Practice(tmp_path, "Tuesday")
    with Record(tmp_path / "checked" / "record.sqlite", make=True) as record:
        for name in ("a.mp4", "b.mp4"):
            result = make_clip_result(tmp_path / name, kind="upright")
            record.save(practice, result)
            judge_clip(record, practice, result, DEFAULT_THRESHOLDS)
        assert practice_line(record, practice).calls == {Call.FLAGGED: 2}
        record.take_away(result.clip_digest)
        line = practice_line(record, practice)
    assert line.calls == {Call.FLAGGED: 1}
    assert line.not_measured == 0


@needs_browser
@pytest.mark.parametrize("open_page", [390, 1440], indirect=True)
def test_every_link_leads_somewhere(page: Path, open_page: Callable[[Path], Page]) -> None:
    shown = open_page(page)
    assert shown.locator("b", has_text="&").count() == 0  # no markup in names is obeyed
    titles = []
    for link in range(shown.locator("a").count()):
        shown.locator("a").nth(link).click()
        titles.append(shown.title())
        shown.go_back()
    assert titles == ["a", "b #2 50%", "a", "habits"]
    assert shown.locator("tfoot td").all_inner_texts() == ["450", "336", "93", "21", "3"]
    wide = shown.evaluate(
        "() => [document.scrollingElement.scrollWidth, document.scrollingElement.clientWidth]"
    )
    assert wide[0] == wide[1]
    table = shown.locator(".scroll")
    assert table.evaluate("box => box.scrollWidth <= box.clientWidth")


def test_it_loads_nothing_from_anywhere(page: Path) -> None:
    text = page.read_text("utf-8")
    assert "http" not in text.replace("http-equiv", "")
    assert "default-src 'none'; style-src 'sha256-" in text
    assert "<script" not in text
