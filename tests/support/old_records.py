"""Records as earlier versions wrote them."""

from __future__ import annotations

import sqlite3
from pathlib import Path

_UNDONE = {
    # version: what takes a record of the next one back to it
    6: ("ALTER TABLE reps DROP COLUMN arrival_within_s",),
    5: ("ALTER TABLE reps DROP COLUMN expected_s",),
    4: ("ALTER TABLE clips DROP COLUMN spot",),
    3: (
        "ALTER TABLE clips DROP COLUMN away",
        "ALTER TABLE thresholds RENAME COLUMN content TO told",
        "DROP TABLE forgotten",
    ),
    2: ("DROP TABLE rulings", "DROP TABLE stars"),
    1: ("ALTER TABLE reps DROP COLUMN quality",),
}


def take_back(path: Path, version: int) -> None:
    """Make a record one of an earlier version."""
    with sqlite3.connect(path) as db:
        for before, statements in _UNDONE.items():
            if before >= version:
                for statement in statements:
                    db.execute(statement)
        db.execute(f"PRAGMA user_version = {version}")
    db.close()
