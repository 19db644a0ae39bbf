"""Words are found however they are written, and nothing is found where they are not."""

from __future__ import annotations

import html
import json
import sqlite3
import unicodedata
from pathlib import Path
from urllib.parse import quote

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from posecheck.files.traces import lines_with, search

NAME = "Zoé O'Brien"

WAYS = {
    "as typed": NAME.encode(),
    "accent apart": unicodedata.normalize("NFD", NAME).encode(),
    "HTML": html.escape(NAME).encode(),
    "HTML of templates": NAME.replace("'", "&#39;").encode(),
    "JSON": json.dumps({"player": NAME}).encode(),
    "JSON with accents": json.dumps(NAME, ensure_ascii=False).encode(),
    "address": quote(f"players/{NAME}.html").encode(),
    "UTF-16": NAME.encode("utf-16-le"),
    "among others": b"\0\xff" + NAME.encode() + b"\xfe\0",
}


@pytest.mark.parametrize("way", WAYS)
def test_a_word_is_found_however_it_is_written(tmp_path: Path, way: str) -> None:
    path = tmp_path / "page.html"
    path.write_bytes(b"x " * 5000 + WAYS[way] + b" (14)")
    other = tmp_path / "empty"
    other.touch()
    searched = search([path, other], [NAME])
    assert searched.found == (path,)
    assert (searched.n_files, searched.n_bytes) == (2, path.stat().st_size)


def test_it_is_found_in_names_of_files(tmp_path: Path) -> None:
    path = tmp_path / f"{NAME}.mp4"
    path.touch()
    assert search([path], [NAME]).found == (path,)


def test_it_is_found_where_it_lies_compressed(tmp_path: Path) -> None:
    path = tmp_path / "habits.parquet"
    pq.write_table(pa.table({"player": [NAME, "Sam Birch"] * 500}), path, compression="zstd")
    assert search([path], [NAME]).found == (path,)
    assert search([path], ["Bo Lind"]).found == ()
    pq.write_table(pa.table({"n": [1]}).replace_schema_metadata({"roles": NAME}), path)
    assert search([path], [NAME]).found == (path,)


def test_it_is_found_in_a_row_that_lies_in_several_places_of_a_database(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE reps (words)")
    for begin in range(4050, 4100):  # a page of the file holds 4096 bytes
        db.execute("INSERT INTO reps VALUES (?)", ("x " * (begin // 2) + NAME,))
    db.commit()
    db.close()
    assert search([path], [NAME]).found == (path,)


def test_other_words_are_not_mistaken_for_it(tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    path.write_text("Ben Linden (3), trellis=1, Ben Li (4)")
    assert search([path], ["Ben Linde", "ellis"]).found == ()
    assert search([path], ["Ben Li"], others=["Ben Linden"]).found == (path,)
    path.write_text("Ben Li Ng (3)")
    assert search([path], ["Ben Li"], others=["Ben Li Ng"]).found == ()


def test_a_mark_is_found_inside_a_digest(tmp_path: Path) -> None:
    path = tmp_path / "227e203ce56b4dd4-fb6f97f273d0dc1d.parquet"
    path.touch()
    assert search([path], [], ["227e203c"]).found == (path,)
    assert search([path], [], ["e203ce57"]).found == ()
    assert search([path], [], []).found == ()


def test_lines_of_a_settings_file(tmp_path: Path) -> None:
    path = tmp_path / "practice.toml"
    path.write_text(f'# roster\nname = "{NAME}"\n\n  # {NAME} is left-handed\n', "utf-8")
    assert list(lines_with(path, [NAME])) == [
        (2, f'name = "{NAME}"'),
        (4, f"# {NAME} is left-handed"),
    ]
