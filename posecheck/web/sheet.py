"""What the contact sheet shows and does: who is in which clip, and what else was put right.

Everything that goes in and out is plain values, ready for JSON. Pixels are the clip's own.
"""

from __future__ import annotations

import dataclasses
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from posecheck.errors import SettingsError, UsageError
from posecheck.files.names import is_text
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.publish import write_page
from posecheck.pipeline.judge import judge_clip
from posecheck.pipeline.provenance import measured_as_now
from posecheck.pipeline.sides import turn_to_spot
from posecheck.practice.clips_file import Said, write_clips
from posecheck.practice.notes import ClipNotes, PointedOut
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice, read_said
from posecheck.practice.roster import Player
from posecheck.store.record import Record
from posecheck.web.film import Film
from posecheck.web.tuning import THUMB_HEIGHTS, THUMB_LEAST_SHARE, THUMB_WIDTH_PX

MISTAKEN = "The page sent something unreadable; reload it."


class ContactSheet:
    """One practice's clips while it is said who is in them.

    Naming somebody, the spot and the attacker change no measure: verdicts and pages follow from the
    record at once. Another defender or another arrival wants the film: the clip is measured again
    by the next check.

    Args:
        folder: of the practice.
        record: its record.

    Raises:
        SettingsError: a file that describes the practice cannot be used.
        UsageError: no clip of it has been checked.
    """

    def __init__(self, folder: Path, record: Path) -> None:
        self.record = record
        self._lock = threading.Lock()
        self._writing = threading.Lock()
        self._stale = False
        with Record(record) as opened:
            practice = read_practice(folder)
            clips = opened.clips(practice, taken_away=False)
            digests = {practice.clip_key(path): one for path, one in clips}
            self._digests = {key: one for key, one in digests.items() if is_text(key)}
            if not self._digests:
                raise UsageError(
                    f"{folder}: none of its clips has been checked; run posecheck check first."
                )
            self.film = Film(practice, [path for path, _ in clips])
        self.folder = practice.folder

    def state(self) -> dict[str, Any]:
        """All that the page starts from, as the practice is described now."""
        with self._lock, Record(self.record) as record:
            practice = self._practice()
            return {
                "name": practice.name,
                "points": bool(practice.layout.points),
                "spots": list(practice.layout.spots),
                **_roster(practice),
                "clips": [self._clip_state(record, practice, key) for key in self._digests],
            }

    def picture(self, key: str, small: bool) -> bytes:
        """The arrival of a clip's first rep as JPEG, or its middle where none is kept.

        Args:
            key: of the clip.
            small: only what is around the defender, for the sheet.

        Raises:
            UsageError: there is no such clip.
            ClipError: it cannot be read.
            RecordError: the picture cannot be read.
        """
        with self._lock, Record(self.record) as record:
            result = record.load(self._digest(key))
        kept = next((rep for rep in result.reps if rep.picture is not None), None)
        if kept is None or kept.picture is None:
            jpeg = self.film.frame(key, result.duration_s / 2 if result.reps else 0.0)
            return _shrunk(jpeg, None) if small else jpeg
        return _shrunk(kept.picture, _box(kept, result)) if small else kept.picture

    def say(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """Keep what was said of clips, and judge again those of which it changes the verdict.

        Args:
            given: ``players`` to put on the roster (``number``, ``name``), and ``clips``: by key
                what was said, any of ``defender``, ``attacker``, ``spot``, ``arrival_s`` and
                ``defender_at`` (``t_s``, ``x_px``, ``y_px``); None takes back what was said here.

        Returns:
            The roster and the changed clips, as in :meth:`state`.

        Raises:
            SettingsError: somebody is not on the roster, or something cannot be.
            RecordError: it cannot be kept.
        """
        with self._lock, Record(self.record) as record:
            before = self._practice()
            added, said = read_said(self.folder, before)
            added |= _new_players(given.get("players", []), before)
            roster = {**added, **before.players}
            changed = given.get("clips", {})
            for key, changes in changed.items():
                self._digest(key)
                said[key] = self._changed(said.get(key, Said()), key, changes, before, roster)
                _check_both(said[key], before.notes_for(self.film.paths[key]), key, roster)
            write_clips(self.folder, added.values(), said)
            now = self._practice()
            for key in changed:
                self._judge(record, before, now, key)
            self._stale = True
            return {
                **_roster(now),
                "clips": [self._clip_state(record, now, key) for key in changed],
            }

    def publish(self) -> None:
        """Write the practice's pages from the record, if anything was said since.

        Raises:
            RecordError: they cannot be written.
        """
        # Naming goes on meanwhile; what is said now goes into the pages next time.
        with self._writing, Record(self.record) as record:
            with self._lock:
                if not self._stale:
                    return
                self._stale = False
                practice = self._practice()
            limits = record.last_thresholds(practice) or DEFAULT_THRESHOLDS
            try:
                write_page(record, practice, limits)
            except Exception:
                self._stale = True
                raise

    # -- small steps -------------------------------------------------------------------------------

    def _practice(self) -> Practice:
        return read_practice(self.folder).with_clips(self.film.paths.values())

    def _digest(self, key: str) -> str:
        if key not in self._digests:
            raise UsageError(f"{key}: there is no such clip; reload the page.")
        return self._digests[key]

    def _clip_state(self, record: Record, practice: Practice, key: str) -> dict[str, Any]:
        path = self.film.paths[key]
        notes, result = practice.notes_for(path), record.load(self._digests[key])
        verdicts = record.verdicts(result.clip_digest)
        rep = result.reps[0] if result.reps else None
        found_s = None if rep is None else rep.rep.arrival_s
        return {
            "key": key,
            "shown": practice.shown_name(path),
            "defender": None if notes.defender is None else notes.defender.number,
            "name": notes.defender_name,
            "attacker": None if notes.attacker is None else notes.attacker.number,
            "spot": notes.spot,
            "arrival_s": notes.arrival_s,
            "found_s": found_s,
            "defender_at": None
            if notes.defender_at is None
            else dataclasses.asdict(notes.defender_at),
            "box": None if rep is None else _box(rep, result),
            "reps": len(result.reps),
            "fault": result.fault and result.fault_in(practice.units),
            "verdict": verdicts[rep.number].headline if rep and rep.number in verdicts else None,
            "again": not measured_as_now(result.provenance, practice, path),
        }

    def _changed(
        self,
        said: Said,
        key: str,
        changes: Mapping[str, Any],
        practice: Practice,
        roster: Mapping[int, Player],
    ) -> Said:
        """What was said of a clip with changes to it.

        Raises:
            SettingsError: one of them cannot be.
        """
        fields: dict[str, Any] = {}
        for name, value in changes.items():
            if value is None:
                fields[name] = None
            elif name in ("defender", "attacker"):
                fields[name] = _on_roster(value, roster)
            elif name == "spot":
                if value not in practice.layout.spots:
                    raise SettingsError(f"{value} is not a spot of the layout; reload the page.")
                fields[name] = value
            elif name == "arrival_s":
                fields[name] = self._moment(key, value)
            elif name == "defender_at":
                fields[name] = self._place(key, value)
            else:
                raise SettingsError(MISTAKEN)
        return dataclasses.replace(said, **fields)

    def _moment(self, key: str, value: Any) -> float:
        with self.film.lock:
            end_s = float(self.film.clip(key).t_s[-1])
        if not isinstance(value, int | float) or not 0 <= value <= end_s:
            raise SettingsError(f"{key}: that moment is not in the film; reload the page.")
        return float(value)

    def _place(self, key: str, value: Any) -> PointedOut:
        try:
            place = PointedOut(*(float(value[name]) for name in ("t_s", "x_px", "y_px")))
        except (KeyError, TypeError, ValueError):
            raise SettingsError(MISTAKEN) from None
        self._moment(key, place.t_s)
        with self.film.lock:
            clip = self.film.clip(key)
        if not (0 <= place.x_px < clip.width_px and 0 <= place.y_px < clip.height_px):
            raise SettingsError(f"{key}: that place is not in the picture; reload the page.")
        return place

    def _judge(self, record: Record, before: Practice, now: Practice, key: str) -> None:
        """Judge a clip again when its spot or its attacker is another."""
        path = self.film.paths[key]
        old, new = before.notes_for(path), now.notes_for(path)
        if (old.spot, old.attacker) == (new.spot, new.attacker):
            return
        digest = self._digests[key]
        if record.spot(digest) is None:  # from before that was kept
            record.set_spot(digest, old.spot or "")
        turn_to_spot(record, now, path, digest)
        result = record.load(digest)
        limits = record.last_thresholds(now) or DEFAULT_THRESHOLDS
        judge_clip(record, now, result, limits)


def _roster(practice: Practice) -> dict[str, Any]:
    return {
        "players": [
            {"number": player.number, "name": player.name, "hand": player.strong_hand}
            for player in sorted(practice.players.values(), key=lambda one: one.number)
        ]
    }


def _new_players(given: Any, practice: Practice) -> dict[int, Player]:
    """Players to put on the roster.

    Raises:
        SettingsError: a number is taken, or a name is missing.
    """
    new = {}
    for each in given:
        number, name = each["number"], str(each["name"]).strip()
        if not isinstance(number, int) or isinstance(number, bool) or number < 0 or not name:
            raise SettingsError("A player needs a number and a name; give both.")
        if number in practice.players:
            raise SettingsError(f"{number} is already {practice.players[number].name}'s.")
        new[number] = Player(number, name)
    return new


def _on_roster(value: Any, roster: Mapping[int, Player]) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value not in roster:
        raise SettingsError(f"{value} is not on the roster; add the player, or check the number.")
    return value


def _box(rep: RepResult, result: ClipResult) -> list[float] | None:
    """Where the defender is in the kept picture: left, top, width, height as shares of it."""
    if rep.picture_t_s is None:
        return None
    frame = int(np.argmin(np.abs(rep.series.t_s - rep.picture_t_s)))
    xy = rep.series.defender_xy_px[frame]
    xy = xy[np.isfinite(xy).all(axis=1)]
    if not len(xy):
        return None
    size = np.array([result.width_px, result.height_px])
    # Landmarks end at the ears and the soles; a helmet and a shoe stand out.
    tall = np.ptp(xy[:, 1]) * np.array([[-0.05, -0.12], [0.05, 0.04]])
    low, high = np.clip((np.stack([xy.min(axis=0), xy.max(axis=0)]) + tall) / size, 0, 1)
    return [round(float(value), 4) for value in (*low, *(high - low))]


def _check_both(said: Said, notes: ClipNotes, key: str, roster: Mapping[int, Player]) -> None:
    """Refuse one player on both sides.

    Raises:
        SettingsError: he is.
    """
    numbers = [
        now if now is not None else (None if before is None else before.number)
        for now, before in ((said.defender, notes.defender), (said.attacker, notes.attacker))
    ]
    if numbers[0] is not None and numbers[0] == numbers[1]:
        name = roster[numbers[0]].name
        raise SettingsError(f"{key}: {name} cannot be defender and attacker; change one.")


def _shrunk(jpeg: bytes, box: list[float] | None) -> bytes:
    """A small picture of what is around a player, of all when it is not known where he is."""
    import cv2

    picture = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR)
    if picture is None:
        return jpeg
    size = np.array([picture.shape[1], picture.shape[0]])
    if box is not None:
        left, top, width, height = box
        share = min(1.0, max(height * THUMB_HEIGHTS, THUMB_LEAST_SHARE))
        half = share / 2
        middle = np.clip([left + width / 2, top + height / 2], half, 1 - half)
        low, high = ((middle - half) * size).astype(int), ((middle + half) * size).astype(int)
        picture = picture[low[1] : high[1], low[0] : high[0]]
    wide = min(THUMB_WIDTH_PX, picture.shape[1])
    high_px = max(1, round(wide * size[1] / size[0]))
    small = cv2.resize(picture, (wide, high_px), interpolation=cv2.INTER_AREA)
    _, made = cv2.imencode(".jpg", small)
    return made.tobytes()
