"""Clips that are forgotten: nothing of them stays in the database but a mark that tells their film
apart from others, and that nobody can read anything from who does not have the film."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from posecheck.files.digest import bytes_digest

_TABLES = ("rulings", "stars", "clips")
"""Those that go by the clip; what belongs to reps goes along with the clip."""


def mark_of(clip_digest: str) -> str:
    """What is kept of a forgotten clip."""
    return bytes_digest(f"forgotten {clip_digest}".encode())


def forget_rows(db: sqlite3.Connection, clip_digests: Iterable[str]) -> None:
    """Delete the rows of clips, and mark the clips as forgotten; inside a transaction.

    What the coach said of film that is not on record any more goes too: whom it shows is not known.
    """
    for digest in clip_digests:
        for table in _TABLES:
            db.execute(f"DELETE FROM {table} WHERE clip_digest = ?", (digest,))
        db.execute("INSERT OR IGNORE INTO forgotten VALUES (?)", (mark_of(digest),))
    for table in ("rulings", "stars"):
        db.execute(f"DELETE FROM {table} WHERE clip_digest NOT IN (SELECT clip_digest FROM clips)")


def scrub(db: sqlite3.Connection) -> None:
    """Write the whole file again, so that no byte of what was deleted is left in it."""
    db.execute("VACUUM")
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
