"""The record of what has been measured and judged.

An output folder holds::

    record.sqlite         practices, clips, reps, measures, verdicts; the coach's rulings and stars
    keypoints/*.parquet   landmarks, one file per clip, written by the measuring itself
    series/*.parquet      every rep over time, one file per clip
    pictures/*.jpg        the arrival of every rep
    practice.html         the page, with annotated clips in clips/

Files are written before the database row that refers to them, so a killed run leaves at most a
file that no row refers to. A clip is known by its content, so it may be renamed; measuring it
again under other settings takes the place of what was there, and so does another film under its
name.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import os
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import BinaryIO, Self

from posecheck.errors import RecordError
from posecheck.files.names import PICTURES_FOLDER, SERIES_FOLDER
from posecheck.files.whole_file import write_whole
from posecheck.filming.quality import NOT_GRADED, FilmQuality
from posecheck.judging.ruling import About, CoachRuling, Ruling
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, Finding, Verdict
from posecheck.measures.measure import Measure
from posecheck.measures.quantities import QUANTITIES
from posecheck.measures.result import ClipResult, Provenance, RepResult
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.printable import printable
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.store.database import explained, open_database, stored_name, transaction
from posecheck.store.earlier_film import earlier_name
from posecheck.store.files_of_clip import files_of, pictures_of
from posecheck.store.film_quality import quality_from_json, quality_to_json
from posecheck.store.forgetting import forget_rows, mark_of, scrub
from posecheck.store.rulings import (
    RepKey,
    move_to_clip,
    read_rulings,
    read_stars,
    write_ruling,
    write_star,
)
from posecheck.store.series import read_series, write_series


@dataclass(frozen=True)
class MeasuredRep:
    """A rep as judging needs it, read without touching its series.

    Attributes:
        clip: the file.
        clip_digest: SHA-256 of its content.
        number: of the rep within the clip.
        measures: by key.
        verdict: as last written, None when never judged.
        quality: how good the film of the rep is.
    """

    clip: Path
    clip_digest: str
    number: int
    measures: dict[str, Measure]
    verdict: Verdict | None
    quality: FilmQuality = NOT_GRADED


class Record:
    """The record in one output folder; use as a context manager or close it.

    Args:
        path: the database file.
        make: make it, with its folder, when it is not there.

    Raises:
        RecordError: from every method, when the database or a file beside it cannot be used.
    """

    def __init__(self, path: Path, make: bool = False) -> None:
        self.path = path
        self.folder = path.parent.resolve()
        self._db = open_database(path, make)
        self._db.row_factory = sqlite3.Row

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._db.close()

    # -- clips ---------------------------------------------------------------------------------

    def has(self, clip_digest: str, settings_digest: str) -> bool:
        """True when the clip has been measured to its end with these settings, and every file of
        that is still there."""
        rows = self._rows(
            "SELECT number, has_picture FROM clips LEFT JOIN reps USING (clip_digest) "
            "WHERE clip_digest = ? AND settings_digest = ?",
            clip_digest,
            settings_digest,
        )
        stem = _stem(clip_digest, settings_digest)
        pictures = [self._picture_path(stem, row["number"]) for row in rows if row["has_picture"]]
        return bool(rows) and all(path.exists() for path in (self._series_path(stem), *pictures))

    def measured_as(self, practice: Practice, clip: Path) -> str | None:
        """Digest of the film that was measured to its end under a clip's name; None when none
        was."""
        rows = self._rows(
            "SELECT clip_digest FROM clips JOIN practices ON id = practice_id "
            "WHERE folder = ? AND file = ? AND settings_digest != ''",
            self._stored_folder(practice.folder),
            _stored_file(practice, clip),
        )
        return rows[0]["clip_digest"] if rows else None

    def save(self, practice: Practice, result: ClipResult) -> None:
        """Keep a clip's result, in place of any earlier one of this content or this file.

        Of other content that the file held before, every file goes with its row.
        """
        stem = _stem(result.clip_digest, result.provenance.settings_digest)
        write_series(self._series_path(stem), {rep.number: rep.series for rep in result.reps})
        pictures = {
            self._picture_path(stem, rep.number): rep.picture
            for rep in result.reps
            if rep.picture is not None
        }
        for path, picture in pictures.items():
            write_whole(path, partial(_write_bytes, picture))
        with transaction(self._db, self.path):
            practice_id, file = self._place(practice, result.path)
            replaced = self._db.execute(
                "DELETE FROM clips WHERE clip_digest = ? OR (practice_id = ? AND file = ?) "
                "RETURNING clip_digest, settings_digest",
                (result.clip_digest, practice_id, file),
            ).fetchall()
            spot = practice.notes_for(result.path).spot or ""
            self._insert_clip(practice_id, file, spot, result)
        keep = {self._series_path(stem), *pictures}
        for row in replaced:
            if row["clip_digest"] == result.clip_digest:
                self._remove_files(_stem(row["clip_digest"], row["settings_digest"]), keep)
            else:
                # Nothing on record leads to them any more, and they show somebody.
                _remove(files_of(self.folder, row["clip_digest"]))

    def moved(self, practice: Practice, clip_digest: str, clip: Path) -> None:
        """Note under which name a clip that is on record is found now, and that it is there."""
        self.claim_names(practice, {clip_digest: clip})
        with transaction(self._db, self.path):
            self._db.execute("UPDATE clips SET away = 0 WHERE clip_digest = ?", (clip_digest,))

    def claim_names(self, practice: Practice, found: Mapping[str, Path]) -> None:
        """Note under which names clips are found now: all at once, since names may go round.

        A clip whose name another has now, and that is not among those found, is taken away: its
        measures stay, under a name that says so.

        Args:
            practice: they belong to.
            found: by digest; those that are not on record count for nothing.
        """
        moving: dict[str, tuple[int, str | bytes]] = {}
        taken_away, replaced = [], []
        with transaction(self._db, self.path):
            for digest, clip in found.items():
                for row in self._rows("SELECT * FROM clips WHERE clip_digest = ?", digest):
                    place = self._place(practice, clip)
                    if (row["practice_id"], row["file"]) != place:
                        moving[digest] = place
                        self._let_go_of_name(row)
            for digest, place in moving.items():
                holders = self._rows(
                    "SELECT * FROM clips WHERE practice_id = ? AND file = ?", *place
                )
                for row in holders:
                    held_by = row["clip_digest"]
                    if row["fault"] is None:
                        self._let_go_of_name(row)
                        sql = "UPDATE clips SET away = 1 WHERE clip_digest = ?"
                        taken_away.append(held_by)
                    else:
                        sql = "DELETE FROM clips WHERE clip_digest = ?"
                        replaced.append(held_by)
                    self._db.execute(sql, (held_by,))
                self._db.execute(
                    "UPDATE clips SET practice_id = ?, file = ? WHERE clip_digest = ?",
                    (*place, digest),
                )
        for digest in taken_away:
            _remove(pictures_of(self.folder, digest))
        for digest in replaced:
            _remove(files_of(self.folder, digest))

    def forget(self, clip_digests: Collection[str]) -> None:
        """Delete all rows of clips, the coach's own marks too, so that no byte of them is left.

        Their files are not touched, see :func:`posecheck.store.files_of_clip.files_of`.
        """
        with explained(self.path):
            self._db.execute("PRAGMA secure_delete = ON")
        with transaction(self._db, self.path):
            forget_rows(self._db, clip_digests)
        with explained(self.path):
            scrub(self._db)

    def is_forgotten(self, clip_digest: str) -> bool:
        """Whether a clip was forgotten, and so is not to be measured."""
        return bool(self._rows("SELECT 1 FROM forgotten WHERE mark = ?", mark_of(clip_digest)))

    def measure_again(self, clip_digest: str) -> bool:
        """Take back that a clip was forgotten; False when it was not."""
        with transaction(self._db, self.path):
            taken_back = self._db.execute(
                "DELETE FROM forgotten WHERE mark = ?", (mark_of(clip_digest),)
            )
        return taken_back.rowcount > 0

    def load(self, clip_digest: str) -> ClipResult:
        """The result of one clip, as it was saved."""
        return self._result(self._clip_row(clip_digest))

    def results(self, practice: Practice) -> Iterator[ClipResult]:
        """The results of a practice's clips, in order of file name, without those that were taken
        away."""
        for _, digest in self.clips(practice, taken_away=False):
            yield self.load(digest)

    def outline(self, clip_digest: str) -> ClipResult:
        """The result of one clip without its reps: of no file but the database."""
        return self._outline(self._clip_row(clip_digest))

    def clips(self, practice: Practice, *, taken_away: bool = True) -> list[tuple[Path, str]]:
        """Path and digest of a practice's clips, in order of file name.

        Args:
            practice: whose clips.
            taken_away: also those whose film was taken away.
        """
        rows = self._rows(
            "SELECT clip_digest, file, folder, away FROM clips "
            "JOIN practices ON id = practice_id "
            "WHERE folder = ? ORDER BY file COLLATE in_order",
            self._stored_folder(practice.folder),
        )
        return [
            (self._clip_path(row), row["clip_digest"])
            for row in rows
            if taken_away or not row["away"]
        ]

    def digests(self) -> frozenset[str]:
        """Of every clip on record, whatever its practice."""
        return frozenset(row["clip_digest"] for row in self._rows("SELECT clip_digest FROM clips"))

    def take_away(self, clip_digest: str) -> None:
        """Note that a clip's film is gone: its pictures go too, its measures stay.

        It comes back when it is measured again.
        """
        row = self._clip_row(clip_digest)
        with transaction(self._db, self.path):
            self._db.execute("UPDATE clips SET away = 1 WHERE clip_digest = ?", (clip_digest,))
        stem = _stem(clip_digest, row["settings_digest"])
        self._remove_files(stem, keep={self._series_path(stem)})

    def replace_clip(self, clip_digest: str, by: str, later_s: float) -> None:
        """Take a clip off the record that another stands in place of; that one gets the coach's
        rulings and stars.

        Files are not touched, see :func:`posecheck.store.files_of_clip.files_of`.

        Args:
            clip_digest: of the clip that goes.
            by: digest of the other, which may not be measured yet.
            later_s: how much later everything happens in that one.
        """
        with transaction(self._db, self.path):
            move_to_clip(self._db, clip_digest, by, later_s)
            self._db.execute("DELETE FROM clips WHERE clip_digest = ?", (clip_digest,))

    def provenances(self, practice: Practice) -> dict[str, Provenance]:
        """How a practice's clips were measured, by clip digest."""
        rows = self._rows(
            "SELECT clip_digest, version, model, model_digest, settings_digest FROM clips "
            "JOIN practices ON id = practice_id WHERE folder = ?",
            self._stored_folder(practice.folder),
        )
        return {row["clip_digest"]: Provenance(*tuple(row)[1:]) for row in rows}

    def practice_folders(self) -> tuple[Path, ...]:
        """The folders of the practices on record."""
        rows = self._rows("SELECT folder FROM practices ORDER BY id")
        return tuple(self._real_folder(row["folder"]) for row in rows)

    def spot(self, clip_digest: str) -> str | None:
        """The spot by which a clip's sides stand on record, empty for none; None when not known."""
        spot: str | None = self._clip_row(clip_digest)["spot"]
        return spot

    def set_spot(self, clip_digest: str, spot: str, turned: bool = False) -> None:
        """Note by which spot a clip's sides stand on record.

        Args:
            clip_digest: of the clip.
            spot: empty for none.
            turned: give every measure that has a side the other sign. Positive is topside, and
                where that lies depends on the spot: one on the other half of the field turns what
                was measured, and nothing else.
        """
        keys = [quantity.key for quantity in QUANTITIES if quantity.sided]
        marks = ", ".join("?" * len(keys))
        with transaction(self._db, self.path):
            self._db.execute("UPDATE clips SET spot = ? WHERE clip_digest = ?", (spot, clip_digest))
            if turned:
                self._db.execute(
                    "UPDATE measures SET value = -value, low = -high, high = -low "
                    f"WHERE key IN ({marks}) AND rep_id IN "
                    "(SELECT id FROM reps WHERE clip_digest = ?)",
                    (*keys, clip_digest),
                )

    def practices(self) -> list[Practice]:
        """The practices on record as they are described now, each knowing its clips.

        Raises:
            SettingsError: a file that describes one cannot be used.
        """
        read = map(read_practice, self.practice_folders())
        return [one.with_clips(path for path, _ in self.clips(one)) for one in read]

    # -- judging -------------------------------------------------------------------------------

    def measured_reps(self, practice: Practice) -> list[MeasuredRep]:
        """Every rep of a practice with its measures and its verdict, in order of file and time."""
        rows = self._rows(
            "SELECT reps.id, reps.number, quality, clips.clip_digest, file, folder FROM reps "
            "JOIN clips USING (clip_digest) JOIN practices ON practices.id = practice_id "
            "WHERE folder = ? ORDER BY file COLLATE in_order, number",
            self._stored_folder(practice.folder),
        )
        return [
            MeasuredRep(
                clip=self._clip_path(row),
                clip_digest=row["clip_digest"],
                number=row["number"],
                measures=self._measures(row["id"]),
                verdict=self._verdict(row["id"]),
                quality=quality_from_json(row["quality"]),
            )
            for row in rows
        ]

    def save_verdicts(
        self, verdicts: Mapping[tuple[str, int], Verdict], thresholds: Thresholds
    ) -> None:
        """Keep verdicts in place of earlier ones; measures are not touched.

        Args:
            verdicts: by clip digest and rep number.
            thresholds: those they were judged with.
        """
        digest, content = thresholds.digest(), json.dumps(asdict(thresholds))
        with transaction(self._db, self.path):
            self._db.execute("INSERT OR IGNORE INTO thresholds VALUES (?, ?)", (digest, content))
            for (clip_digest, number), verdict in verdicts.items():
                row = self._rep(clip_digest, number)
                self._db.execute("DELETE FROM verdicts WHERE rep_id = ?", (row["id"],))
                self._db.execute(
                    "INSERT INTO verdicts VALUES (?, ?, ?, ?)",
                    (row["id"], digest, verdict.call, verdict.headline),
                )
                self._db.executemany(
                    "INSERT INTO findings VALUES (?, ?, ?, ?, ?, ?)",
                    [
                        (row["id"], place, each.rule, each.call, each.reason, each.fix)
                        for place, each in enumerate(verdict.findings)
                    ],
                )

    def verdicts(self, clip_digest: str) -> dict[int, Verdict]:
        """The verdicts of a clip's reps as last written, by rep number."""
        rows = self._rows(
            "SELECT id, number FROM reps JOIN verdicts ON rep_id = id "
            "WHERE clip_digest = ? ORDER BY number",
            clip_digest,
        )
        return {
            row["number"]: verdict
            for row in rows
            if (verdict := self._verdict(row["id"])) is not None
        }

    def thresholds(self, clip_digest: str) -> Thresholds | None:
        """The thresholds a clip's reps were last judged with, None when never judged."""
        rows = self._rows(
            "SELECT content FROM reps JOIN verdicts ON rep_id = id "
            "JOIN thresholds ON digest = thresholds_digest WHERE clip_digest = ? LIMIT 1",
            clip_digest,
        )
        return Thresholds(**json.loads(rows[0]["content"])) if rows else None

    def last_thresholds(self, practice: Practice) -> Thresholds | None:
        """The thresholds a practice was last judged with, None when never judged."""
        rows = self._rows(
            "SELECT content FROM verdicts JOIN reps ON reps.id = rep_id "
            "JOIN clips USING (clip_digest) JOIN practices ON practices.id = practice_id "
            "JOIN thresholds ON digest = thresholds_digest WHERE folder = ? "
            "ORDER BY rep_id DESC LIMIT 1",
            self._stored_folder(practice.folder),
        )
        return Thresholds(**json.loads(rows[0]["content"])) if rows else None

    # -- the coach -----------------------------------------------------------------------------

    def rule(
        self,
        clip_digest: str,
        number: int,
        ruling: Ruling,
        instead: str | None = None,
        at: dt.datetime | None = None,
    ) -> CoachRuling:
        """Keep what the coach says of the call made of a rep, in place of what he said before.

        The call itself is not touched, and judging again does not touch the ruling.

        Args:
            clip_digest, number: which rep.
            ruling: right, wrong or undecided.
            instead: the call he would make, as in :class:`~posecheck.judging.ruling.CoachRuling`.
            at: when, now by default.

        Raises:
            ValueError: ``instead`` is no call, or the ruling is not that the call is wrong.
            RecordError: also when no call has been made of the rep.
        """
        with transaction(self._db, self.path):
            row = self._rep(clip_digest, number)
            verdict = self._verdict(row["id"])
            if verdict is None:
                raise RecordError(
                    f"{self.path}: rep {number} of clip {clip_digest[:12]} is not judged yet; "
                    "check it first."
                )
            (judged,) = self._rows(
                "SELECT thresholds_digest FROM verdicts WHERE rep_id = ?", row["id"]
            )
            about = About.of(verdict, judged["thresholds_digest"])
            kept = CoachRuling(ruling, about, at or dt.datetime.now(dt.UTC), instead)
            write_ruling(self._db, row, kept)
        return kept

    def unrule(self, clip_digest: str, number: int) -> None:
        """Take the coach's ruling on a rep away, if there is one."""
        with transaction(self._db, self.path):
            write_ruling(self._db, self._rep(clip_digest, number), None)

    def rulings(self, practice: Practice) -> dict[RepKey, CoachRuling]:
        """The coach's rulings by clip digest and rep number, in order of file and time.

        Only of reps that are there now; see :mod:`posecheck.store.rulings`.
        """
        with explained(self.path):
            return read_rulings(self._db, self._stored_folder(practice.folder))

    def star(self, clip_digest: str, number: int, at: dt.datetime | None = None) -> None:
        """Star a rep, now or at a time stated."""
        with transaction(self._db, self.path):
            row = self._rep(clip_digest, number)
            write_star(self._db, row, at or dt.datetime.now(dt.UTC))

    def unstar(self, clip_digest: str, number: int) -> None:
        """Take a rep's star away, if there is one."""
        with transaction(self._db, self.path):
            write_star(self._db, self._rep(clip_digest, number), None)

    def stars(self, practice: Practice) -> tuple[RepKey, ...]:
        """Clip digest and number of each starred rep, in order of file and time."""
        with explained(self.path):
            return read_stars(self._db, self._stored_folder(practice.folder))

    # -- rows ----------------------------------------------------------------------------------

    def _clip_row(self, clip_digest: str) -> sqlite3.Row:
        rows = self._rows(
            "SELECT clips.*, folder FROM clips JOIN practices ON id = practice_id "
            "WHERE clip_digest = ?",
            clip_digest,
        )
        if not rows:
            raise RecordError(
                f"{self.path}: clip {clip_digest[:12]} is not on record; check it first."
            )
        return rows[0]

    def _rep(self, clip_digest: str, number: int) -> sqlite3.Row:
        rows = self._rows(
            "SELECT * FROM reps WHERE clip_digest = ? AND number = ?", clip_digest, number
        )
        if not rows:
            raise RecordError(
                f"{self.path}: rep {number} of clip {clip_digest[:12]} is not on record; "
                "check it first."
            )
        return rows[0]

    def _rows(self, sql: str, *values: object) -> list[sqlite3.Row]:
        with explained(self.path):
            return self._db.execute(sql, values).fetchall()

    def _place(self, practice: Practice, clip: Path) -> tuple[int, str | bytes]:
        """Row of the practice, and the clip's file name in it."""
        stored = self._stored_folder(practice.folder)
        self._db.execute("INSERT OR IGNORE INTO practices (folder) VALUES (?)", (stored,))
        row = self._db.execute("SELECT id FROM practices WHERE folder = ?", (stored,)).fetchone()
        return int(row["id"]), _stored_file(practice, clip)

    def _let_go_of_name(self, row: sqlite3.Row) -> None:
        digest = row["clip_digest"]
        file = stored_name(earlier_name(os.fsdecode(row["file"]), digest))
        self._db.execute("UPDATE clips SET file = ? WHERE clip_digest = ?", (file, digest))

    def _stored_folder(self, folder: Path) -> str | bytes:
        # Relative, so that a practice folder with the record in it may be moved as a whole.
        try:
            return stored_name(Path(os.path.relpath(folder, self.folder)).as_posix())
        except ValueError:  # on another drive
            return stored_name(folder.as_posix())

    def _real_folder(self, stored: str | bytes) -> Path:
        return (self.folder / os.fsdecode(stored)).resolve()

    def _clip_path(self, row: sqlite3.Row) -> Path:
        return self._real_folder(row["folder"]) / os.fsdecode(row["file"])

    def _insert_clip(
        self, practice_id: int, file: str | bytes, spot: str, result: ClipResult
    ) -> None:
        made = result.provenance
        self._insert(
            "clips",
            clip_digest=result.clip_digest,
            practice_id=practice_id,
            file=file,
            width_px=result.width_px,
            height_px=result.height_px,
            n_frames=result.n_frames,
            duration_s=result.duration_s,
            rate_hz=result.rate_hz,
            fault=None if result.fault is None else printable(result.fault),
            version=made.version,
            model=made.model,
            model_digest=made.model_digest,
            settings_digest=made.settings_digest,
            spot=spot,
        )
        for rep in result.reps:
            rep_id = self._insert(
                "reps",
                clip_digest=result.clip_digest,
                number=rep.number,
                start_s=rep.rep.start_s,
                braking_s=rep.rep.braking_s,
                arrival_s=rep.rep.arrival_s,
                end_s=rep.rep.end_s,
                source=rep.rep.source,
                expected_s=rep.rep.expected_s,
                film=json.dumps(rep.film),
                roles=rep.roles,
                scale=rep.scale,
                on_field=rep.on_field,
                has_picture=rep.picture is not None,
                picture_scale=rep.picture_scale,
                picture_t_s=rep.picture_t_s,
                quality=quality_to_json(rep.quality),
                arrival_within_s=rep.arrival_within_s,
            )
            for place, measure in enumerate(rep.measures.values()):
                self._insert("measures", rep_id=rep_id, place=place, **vars(measure))

    def _insert(self, table: str, **values: object) -> int:
        marks = ", ".join("?" * len(values))
        sql = f"INSERT INTO {table} ({', '.join(values)}) VALUES ({marks})"
        return self._db.execute(sql, tuple(values.values())).lastrowid or 0

    def _result(self, row: sqlite3.Row) -> ClipResult:
        digest = row["clip_digest"]
        reps = self._rows("SELECT * FROM reps WHERE clip_digest = ? ORDER BY number", digest)
        numbers = tuple(rep["number"] for rep in reps)
        stem = _stem(digest, row["settings_digest"])
        series = read_series(self._series_path(stem), numbers)

        def has_picture(rep: sqlite3.Row) -> bool:
            return bool(rep["has_picture"] and not row["away"])

        def rep_result(rep: sqlite3.Row) -> RepResult:
            source = rep["source"]
            number = rep["number"]
            return RepResult(
                number=number,
                rep=Rep(
                    rep["start_s"],
                    rep["braking_s"],
                    rep["arrival_s"],
                    rep["end_s"],
                    None if source is None else ArrivalSource(source),
                    rep["expected_s"],
                ),
                measures=self._measures(rep["id"]),
                series=series[number],
                film=tuple(json.loads(rep["film"])),
                roles=rep["roles"],
                scale=rep["scale"],
                on_field=bool(rep["on_field"]),
                picture=self._picture(stem, number) if has_picture(rep) else None,
                picture_scale=rep["picture_scale"],
                picture_t_s=rep["picture_t_s"],
                quality=quality_from_json(rep["quality"]),
                arrival_within_s=rep["arrival_within_s"],
            )

        return replace(self._outline(row), reps=tuple(map(rep_result, reps)))

    def _outline(self, row: sqlite3.Row) -> ClipResult:
        return ClipResult(
            path=self._clip_path(row),
            clip_digest=row["clip_digest"],
            width_px=row["width_px"],
            height_px=row["height_px"],
            n_frames=row["n_frames"],
            duration_s=_nan_if_none(row["duration_s"]),
            rate_hz=_nan_if_none(row["rate_hz"]),
            reps=(),
            fault=row["fault"],
            provenance=Provenance(
                row["version"], row["model"], row["model_digest"], row["settings_digest"]
            ),
        )

    def _measures(self, rep_id: int) -> dict[str, Measure]:
        rows = self._rows(
            "SELECT key, value, low, high, read_from, missing_because FROM measures "
            "WHERE rep_id = ? ORDER BY place",
            rep_id,
        )
        return {row["key"]: Measure(**dict(row)) for row in rows}

    def _verdict(self, rep_id: int) -> Verdict | None:
        rows = self._rows("SELECT call, headline FROM verdicts WHERE rep_id = ?", rep_id)
        if not rows:
            return None
        findings = self._rows(
            "SELECT rule, call, reason, fix FROM findings WHERE rep_id = ? ORDER BY place", rep_id
        )
        return Verdict(
            Call(rows[0]["call"]),
            rows[0]["headline"],
            tuple(
                Finding(each["rule"], Call(each["call"]), each["reason"], each["fix"])
                for each in findings
            ),
        )

    def _picture(self, stem: str, number: int) -> bytes:
        path = self._picture_path(stem, number)
        try:
            return path.read_bytes()
        except OSError as error:
            raise RecordError(
                f"{path}: this picture of the record cannot be read ({error.strerror}); check the "
                "clips again with --afresh."
            ) from error

    def series_path(self, result: ClipResult) -> Path:
        """The Parquet file of a clip's reps, written when they were measured."""
        return self._series_path(_stem(result.clip_digest, result.provenance.settings_digest))

    # -- files ---------------------------------------------------------------------------------

    def _series_path(self, stem: str) -> Path:
        return self.folder / SERIES_FOLDER / f"{stem}.parquet"

    def _picture_path(self, stem: str, number: int) -> Path:
        return self.folder / PICTURES_FOLDER / f"{stem}-{number}.jpg"

    def _remove_files(self, stem: str, keep: set[Path]) -> None:
        pictures = (self.folder / PICTURES_FOLDER).glob(f"{stem}-*.jpg")
        _remove({self._series_path(stem), *pictures} - keep)


def _remove(paths: Iterable[Path]) -> None:
    for path in paths:
        with suppress(OSError):  # no check ends over a file too many
            path.unlink()


def _stored_file(practice: Practice, clip: Path) -> str | bytes:
    return stored_name(practice.relative(clip).as_posix())


def _write_bytes(data: bytes, file: BinaryIO) -> None:
    file.write(data)


def _stem(clip_digest: str, settings_digest: str) -> str:
    # Half of each digest is plenty to tell files of one folder apart, and paths stay short.
    return f"{clip_digest[:16]}-{settings_digest[:16]}"


def _nan_if_none(value: float | None) -> float:
    return math.nan if value is None else value
