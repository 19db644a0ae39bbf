"""``posecheck habits`` as typed: what it prints, what it writes, how it ends."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import numpy as np
import pytest
from seasons import ROSTER, Truth, write_season
from typer.testing import CliRunner, Result

from posecheck.cli.commands import app
from posecheck.errors import UsageError

FILES = [
    "habits-changes.csv",
    "habits-changes.parquet",
    "habits-sheet.html",
    "habits.csv",
    "habits.html",
    "habits.parquet",
]


def typed(*words: str | Path) -> Result:
    return CliRunner().invoke(app, ["habits", *map(str, words)])


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("season")
    truths = {player: Truth() for player in ROSTER[:4]}
    truths[ROSTER[0]] = Truth(
        last={"knee_bend_deg": -40, "hip_drop": -0.2}, upright=lambda practice: 0.0
    )
    write_season(folder, np.random.default_rng(1), truths, reps=4)
    return folder


def test_a_season_in_one_folder(season: Path) -> None:
    done = typed(season)
    assert done.exit_code == 0, done.output
    assert sorted(path.name for path in (season / "habits").iterdir()) == FILES
    assert "8 practices from 2026-09-01 to 2026-10-20: 4 players, 128 reps." in done.output
    assert f"The page: {season / 'habits' / 'habits.html'}" in done.output
    page = (season / "habits" / "habits.html").read_text("utf-8")
    assert "Theo Marsh (5)" in page and "Knee bend on 20 Oct: " in page
    # A second run finds no practice in what the first one wrote.
    assert typed(season).output == done.output


def test_practices_named_one_by_one_and_another_place(season: Path, tmp_path: Path) -> None:
    places = sorted(place for place in season.iterdir() if place.name[0].isdigit())[:3]
    done = typed(*places, "--out", tmp_path / "out", "--since", "2026-09-08")
    assert done.exit_code == 0, done.output
    assert "3 practices from 2026-09-01 to 2026-09-15" in done.output
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == FILES
    assert "Since 8 Sep" in (tmp_path / "out" / "habits.html").read_text("utf-8")


def test_a_wrong_folder_is_said_and_the_rest_goes_on(season: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    done = typed(tmp_path / "empty", tmp_path / "typo", season, "--out", tmp_path / "out")
    assert done.exit_code == 3
    assert "empty: nothing has been checked here; run posecheck check first" in done.output
    assert "typo: there is no such folder; check the name." in done.output
    assert (tmp_path / "out" / "habits.html").exists()


def test_nothing_usable_writes_nothing(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert typed(tmp_path / "empty").exit_code == 4
    assert [path.name for path in tmp_path.rglob("*")] == ["empty"]


def test_a_mistyped_folder_is_wrong_usage(tmp_path: Path) -> None:
    done = typed(tmp_path / "typo")
    assert isinstance(done.exception, UsageError)
    assert "typo: there is no such folder; check the name." in str(done.exception)


def test_a_date_is_a_date(season: Path) -> None:
    done = typed(season, "--since", "October")
    assert done.exit_code == 2


def test_all_reps_are_judged_as_the_latest_practice_is(season: Path, tmp_path: Path) -> None:
    """Its own thresholds.toml counts, and is said; nobody is upright below 1 degree."""
    copied = tmp_path / "season"
    shutil.copytree(season, copied, ignore=shutil.ignore_patterns("habits"))
    latest = max(place for place in copied.iterdir())
    (latest / "thresholds.toml").write_text("upright_knee_bend_deg = 1")
    shares = []
    for words in ([], ["--usual"]):
        done = typed(copied, *words)
        assert done.exit_code == 0, done.output
        with (copied / "habits" / "habits.csv").open(encoding="utf-8-sig") as file:
            rows = [row for row in csv.DictReader(file) if row["measure"] == "upright_share"]
        shares.append(max(float(row["value"]) for row in rows if row["value"]))
        own = "Judged by your own limits (thresholds.toml in the practice's folder): "
        said = "Judged by the usual limits." if words else own
        assert said in done.output
    assert shares[0] == 0 < shares[1]
