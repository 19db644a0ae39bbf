"""Many practices in one go, as typed: whole output, exit code, and whose results go where.

What is measured in a clip is made up, by the kind of rep that its name begins with.
"""

from __future__ import annotations

import functools
import json
import re
import sys
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest
from factories import KINDS, make_clip_result
from in_process import in_process

from posecheck.cli import commands as cli
from posecheck.cli import run
from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.season import season_code
from posecheck.errors import NothingToMeasure
from posecheck.files.digest import file_digest
from posecheck.measures.result import ClipResult
from posecheck.pipeline import batch
from posecheck.pipeline.provenance import provenance
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice
from posecheck.store.record import Record

Typed = Callable[..., tuple[int, str, str]]

WEEK = """
name = {name}
date = {date}
[[clips]]
file = "upright-1.mp4"
defender = 12
"""

ROSTER = """
name = "Fall season"
club = "Harbor Point Herons"
[[players]]
number = 12
name = "Robin Vale"
"""


def made_up(path: Path, practice: Practice, settings: Settings, reader: None) -> ClipResult:
    if path.name.startswith("nobody"):
        raise NothingToMeasure(path, "nobody closes out in it", "name only clips that show a rep")
    kind = next((kind for kind in KINDS if path.name.startswith(kind)), "breakdown")
    made = provenance(settings, practice, path)
    return make_clip_result(path, kind, clip_digest=file_digest(path), provenance=made)


def no_reader(settings: Settings) -> None:
    return None


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Typed:
    """Type a command; gives the exit code and what came out on both streams."""
    scripted = functools.partial(batch.check_clips, measure=made_up, open_reader=no_reader)
    monkeypatch.setattr(run, "check_clips", scripted)
    monkeypatch.setattr(batch, "worker_processes", in_process)
    monkeypatch.setattr(run, "pose_model_path", lambda variant, folder, reader: Path("pose.task"))
    monkeypatch.setattr("posecheck.pages.draw_tasks.drawing_of", lambda *_: None)

    def type_in(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["posecheck", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        out, err = capfd.readouterr()
        return ended.value.code or 0, out, err

    return type_in


def clip(path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"film of {path}")
    return path


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """Two weeks of an invented club with a roster that both share."""
    season = tmp_path / "fall"
    for number, names in enumerate([["upright-1", "breakdown-1"], ["upright-1", "nobody"]], 1):
        week = season / f"week-{number}"
        for name in names:
            clip(week / f"{name}.mp4")
        text = WEEK.format(name=json.dumps(f"Week {number}"), date=f"2026-09-0{number}")
        (week / "practice.toml").write_text(text)
    (season / "season.toml").write_text(ROSTER)
    return season


class Links(HTMLParser):
    def __init__(self, page: Path) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(page.read_text("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "a":
            self.found.append(dict(attrs)["href"] or "")


def rows(out: str) -> dict[str, list[str]]:
    """Counts of the last table by the name of the practice."""
    table = out[out.rindex("Practice ") :].splitlines()[1:]
    cells = [re.split(r"\s{2,}", line.strip()) for line in table]
    return {name: counts for name, *counts in cells if len(counts) == 5}


def test_a_season_is_checked_in_one_go(typed: Typed, season: Path) -> None:
    code, out, err = typed("check", season, "--jobs", "1")
    assert (code, err) == (3, "")  # one clip shows nobody
    lines = out.splitlines()
    # each by its own file, with the roster of the season
    assert f"Week 1  {season}/week-1" in lines
    assert any(line.startswith("upright-1.mp4  Robin Vale (12)  FLAGGED  ") for line in lines)
    heading = out[out.rindex("Practice ") :].splitlines()[0]
    assert re.split(r"\s{2,}", heading.strip()) == [
        *("Practice", "Reps", "FLAGGED", "clear", "can't tell", "not measured")
    ]
    assert rows(out) == {
        "Week 1": ["2", "1", "1", "0", "0"],
        "Week 2": ["1", "1", "0", "0", "1"],
        "all": ["3", "2", "1", "0", "1"],
    }
    for week in ("week-1", "week-2"):
        assert (season / week / "checked" / "practice.html").exists()
    page = season / "season.html"
    assert lines[-1] == f"The page of all: {page}"
    assert Links(page).found == [
        "week-1/checked/practice.html",
        "week-2/checked/practice.html",
    ]
    assert "Fall season" in page.read_text("utf-8")
    assert "../../season.html" in Links(season / "week-1" / "checked" / "practice.html").found
    # the next check measures nothing again
    again = typed("check", season)[1]
    assert again.count("measured before.") == 2


def test_the_habits_of_the_same_folder_are_linked(typed: Typed, season: Path) -> None:
    typed("check", season)
    code, out, _ = typed("habits", season)
    assert code == 0
    assert "2 practices from 2026-09-01 to 2026-09-02: 1 player, 3 reps." in out.splitlines()
    typed("check", season)
    page = season / "season.html"
    assert "habits/habits.html" in Links(page).found
    for link in Links(page).found:
        assert (page.parent / link).exists()


def test_a_broken_practice_costs_only_itself(typed: Typed, season: Path) -> None:
    typed("check", season)
    broken = season / "week-1" / "practice.toml"
    broken.write_text('units = "miles"')
    code, out, err = typed("check", season)
    sentence = f"{broken}: units is 'miles'; choose one of m, yd."
    assert (code, err) == (3, "")
    assert out.splitlines().count(sentence) == 1
    # what was measured before stays, and is called that
    assert rows(out) == {
        "week-1: not checked": ["2", "1", "1", "0", "0"],
        "Week 2": ["1", "1", "0", "0", "1"],
        "all": ["3", "2", "1", "0", "1"],
    }
    page = (season / "season.html").read_text("utf-8")
    assert "Not checked this time; the figures are those of last time." in page
    assert page.count("units is") == 1


def test_a_practice_whose_record_is_damaged_costs_only_itself(typed: Typed, season: Path) -> None:
    typed("check", season)
    (season / "week-1" / "checked" / "record.sqlite").write_text("not a database " * 99)
    code, out, err = typed("check", season)
    assert (code, err) == (1, "")
    assert rows(out)["Week 2"] == ["1", "1", "0", "0", "1"]
    assert "Week 1: not checked" in out


def test_practices_without_clips_and_clips_without_a_practice(typed: Typed, season: Path) -> None:
    for number in range(7):
        clip(season / f"loose-{number}.mp4")
    (season / "week-3").mkdir()
    (season / "week-3" / "practice.toml").touch()
    code, out, _ = typed("check", season)
    assert code == 3
    lines = out.splitlines()
    assert lines[0] == (
        "7 clips beside practices, in none of them, and so not measured: loose-0.mp4, loose-1.mp4, "
        "loose-2.mp4, loose-3.mp4, loose-4.mp4 and 2 more; move them into a practice's folder."
    )
    assert f"There are no clips in {season}/week-3." in lines
    assert rows(out)["week-3: not checked"] == ["0", "0", "0", "0", "0"]
    assert not (season / "week-3" / "checked").exists()
    page = (season / "season.html").read_text("utf-8")
    assert "7 clips beside practices" in page
    assert "loose-4.mp4 and 2 more" in page


def test_limits_of_a_season_and_of_a_practice(typed: Typed, season: Path) -> None:
    """A practice's own go before those of its season."""
    (season / "thresholds.toml").write_text("min_knee_bend_deg = 70")
    (season / "week-2" / "thresholds.toml").write_text("min_knee_bend_deg = 40")
    out = typed("check", season)[1]
    said = re.findall(r"Judged by your own limits \((.*?)\): (.*)", out)
    assert said == [
        ("thresholds.toml in the season's folder", "knee bend, at least 70°."),
        ("thresholds.toml in the practice's folder", "knee bend, at least 40°."),
    ]
    assert rows(out)["Week 1"] == ["2", "2", "0", "0", "0"]


def test_limits_that_are_wrong_for_all_are_said_once(typed: Typed, season: Path) -> None:
    limits = season / "limits.toml"
    limits.write_text("min_knee_bend_deg = 'deep'")
    for command in ("check", "check", "rejudge"):
        code, out, err = typed(command, season, "--thresholds", limits)
        assert (code, out) == (2, "")
        assert err == f"posecheck: {limits}: min_knee_bend_deg is 'deep'; " + (
            "give a number without quotes.\n"
        )
        if command == "check":
            limits.write_text("")
            typed("check", season)
            limits.write_text("min_knee_bend_deg = 'deep'")
    code, _, err = typed("check", season, "--usual", "--thresholds", limits)
    assert (code, err) == (
        2,
        "posecheck: --thresholds and --usual are both given; leave one out.\n",
    )


def test_practices_named_one_by_one(typed: Typed, season: Path) -> None:
    code, out, _ = typed("check", season / "week-2", season / "week-1" / "upright-1.mp4")
    assert code == 3
    assert rows(out) == {
        "Week 2": ["1", "1", "0", "0", "1"],
        "Week 1": ["1", "1", "0", "0", "0"],
        "all": ["2", "2", "0", "0", "1"],
    }
    assert not (season / "season.html").exists()


def test_results_elsewhere_keep_the_practices_apart(
    typed: Typed, season: Path, tmp_path: Path
) -> None:
    (season / "practice.toml").write_text('name = "Open gym"')
    clip(season / "breakdown-9.mp4")
    out_folder = tmp_path / "results"
    code, out, _ = typed("check", season, "--out", out_folder)
    assert code == 3
    assert rows(out)["Open gym"] == ["1", "0", "1", "0", "0"]
    assert sorted(Links(out_folder / "season.html").found) == [
        "checked/practice.html",
        "week-1/practice.html",
        "week-2/practice.html",
    ]
    assert not list(season.rglob("checked"))
    # and may be judged again from there
    limits = tmp_path / "limits.toml"
    limits.write_text("min_knee_bend_deg = 70")
    code, out, err = typed("rejudge", out_folder, "--thresholds", limits, "--keep")
    assert (code, err) == (0, "")
    assert out.splitlines()[-1] == f"The page of all: {out_folder}/season.html"
    assert rows(out)["all"] == ["4", "4", "0", "0", "1"]


def test_two_practices_do_not_share_a_folder_of_results(
    typed: Typed, season: Path, tmp_path: Path
) -> None:
    out_folder = tmp_path / "results"
    one, two = season / "week-1", season / "week-2"
    assert typed("check", one, "--out", out_folder)[0] == 0
    code, out, err = typed("check", two, "--out", out_folder)
    assert (code, out) == (2, "")
    assert err == (
        f"posecheck: {out_folder}: it holds the results of the practice in {one}; name another "
        "folder with --out.\n"
    )
    with Record(out_folder / "record.sqlite") as record:
        assert record.practice_folders() == (one,)
    # one that was moved is still the same
    moved = one.rename(season / "week-one")
    code, out, _ = typed("check", moved, "--out", out_folder)
    assert code == 0
    assert "2 clips measured before." in out.splitlines()


def test_a_season_is_judged_again(typed: Typed, season: Path) -> None:
    typed("check", season)
    limits = season / "limits.toml"
    limits.write_text("min_knee_bend_deg = 70")
    code, out, err = typed("rejudge", season, "--thresholds", limits)
    assert (code, err) == (0, "")
    assert re.findall(r"^(\d) of (\d) rep", out, re.MULTILINE) == [("1", "2"), ("0", "1")]
    assert "The page" not in out
    (season / "week-2" / "practice.toml").write_text('units = "miles"')
    code, out, _ = typed("rejudge", season, "--thresholds", limits, "--keep")
    assert code == 3
    assert f"{season}/week-2/practice.toml: units is 'miles'; choose one of m, yd." in out
    assert rows(out)["Week 1"] == ["2", "2", "0", "0", "0"]
    assert out.splitlines()[-1] == f"The page of all: {season}/season.html"


def test_ctrl_c_ends_the_season(
    typed: Typed, season: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    checked = run.check_clips

    def stopped(*args: object, **keywords: object) -> None:
        checked(*args, **keywords)
        raise KeyboardInterrupt

    monkeypatch.setattr(run, "check_clips", stopped)
    code, out, _ = typed("check", season, "--jobs", "1")
    assert code == 130
    assert out.count("Stopped: ") == 1
    assert not (season / "week-2" / "checked").exists()
    assert (season / "season.html").exists()


@pytest.mark.parametrize(
    ("codes", "code"),
    [
        ([0, 0], 0),
        ([0, 3], 3),
        ([0, 4], 3),
        ([0, 2], 3),
        ([2, 2], 2),
        ([4, 2], 4),
        ([4, 4], 4),
        ([3, 1], 1),
        ([1, 130], 130),
    ],
)
def test_the_exit_code_of_many(codes: list[int], code: int) -> None:
    assert season_code(codes) == ExitCode(code)
