"""Tables for other programs: every figure in them, and no cell that runs."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st
from seasons import ROSTER, Truth, made_up_season

from posecheck.habits.changes import changes
from posecheck.habits.exported import (
    CHANGE_COLUMNS,
    POINT_COLUMNS,
    change_rows,
    harmless,
    point_rows,
    write_csv,
    write_parquet,
)
from posecheck.habits.habit import habits
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.practice.roster import Player

HABITS = habits(DEFAULT_THRESHOLDS)
EVIL = Player(3, '=HYPERLINK("http://example.invalid","Zoë")')


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_one_row_a_player_date_and_habit(tmp_path: Path) -> None:
    season = made_up_season(np.random.default_rng(1), {each: Truth() for each in ROSTER[:3]})
    rows = point_rows(season, HABITS)
    write_csv(POINT_COLUMNS, rows, tmp_path / "a.csv")
    write_parquet(POINT_COLUMNS, rows, tmp_path / "a.parquet")
    table = pq.read_table(tmp_path / "a.parquet")
    assert table.num_rows == 3 * 8 * len(HABITS)
    keys = table.select(["player_number", "date", "measure"]).to_pylist()
    assert len({tuple(key.values()) for key in keys}) == table.num_rows
    assert table["date"].type == pa.date32() and table["value"].type == pa.float64()
    for text, row in zip(rows_of(tmp_path / "a.csv"), table.to_pylist(), strict=True):
        assert dt.date.fromisoformat(text["date"]) == row["date"]
        assert int(text["n"]) == row["n"] <= row["reps"]
        for name in ("value", "low", "high"):
            if row[name] is None:
                assert text[name] == "" and row["n"] == 0
            else:
                assert float(text[name]) == pytest.approx(row[name], rel=1e-5, abs=1e-9)
        if row["value"] is not None:
            assert row["low"] <= row["value"] <= row["high"]
    units = dict(zip(table["measure"].to_pylist(), table["unit"].to_pylist(), strict=True))
    assert units["knee_bend_deg"] == "deg" and units["peak_braking_mps2"] == "m/s2"
    assert units["upright_share"] == units["hip_drop"] == "1"


def test_differences_have_a_table_too_even_an_empty_one(tmp_path: Path) -> None:
    season = made_up_season(np.random.default_rng(1), {each: Truth() for each in ROSTER[:3]})
    found = changes(season, HABITS)
    for name, rows in (("full", change_rows(season, found)), ("empty", [])):
        write_csv(CHANGE_COLUMNS, rows, tmp_path / f"{name}.csv")
        write_parquet(CHANGE_COLUMNS, rows, tmp_path / f"{name}.parquet")
        table = pq.read_table(tmp_path / f"{name}.parquet")
        assert table.num_rows == len(rows) == len(rows_of(tmp_path / f"{name}.csv"))
        assert table.schema.names == list(CHANGE_COLUMNS)


def test_a_name_that_reads_like_a_formula_cannot_run(tmp_path: Path) -> None:
    """OWASP, CSV Injection: =, +, -, @, tab and carriage return begin a formula. Numbers stay
    numbers, minus signs and all, and Parquet holds the name as it is."""
    season = made_up_season(np.random.default_rng(1), {EVIL: Truth(last={"hip_drop": -0.5})})
    rows = point_rows(season, HABITS)
    write_csv(POINT_COLUMNS, rows, tmp_path / "a.csv")
    write_parquet(POINT_COLUMNS, rows, tmp_path / "a.parquet")
    text = rows_of(tmp_path / "a.csv")
    assert {row["player_name"] for row in text} == {f"'{EVIL.name}"}
    hips = [float(row["value"]) for row in text if row["measure"] == "hip_drop"]
    assert min(hips) < 0
    read = pyarrow.csv.read_csv(tmp_path / "a.csv")
    assert read["value"].type == pa.float64() and read["n"].type == pa.int64()
    assert set(pq.read_table(tmp_path / "a.parquet")["player_name"].to_pylist()) == {EVIL.name}


@given(st.text(max_size=8))
def test_no_text_begins_like_a_formula_and_other_text_stays(text: str) -> None:
    cell = harmless(text)
    dangerous = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
    assert not cell.startswith(dangerous)
    assert not cell.lstrip(" ").startswith(dangerous)
    assert cell in (text, f"'{text}")
    if text[:1].isalnum():
        assert cell == text


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", " =", "\uff1d"])
def test_each_start_of_a_formula(start: str) -> None:
    assert harmless(f"{start}1+2") == f"'{start}1+2"
