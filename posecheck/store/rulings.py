"""The coach's rulings and stars in the database: beside what was measured, and outliving it.

A clip that is measured again may be cut into reps a little otherwise, so a row holds from when to
when its rep lasted, and is shown with the rep of the clip that shares most of that time. One whose
rep is no longer there is kept, and shown again should the rep come back.

Every function is called inside :func:`posecheck.store.database.explained`, those that write inside
:func:`posecheck.store.database.transaction`.
"""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Iterator

from posecheck.judging.ruling import About, CoachRuling, Ruling
from posecheck.judging.verdict import Call
from posecheck.store.tuning import SAME_REP

RepKey = tuple[str, int]
"""Digest of the clip and number of the rep in it."""

_SAME_TIME = f"""
    min(reps.end_s, kept.end_s) - max(reps.start_s, kept.start_s)
    > {SAME_REP} * (max(reps.end_s, kept.end_s) - min(reps.start_s, kept.start_s))
"""
"""True for at most one rep of a clip, since reps do not overlap."""


def write_ruling(db: sqlite3.Connection, rep: sqlite3.Row, ruling: CoachRuling | None) -> None:
    """Keep a ruling in place of an earlier one on this rep; None takes that away.

    Args:
        db: the database.
        rep: its row of the table ``reps``.
        ruling: what the coach says.
    """
    _forget(db, "rulings", rep)
    if ruling is not None:
        # A rep that begins at the same moment and was twice as long is another one, whose ruling
        # nobody can see any more: this one takes its place.
        about = ruling.about
        db.execute(
            "INSERT OR REPLACE INTO rulings VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(rep[name] for name in ("clip_digest", "number", "start_s", "end_s")),
                *(ruling.ruling, ruling.instead, about.call, about.rule),
                *(about.thresholds_digest, _stored(ruling.at)),
            ),
        )


def write_star(db: sqlite3.Connection, rep: sqlite3.Row, at: dt.datetime | None) -> None:
    """Star a rep, or with None take the star away.

    Arguments as for :func:`write_ruling`.
    """
    _forget(db, "stars", rep)
    if at is not None:
        key = (rep[name] for name in ("clip_digest", "number", "start_s", "end_s"))
        db.execute("INSERT OR REPLACE INTO stars VALUES (?, ?, ?, ?, ?)", (*key, _stored(at)))


def read_rulings(db: sqlite3.Connection, folder: str | bytes) -> dict[RepKey, CoachRuling]:
    """The rulings on the reps that are there now, in order of file and time.

    Args:
        db: the database.
        folder: of the practice, as stored.
    """
    return {
        (row["clip_digest"], row["rep"]): CoachRuling(
            ruling=Ruling(row["ruling"]),
            about=About(Call(row["call"]), row["rule"], row["thresholds_digest"]),
            at=dt.datetime.fromisoformat(row["ruled_at"]),
            instead=row["instead"],
        )
        for row in _shown(db, "rulings", folder)
    }


def read_stars(db: sqlite3.Connection, folder: str | bytes) -> tuple[RepKey, ...]:
    """The starred reps that are there now; arguments and order as for :func:`read_rulings`."""
    return tuple((row["clip_digest"], row["rep"]) for row in _shown(db, "stars", folder))


def move_to_clip(db: sqlite3.Connection, clip_digest: str, to: str, later_s: float) -> None:
    """Make the rulings and stars on one clip those on another that shows the same.

    Args:
        db: the database.
        clip_digest: of the clip that has them.
        to: digest of the other.
        later_s: how much later everything happens in it.
    """
    for table in ("rulings", "stars"):
        db.execute(
            f"UPDATE OR REPLACE {table} SET clip_digest = ?, start_s = start_s + ?, "
            "end_s = end_s + ? WHERE clip_digest = ?",
            (to, later_s, later_s, clip_digest),
        )


def _shown(db: sqlite3.Connection, table: str, folder: str | bytes) -> Iterator[sqlite3.Row]:
    return db.execute(
        f"SELECT kept.*, reps.number AS rep FROM {table} AS kept "
        f"JOIN reps ON reps.clip_digest = kept.clip_digest AND {_SAME_TIME} "
        "JOIN clips ON clips.clip_digest = kept.clip_digest "
        "JOIN practices ON practices.id = practice_id "
        "WHERE folder = ? ORDER BY file COLLATE in_order, reps.number",
        (folder,),
    )


def _forget(db: sqlite3.Connection, table: str, rep: sqlite3.Row) -> None:
    db.execute(
        f"DELETE FROM {table} WHERE (clip_digest, number, start_s) IN "
        f"(SELECT kept.clip_digest, kept.number, kept.start_s FROM {table} AS kept "
        f"JOIN reps ON reps.clip_digest = kept.clip_digest AND {_SAME_TIME} WHERE reps.id = ?)",
        (rep["id"],),
    )


def _stored(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).isoformat()
