"""Look for words in everything that files hold: their names, their bytes, and what is compressed in
tables. What is not found here is not there to be read."""

from __future__ import annotations

import html
import json
import mmap
import re
import sqlite3
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from posecheck.files.names import RECORD_FILE


@dataclass(frozen=True)
class Searched:
    """What was looked through, and where a word still stands.

    Attributes:
        n_files: looked through.
        n_bytes: in them.
        found: files with a word in them, each once.
    """

    n_files: int
    n_bytes: int
    found: tuple[Path, ...]


def search(
    files: Iterable[Path],
    names: Iterable[str],
    marks: Iterable[str] = (),
    others: Iterable[str] = (),
) -> Searched:
    """Look for words in files, in every way that they are written in pages, tables and databases.

    Args:
        files: to look through.
        names: found where no letter stands right before or behind.
        marks: found wherever they stand, such as the beginning of a digest.
        others: names that may stay though one of ``names`` is part of them.

    Raises:
        OSError: a file cannot be read.
    """
    patterns = [_named(names, others), _marked(marks)]
    n_files = n_bytes = 0
    found = []
    for path in files:
        n_files += 1
        n_bytes += path.stat().st_size
        if any(_stands_in(each, part) for part in _parts(path) for each in patterns if each):
            found.append(path)
    return Searched(n_files, n_bytes, tuple(found))


def lines_with(path: Path, names: Iterable[str]) -> Iterator[tuple[int, str]]:
    """The lines of a text file in which one of the names stands, counted from 1."""
    pattern = _named(names, ())
    for number, line in enumerate(path.read_bytes().splitlines(), 1):
        if pattern and _stands_in(pattern, line):
            yield number, line.decode("utf-8", "replace").strip()


def _named(names: Iterable[str], others: Iterable[str]) -> re.Pattern[bytes] | None:
    """Whatever comes out as a group is one of the names and no part of another."""
    sought = {spelt for name in names for spelt in _spellings(name)}
    longer = {
        spelt
        for other in others
        for spelt in _spellings(other)
        if any(word in spelt and word != spelt for word in sought)
    }
    if not sought:
        return None
    # What may stay comes first, and uses up the name in it. Without a look at the letters beside it
    # an Ellis would be found in every film, whose encoder notes its "trellis".
    stays, goes = _one_of(sorted(longer)), _one_of(sorted(sought))
    either = b"(?:" + stays + b")|(" + goes + b")" if stays else b"(" + goes + b")"
    return re.compile(b"(?<![A-Za-z])(?:" + either + b")(?![A-Za-z])")


def _marked(marks: Iterable[str]) -> re.Pattern[bytes] | None:
    sought = sorted({mark.encode() for mark in marks})
    return re.compile(b"(" + _one_of(sought) + b")") if sought else None


def _one_of(words: Iterable[bytes]) -> bytes:
    return b"|".join(map(re.escape, words))


def _spellings(word: str) -> set[bytes]:
    """A word as UTF-8 and UTF-16, plain and as HTML, JSON and addresses write it."""
    written: set[bytes] = set()
    for form in ("NFC", "NFD"):
        text = unicodedata.normalize(form, word)
        escaped = html.escape(text)
        plain = {
            text,
            escaped,
            escaped.replace("&#x27;", "&#39;").replace("&quot;", "&#34;"),
            quote(text),
            json.dumps(text)[1:-1],
            json.dumps(text, ensure_ascii=False)[1:-1],
        }
        written |= {each.encode("utf-8", "surrogateescape") for each in plain}
        written.add(text.encode("utf-16-le", "surrogatepass"))
    return written


def _stands_in(pattern: re.Pattern[bytes], data: Any) -> bool:
    return any(match[1] is not None for match in pattern.finditer(data))


def _parts(path: Path) -> Iterator[Any]:
    """Everything there is to read of a file."""
    yield str(path.name).encode("utf-8", "surrogateescape")
    if path.stat().st_size:
        with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
            yield data
    if path.suffix == ".parquet":
        yield from _columns(path)
    elif path.name == RECORD_FILE:
        yield from _rows(path)


def _columns(path: Path) -> Iterator[bytes]:
    """The texts of a table, which lie compressed in its file."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        table = pq.read_table(pa.BufferReader(path.read_bytes()))
    except (pa.ArrowException, OSError):
        return  # damaged: its bytes are all there is
    yield repr(table.schema.metadata or {}).encode()
    for name, column in zip(table.column_names, table.columns, strict=True):
        if pa.types.is_string(column.type) or pa.types.is_large_string(column.type):
            texts = "\n".join(each for each in column.to_pylist() if each is not None)
            yield f"{name}\n{texts}".encode()


def _rows(path: Path) -> Iterator[bytes]:
    """The rows of a database, of which a long one lies in several places of its file."""
    try:
        db = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
        try:
            yield "\n".join(db.iterdump()).encode("utf-8", "surrogateescape")
        finally:
            db.close()
    except sqlite3.Error:
        return  # damaged: its bytes are all there is
