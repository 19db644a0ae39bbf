"""Folders of results are known by what is in them, and nobody else's is written into."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from posecheck.errors import UsageError
from posecheck.files.results_folder import holds_results, place_for_results, to_be_named
from posecheck.store.record import Record


def test_a_record_makes_a_folder_of_results(tmp_path: Path) -> None:
    assert not holds_results(tmp_path)
    Record(tmp_path / "record.sqlite", make=True).close()
    assert holds_results(tmp_path)
    assert place_for_results(tmp_path) == tmp_path


def test_without_its_record_it_still_is_one(tmp_path: Path) -> None:
    (tmp_path / "series").mkdir()
    (tmp_path / "series/season.parquet").touch()
    assert not holds_results(tmp_path), "somebody else's table"
    (tmp_path / "series/227e203ce56b4dd4-fb6f97f273d0dc1d.parquet").touch()
    assert holds_results(tmp_path)
    assert place_for_results(tmp_path) == tmp_path


def test_a_database_of_somebody_else_makes_none(tmp_path: Path) -> None:
    db = sqlite3.connect(tmp_path / "record.sqlite")
    db.execute("CREATE TABLE cones (x)")
    db.commit()
    db.close()
    assert not holds_results(tmp_path)


def test_results_go_where_nothing_else_is(tmp_path: Path) -> None:
    assert place_for_results(tmp_path / "new") == tmp_path / "new"
    (tmp_path / ".DS_Store").touch()
    assert place_for_results(tmp_path) == tmp_path
    (tmp_path / "taxes.pdf").touch()
    with pytest.raises(UsageError) as caught:
        place_for_results(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path}: there are other files in this folder and no results of posecheck; name a new "
        "one with --out."
    )


def test_results_are_found_by_the_practice_unless_they_lie_elsewhere(tmp_path: Path) -> None:
    assert to_be_named(tmp_path, tmp_path / "checked") == tmp_path
    assert to_be_named(tmp_path, tmp_path / "other") == tmp_path / "other"
