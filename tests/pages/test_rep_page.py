"""The page of one rep: everything that is known of it, and the ways to the others."""

from __future__ import annotations

import json
import re
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from rep_views import views

from posecheck.pages.rep_page import write_rep_pages
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
