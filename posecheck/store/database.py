"""The SQLite file of a record: its tables, and errors with remedies when it cannot be used."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from posecheck.errors import RecordError
from posecheck.files.names import in_order, is_text
from posecheck.files.results_folder import APPLICATION_ID
from posecheck.store.tuning import PATIENCE_S

SCHEMA_VERSION = 7
"""Version of the tables below; older ones are brought up to it when they are opened.

Source: definition
"""

_COACH = """
CREATE TABLE rulings (
    clip_digest TEXT NOT NULL,          -- of no table: the coach's word outlives what was measured
    number INTEGER NOT NULL,
    start_s REAL NOT NULL,              -- with end_s, to know the rep again when measured again
    end_s REAL NOT NULL,
    ruling TEXT NOT NULL,
    instead TEXT,                       -- a rule's key or 'clean', NULL: the coach named none
    call TEXT NOT NULL,                 -- the machine's, which the ruling is about
    rule TEXT,                          -- its most serious flag, NULL: none
    thresholds_digest TEXT NOT NULL REFERENCES thresholds,
    ruled_at TEXT NOT NULL,             -- ISO 8601, UTC
    PRIMARY KEY (clip_digest, number, start_s)
) WITHOUT ROWID;
CREATE TABLE stars (
    clip_digest TEXT NOT NULL,
    number INTEGER NOT NULL,
    start_s REAL NOT NULL,
    end_s REAL NOT NULL,
    starred_at TEXT NOT NULL,           -- ISO 8601, UTC
    PRIMARY KEY (clip_digest, number, start_s)
) WITHOUT ROWID;
"""
"""What the coach says of reps; nothing that measures or judges writes here."""

_FORGOTTEN = """
CREATE TABLE forgotten (
    mark TEXT PRIMARY KEY               -- digest of a clip's digest: says nothing without the clip
) WITHOUT ROWID;
"""
"""Clips that were forgotten, so that film which still lies there is not measured again."""

_SCHEMA = (
    """
CREATE TABLE practices (
    id INTEGER PRIMARY KEY,
    folder TEXT NOT NULL UNIQUE         -- relative to the database where possible
);
CREATE TABLE clips (
    clip_digest TEXT PRIMARY KEY,
    practice_id INTEGER NOT NULL REFERENCES practices ON DELETE CASCADE,
    file TEXT NOT NULL,                 -- relative to the practice where possible
    width_px INTEGER NOT NULL,
    height_px INTEGER NOT NULL,
    n_frames INTEGER NOT NULL,
    duration_s REAL,                    -- NULL: not known
    rate_hz REAL,
    fault TEXT,                         -- NULL: measured
    version TEXT NOT NULL,
    model TEXT NOT NULL,
    model_digest TEXT NOT NULL,
    settings_digest TEXT NOT NULL,      -- '': the measuring did not come to its end
    away INTEGER NOT NULL DEFAULT 0,    -- 1: its film was taken away, and its pictures with it
    spot TEXT,                          -- by which sides were measured; '': none, NULL: not known
    UNIQUE (practice_id, file)
);
CREATE TABLE reps (
    id INTEGER PRIMARY KEY,
    clip_digest TEXT NOT NULL REFERENCES clips ON DELETE CASCADE,
    number INTEGER NOT NULL,
    start_s REAL NOT NULL,
    braking_s REAL,
    arrival_s REAL,
    end_s REAL NOT NULL,
    source TEXT,
    expected_s REAL,                    -- of an arrival that is not seen; NULL: not expected either
    film TEXT NOT NULL,                 -- JSON list of sentences
    roles TEXT NOT NULL,
    scale TEXT NOT NULL,
    on_field INTEGER NOT NULL,
    has_picture INTEGER NOT NULL,
    picture_scale REAL NOT NULL,
    picture_t_s REAL,
    quality TEXT NOT NULL DEFAULT '[]', -- JSON list: the film's aspects, graded
    arrival_within_s REAL,              -- half the 90 % interval of arrival; NULL: not known
    UNIQUE (clip_digest, number)
);
CREATE TABLE measures (
    rep_id INTEGER NOT NULL REFERENCES reps ON DELETE CASCADE,
    place INTEGER NOT NULL,
    key TEXT NOT NULL,
    value REAL,
    low REAL,
    high REAL,
    read_from TEXT NOT NULL,
    missing_because TEXT,
    PRIMARY KEY (rep_id, place)
) WITHOUT ROWID;
CREATE TABLE thresholds (
    digest TEXT PRIMARY KEY,
    content TEXT NOT NULL               -- JSON object of all thresholds
);
CREATE TABLE verdicts (
    rep_id INTEGER PRIMARY KEY REFERENCES reps ON DELETE CASCADE,
    thresholds_digest TEXT NOT NULL REFERENCES thresholds,
    call TEXT NOT NULL,
    headline TEXT NOT NULL
);
CREATE TABLE findings (
    rep_id INTEGER NOT NULL REFERENCES verdicts ON DELETE CASCADE,
    place INTEGER NOT NULL,
    rule TEXT NOT NULL,
    call TEXT NOT NULL,
    reason TEXT NOT NULL,
    fix TEXT NOT NULL,
    PRIMARY KEY (rep_id, place)
) WITHOUT ROWID;
"""
    + _COACH
    + _FORGOTTEN
)

_UPDATES = {
    1: "ALTER TABLE reps ADD COLUMN quality TEXT NOT NULL DEFAULT '[]'",
    2: _COACH,
    3: "ALTER TABLE clips ADD COLUMN away INTEGER NOT NULL DEFAULT 0;\n"
    "ALTER TABLE thresholds RENAME COLUMN told TO content;\n" + _FORGOTTEN,
    4: "ALTER TABLE clips ADD COLUMN spot TEXT",
    5: "ALTER TABLE reps ADD COLUMN expected_s REAL",
    6: "ALTER TABLE reps ADD COLUMN arrival_within_s REAL",
}
"""By version, what takes a record of that version to the next."""

_REMEDIES = {
    "SQLITE_BUSY": ("another program is writing to it", "wait for it to end, then try again"),
    "SQLITE_FULL": ("the disk is full", "free some space, then run the same command again"),
    "SQLITE_READONLY": ("it may not be written to", "change its permissions or use --out"),
    "SQLITE_CANTOPEN": ("it cannot be opened", "change the folder's permissions or use --out"),
    "SQLITE_NOTADB": ("this is no record of posecheck", "move it away or use --out"),
    "SQLITE_CORRUPT": ("it is damaged", "move it away and check the clips again"),
    "SQLITE_IOERR": ("the disk does not answer", "look at the disk, then try again"),
}


def open_database(path: Path, make: bool = False) -> sqlite3.Connection:
    """Open a record's database.

    Args:
        path: the file.
        make: make it, with its folder, when it is not there. Whatever only reads or adds to a
            record leaves this out: one that was moved away must not come back empty.

    Raises:
        RecordError: it is not there, cannot be opened, is somebody else's, or is from a newer
            posecheck.
    """
    if make:
        _make_folder(path.parent)
    elif not path.exists():
        raise RecordError(
            f"{path}: the record is not there any more; put it back, or run posecheck check again."
        )
    mode = "rwc" if make else "rw"
    with explained(path):
        # Transactions are begun by hand, so that none is begun behind our back.
        db = sqlite3.connect(
            f"file:{quote(os.fsencode(path))}?mode={mode}",
            uri=True,
            timeout=PATIENCE_S,
            isolation_level=None,
        )
        try:
            db.execute("PRAGMA foreign_keys = ON")
            db.create_collation("in_order", _compared)
            if make:
                _make_tables(db, path)
            _check(db, path)
        except BaseException:
            db.close()
            raise
    return db


def stored_name(name: str) -> str | bytes:
    """The name of a file as the database takes it: as text, or as the bytes that it is where those
    are no UTF-8. ``os.fsdecode`` gives it back."""
    return name if is_text(name) else os.fsencode(name)


def _compared(one: str, other: str) -> int:
    a, b = in_order(one), in_order(other)
    return (a > b) - (a < b)


@contextmanager
def transaction(db: sqlite3.Connection, path: Path) -> Iterator[None]:
    """All or nothing: what is written inside is kept only if the block ends well.

    Raises:
        RecordError: the database cannot be written.
    """
    with explained(path):
        db.execute("BEGIN IMMEDIATE")
        try:
            yield
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn SQLite's errors into a RecordError with a remedy."""
    try:
        yield
    except sqlite3.Error as error:
        # Extended codes carry their family's name in front: SQLITE_IOERR_WRITE.
        name = getattr(error, "sqlite_errorname", "")
        for family, (fault, remedy) in _REMEDIES.items():
            if name.startswith(family):
                raise RecordError(f"{path}: {fault}; {remedy}.") from error
        raise RecordError(f"{path}: {error}; move it away and check the clips again.") from error


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"{folder}: the folder cannot be made ({error.strerror}); change the permissions "
            "or use --out."
        ) from error


def _make_tables(db: sqlite3.Connection, path: Path) -> None:
    if _n_tables(db) == 0:
        with transaction(db, path):
            # Another run may have made the tables since.
            if _n_tables(db) == 0:
                _execute_all(db, _SCHEMA)
                db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                db.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")


def _n_tables(db: sqlite3.Connection) -> int:
    return int(db.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0])


def _check(db: sqlite3.Connection, path: Path) -> None:
    if _n_tables(db) == 0:
        fault, remedy = _REMEDIES["SQLITE_NOTADB"]
        raise RecordError(f"{path}: {fault}; {remedy}.")
    if db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise RecordError(
            f"{path}: this is a database of another program; move it away or use --out."
        )
    if _version(db) > SCHEMA_VERSION:
        raise RecordError(
            f"{path}: this record was made by a newer posecheck; update posecheck, or use --out."
        )
    if _version(db) < SCHEMA_VERSION:
        with transaction(db, path):
            # Another run may have updated it since.
            for version in range(_version(db), SCHEMA_VERSION):
                _execute_all(db, _UPDATES[version])
            db.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")


def _execute_all(db: sqlite3.Connection, statements: str) -> None:
    # Not executescript, which would end the transaction first.
    for statement in statements.split(";\n"):
        db.execute(statement)


def _version(db: sqlite3.Connection) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])
