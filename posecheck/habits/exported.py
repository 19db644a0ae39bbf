"""Habits as tables for other programs: CSV and Parquet, one row a player, date and habit.

Figures are in SI units (angles in degrees), missing ones are empty. A spreadsheet runs a cell that
begins like a formula, so text that does is made harmless in the CSV, as the Open Worldwide
Application Security Project advises (OWASP, CSV Injection); Parquet holds it as it is.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any, BinaryIO

from posecheck.files.whole_file import write_whole
from posecheck.habits.changes import Change, Question
from posecheck.habits.dates import points
from posecheck.habits.habit import Habit
from posecheck.habits.season import PlayerId, Season
from posecheck.habits.tuning import DAYS_A_MONTH

Row = dict[str, Any]

POINT_COLUMNS = {
    "club": "string",
    "practice": "string",
    "date": "date32",
    "player_number": "int32",
    "player_name": "string",
    "measure": "string",
    "unit": "string",
    "value": "double",
    "low": "double",
    "high": "double",
    "n": "int32",
    "reps": "int32",
    "comparable": "bool",
    "version": "string",
    "model": "string",
}
"""Of the table of habits by date, with their types."""

CHANGE_COLUMNS = {
    "player_number": "int32",
    "player_name": "string",
    "measure": "string",
    "unit": "string",
    "question": "string",
    "per_days": "double",
    "difference": "double",
    "low": "double",
    "high": "double",
    "least_that_shows": "double",
    "n_first": "int32",
    "n_second": "int32",
    "p": "double",
    "p_adjusted": "double",
    "called": "bool",
    "worth_a_look": "bool",
}
"""Of the table of differences."""

_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""The last four are the wide forms of the first."""


def point_rows(season: Season, habits: Sequence[Habit]) -> list[Row]:
    """One row a player, practice and habit."""
    return [
        {
            "club": point.practice.described.club,
            "practice": point.practice.described.name,
            "date": point.practice.date,
            **_of_player(who, name),
            "measure": habit.key,
            "unit": habit.unit,
            "value": point.value,
            "low": point.low,
            "high": point.high,
            "n": point.seen,
            "reps": point.reps,
            "comparable": point.comparable,
            "version": " / ".join(sorted(made.version for made in point.practice.made)),
            "model": " / ".join(sorted(made.model for made in point.practice.made)),
        }
        for who, name in season.names.items()
        for habit in habits
        for point in points(season, who, habit)
    ]


def change_rows(season: Season, changes: Sequence[Change]) -> list[Row]:
    """One row for every question that could be answered."""
    names = season.names
    return [
        {
            **_of_player(change.who, names[change.who]),
            "measure": change.habit.key,
            "unit": change.habit.unit,
            "question": change.question.value,
            "per_days": DAYS_A_MONTH if change.question is Question.TREND else None,
            "difference": change.difference,
            "low": change.low,
            "high": change.high,
            "least_that_shows": change.least,
            "n_first": change.n[0],
            "n_second": None if change.question is Question.TREND else change.n[1],
            "p": change.p,
            "p_adjusted": change.adjusted,
            "called": change.called,
            "worth_a_look": change.worth_a_look,
        }
        for change in changes
    ]


def _of_player(who: PlayerId, name: str) -> Row:
    return {"player_number": who.number, "player_name": name}


def write_csv(columns: Mapping[str, str], rows: Sequence[Row], path: Path) -> None:
    """Write rows as CSV: UTF-8 with the mark by which spreadsheets know it, six digits.

    Raises:
        RecordError: it cannot be written.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_cell(row[name]) for name in columns])
    write_whole(path, lambda file: file.write(text.getvalue().encode("utf-8-sig")))


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:.6g}"
    if value is None or isinstance(value, int):
        return value
    return harmless(str(value))


def harmless(text: str) -> str:
    """Text that no spreadsheet takes for a formula, also behind spaces."""
    return f"'{text}" if text.lstrip(" \N{NO-BREAK SPACE}").startswith(_STARTS_A_FORMULA) else text


def write_parquet(columns: Mapping[str, str], rows: Sequence[Row], path: Path) -> None:
    """Write rows as Parquet.

    Raises:
        RecordError: it cannot be written.
    """
    import pyarrow as pa

    schema = pa.schema([(name, pa.type_for_alias(kind)) for name, kind in columns.items()])
    table = pa.Table.from_pylist(list(rows), schema)
    write_whole(path, partial(_write_table, table))


def _write_table(table: Any, file: BinaryIO) -> None:
    import pyarrow.parquet as pq

    pq.write_table(table, file, compression="zstd")
