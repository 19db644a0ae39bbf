"""Long films in a check: each is scanned for reps, its stretches are cut out, and every cut is then
a clip that is measured like any other. What measuring finds decides what a stretch holds.

All of this is done by the process that keeps the record, but for the scan itself: a worker watches
the film, then as many as there are look for runs in its parts. What is known of a film is kept as
soon as it is known, so that a check that was stopped goes on where it was.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from posecheck.errors import ClipError, NothingToMeasure
from posecheck.files.cut_name import CutName
from posecheck.files.names import CUTS_FOLDER
from posecheck.measures.result import ClipResult
from posecheck.pipeline.cut_out import cut_out
from posecheck.pipeline.damage import COPY_AGAIN, damage
from posecheck.pipeline.film_limits import LONG_FILM_S, SHORT_ENOUGH_S
from posecheck.pipeline.keys import measures_key, scan_key
from posecheck.pipeline.limits import duration_words, limit_s, quiet_s
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.stretches import as_before, judged, may_be_rep, noted, scan_found
from posecheck.pipeline.tasks import Task
from posecheck.practice.cuts import FilmCuts, SetBy, Stretch, StretchKind, as_set
from posecheck.practice.found_cuts import cuts_of, cuts_path, read_cuts, write_cuts
from posecheck.practice.practice import Practice
from posecheck.practice.set_cuts import read_set
from posecheck.scan.scan_film import (
    PartRuns,
    Scan,
    moving_parts,
    runs_in_part,
    scan_of,
    watch_film,
)
from posecheck.scan.watch import Watched
from posecheck.store.begun_scans import (
    add_part,
    begin_scan,
    begun_scan,
    end_scan,
    end_scans_of_replaced,
    end_scans_without_film,
)
from posecheck.video.film import Header, read_header


@dataclass(frozen=True)
class WatchTask(Task):
    """Watch a long film, before anybody is looked for in it.

    Attributes:
        digest: SHA-256 of its content.
        slow_motion: how many times slower than life it plays.
    """

    digest: str
    slow_motion: float

    def run(self, reader: Any) -> Watched:
        """Watch the film.

        Raises:
            ClipError: it cannot be read.
        """
        return watch_film(self.path, self.slow_motion)


@dataclass(frozen=True)
class FollowTask(Task):
    """Look for runs in a part of a long film.

    Attributes:
        digest: SHA-256 of the film's content.
        slow_motion: how many times slower than life it plays.
        part_s: start and end of the part, seconds of the film.
    """

    digest: str
    slow_motion: float
    part_s: tuple[float, float]

    needs_reader = True

    def run(self, reader: Any) -> PartRuns:
        """Follow everybody in the part."""
        return runs_in_part(self.path, self.part_s, self.slow_motion, reader)


ScanTask = WatchTask | FollowTask
"""Both steps of scanning a long film."""


@dataclass
class _Scanning:
    """A film in the midst of its scan: what was seen of it, and the runs in each of its parts, None
    for parts that are not followed yet."""

    seen: Watched
    parts: dict[tuple[float, float], PartRuns | None]

    @property
    def followed(self) -> list[PartRuns] | None:
        """The runs in its parts in order of time, None before all parts are followed."""
        found = [runs for runs in self.parts.values() if runs is not None]
        return found if len(found) == len(self.parts) else None


class LongFilms:
    """The long films of one check.

    Args:
        practice: they belong to.
        settings: of the measuring.
        folder: of the results.

    Raises:
        SettingsError: what the coach set of them cannot be used.
    """

    def __init__(self, practice: Practice, settings: Settings, folder: Path) -> None:
        self._practice = practice
        self._settings = settings
        self._folder = folder
        self._set = read_set(practice.folder)
        self._cuts: dict[str, FilmCuts] = {}
        self._before: dict[str, list[FilmCuts]] = {}  # by the film's name
        self._replaced: dict[str, FilmCuts] = {}  # films that may be there by other names
        self._measuring: dict[Path, str] = {}  # each cut with the digest of its film
        self._paths: dict[str, Path] = {}
        self._as_clips: set[Path] = set()
        self._of_places: set[Path] = set()
        self._headers: dict[Path, Header] = {}
        self._scanning: dict[str, _Scanning] = {}
        self._to_follow: deque[FollowTask] = deque()
        self._remove_of_gone()

    def is_long(self, path: Path) -> bool:
        """Whether a clip plays so long that it is scanned instead of measured."""
        return (self._header(path).played_s or 0.0) / self._slow_motion(path) >= LONG_FILM_S

    def is_film(self, path: Path, digest: str) -> bool:
        """Whether a clip is scanned instead of measured: a long one, and a short one that is known
        to be filmed from several places."""
        if self.is_long(path) or path in self._of_places:
            return True
        before = self._found_before(digest)
        return before is not None and bool(before.camera_changes_s)

    def to_be_cut(self, path: Path) -> bool:
        """Note that a clip turned out to be filmed from several places; False when it has been
        scanned already, or is itself cut out of a film."""
        if path in self._as_clips or path in self._of_places or path in self._measuring:
            return False
        self._of_places.add(path)
        return True

    def is_clip(self, path: Path) -> bool:
        """Whether a long film turned out to be measured as one clip after all."""
        return path in self._as_clips

    def known(self, path: Path, digest: str) -> list[Path] | None:
        """What to measure of a film that was scanned before; None when it is to be scanned, or a
        scan of it that was stopped is to go on."""
        before = self._found_before(digest)
        if before is None or _keys(before)[0] != self._scan_key(path):
            self._take_up(path, digest)
            done = self._all_followed(digest)
            return self.scanned(self._watch_task(path, digest)) if done else None
        key = self._practice.clip_key(path)
        if before.film != key and all(each.film != before.film for each in self._cuts.values()):
            self._remove_cuts(before.film, keep=())
        as_now = _keys(before)[1] == self._measures_key(path)
        stretches = before.as_set(self._set.get(key, ()))
        return self._cut_out(path, replace(before, film=key, stretches=stretches), again=not as_now)

    def task(self, path: Path, digest: str) -> ScanTask:
        """What begins the scan of a film, or goes on with one that was taken up."""
        task = self._watch_task(path, digest)
        if digest not in self._scanning:
            return task
        first, *others = self._left(task)
        self._to_follow += others
        return first

    def _watch_task(self, path: Path, digest: str) -> WatchTask:
        name, slow_motion = self._practice.clip_key(path), self._slow_motion(path)
        return WatchTask(name, path, limit_s(path), digest, slow_motion, quiet_s=quiet_s(path))

    def _take_up(self, path: Path, digest: str) -> None:
        """Go on with a scan that was stopped, if there is one."""
        kept = begun_scan(self._folder, digest, self._scan_key(path))
        if kept is not None:
            parts = moving_parts(kept.seen, self._slow_motion(path))
            found = {part_s: kept.parts.get(part_s) for part_s in parts}
            self._scanning[digest] = _Scanning(kept.seen, found)

    def _left(self, task: WatchTask) -> list[FollowTask]:
        """The parts of a film that are still to be followed."""
        facts = {each.name: getattr(task, each.name) for each in fields(task)}
        parts = self._scanning[task.digest].parts.items()
        return [FollowTask(**facts, part_s=part_s) for part_s, runs in parts if runs is None]

    def _all_followed(self, digest: str) -> bool:
        scanning = self._scanning.get(digest)
        return scanning is not None and scanning.followed is not None

    def next_part(self) -> FollowTask | None:
        """A part of a watched film in which people are to be looked for; they need not wait for
        each other."""
        return self._to_follow.popleft() if self._to_follow else None

    def step_done(self, task: ScanTask, found: Watched | PartRuns) -> bool:
        """Note what a step of a scan found; True when it was the last."""
        digest = task.digest
        if isinstance(task, WatchTask) and isinstance(found, Watched):
            key = self._scan_key(task.path)
            begin_scan(self._folder, self._practice.clip_key(task.path), digest, key, found)
            parts = moving_parts(found, task.slow_motion)
            self._scanning[digest] = _Scanning(found, dict.fromkeys(parts))
            self._to_follow += self._left(task)
        elif isinstance(task, FollowTask) and digest in self._scanning:
            assert isinstance(found, PartRuns)
            add_part(self._folder, digest, task.part_s, found)
            self._scanning[digest].parts[task.part_s] = found
        return self._all_followed(digest)

    def given_up(self, task: ScanTask) -> bool:
        """A step of a scan failed, and the scan with it; False when another had failed before."""
        others = [each for each in self._to_follow if each.digest != task.digest]
        self._to_follow = deque(others)
        end_scan(self._folder, task.digest)
        return self._scanning.pop(task.digest, None) is not None or isinstance(task, WatchTask)

    def scanned(self, task: ScanTask) -> list[Path]:
        """Keep what was found by a scan whose last step this was, and cut it out.

        Returns:
            What to measure: the cuts, or the film itself when it is short and nothing was found.
        """
        scanning = self._scanning.pop(task.digest)
        scan = scan_of(scanning.seen, scanning.followed or (), task.slow_motion)
        before = self._found_before(task.digest)
        found = as_before(
            scan_found(scan),
            () if before is None else before.found,
        )
        key = self._practice.clip_key(task.path)
        cuts = FilmCuts(
            film=key,
            digest=task.digest,
            duration_s=scan.duration_s,
            settings_key=self._scan_key(task.path),
            stretches=as_set(found, self._set.get(key, ())),
            camera_changes_s=scan.places_s,
            found=found,
            damage=self._damage(task.path, scan),
        )
        to_measure = self._cut_out(task.path, cuts, again=True)
        end_scan(self._folder, task.digest)
        return to_measure

    def shows_nothing(self, path: Path, digest: str) -> NothingToMeasure | None:
        """Why a film is no use, when it is scanned and there is nothing to measure in it."""
        cuts = self._cuts[digest]
        listed = any(each.kind is not StretchKind.NONE for each in cuts.stretches)
        if listed or self.is_clip(path):
            return None
        if digest in self._measuring.values():
            return None
        return NothingToMeasure(
            path,
            f"nobody runs out at anybody in its {duration_words(cuts.duration_s)}",
            "leave it out if it shows no reps, else film from nearer, with both players in the "
            "picture",
        )

    def is_rep(self, path: Path, outcome: object) -> bool:
        """Note what measuring made of a clip; False for a cut that turns out to hold no rep, which
        is listed with its film and is no clip.

        Args:
            path: the clip.
            outcome: a result, or what was raised.
        """
        digest = self._measuring.pop(path, None)
        if digest is None:
            if isinstance(outcome, ClipResult):
                self._forget_replaced(self._practice.clip_key(path), outcome.clip_digest)
            return True
        cuts, name = self._cuts[digest], self._within(path)
        at = next(at for at, each in enumerate(cuts.stretches) if each.cut == name)
        before = cuts.stretches[at]
        now = before if before.set_by is SetBy.COACH else judged(before, outcome)
        stretches = (*cuts.stretches[:at], now, *cuts.stretches[at + 1 :])
        cuts = replace(cuts, stretches=stretches, found=noted(cuts.found, now))
        if digest not in self._measuring.values():
            key = self._scan_key(self._paths[digest])
            cuts = replace(cuts, settings_key=f"{key}+{self._measures_key(self._paths[digest])}")
        self._keep(cuts)
        return now.kind is StretchKind.REP

    def _header(self, path: Path) -> Header:
        if path not in self._headers:
            try:
                self._headers[path] = read_header(path)
            except ClipError:
                self._headers[path] = Header(None, 1.0)  # measuring says what is wrong with it
        return self._headers[path]

    def _damage(self, path: Path, scan: Scan) -> str:
        header = self._header(path)
        stated_s, lost_at_end_s = header.played_s, 0.0
        if stated_s is not None:
            if 0 < header.begins_s < stated_s:
                stated_s -= header.begins_s  # some files count from the beginning of their clock
            lost_at_end_s = max(0.0, stated_s - scan.duration_s)
        breaks_off_s = scan.duration_s if scan.breaks_off else None
        lost = damage(stated_s, lost_at_end_s, scan.lost_within_s, breaks_off_s)
        return "" if lost is None else f"{lost[0].upper()}{lost[1:]}; {COPY_AGAIN}."

    # -- cutting -----------------------------------------------------------------------------------

    def _cut_out(self, path: Path, cuts: FilmCuts, *, again: bool) -> list[Path]:
        """Cut out what is to be measured or looked at, and keep it all.

        Args:
            path: the film.
            cuts: what was found in it.
            again: whether also what was no rep before is to be measured.
        """
        # Before anything is cut: a cut of the film that was there may go by the same name.
        self._forget_replaced(cuts.film, cuts.digest)
        to_measure: list[Path] = []
        stretches: list[Stretch] = []
        for stretch in cuts.stretches:
            wanted = stretch.kind is StretchKind.REP or (again and may_be_rep(stretch))
            cut = replace(stretch, cut=None)
            if wanted or stretch.kind is StretchKind.UNSURE:
                try:
                    cut = replace(stretch, cut=cut_out(self._folder, path, cuts, stretch))
                except ClipError as error:
                    cut = replace(stretch, kind=StretchKind.UNSURE, why=error.fault, cut=None)
                    wanted = False
            stretches.append(cut)
            if wanted and cut.cut is not None:
                to_measure.append(self._folder / CUTS_FOLDER / cut.cut)
        self._remove_cuts(cuts.film, keep=[each.cut for each in stretches])
        self._paths[cuts.digest] = path
        self._measuring |= dict.fromkeys(to_measure, cuts.digest)
        self._keep(replace(cuts, stretches=tuple(stretches)))
        if not stretches and cuts.duration_s / self._slow_motion(path) <= SHORT_ENOUGH_S:
            self._as_clips.add(path)
            return [path]
        return to_measure

    def _keep(self, cuts: FilmCuts) -> None:
        self._cuts[cuts.digest] = cuts
        write_cuts(self._folder, cuts)

    def _remove_cuts(self, film: str, keep: Iterable[str | None]) -> None:
        """Remove the cuts of a film but for those named: their clips leave the page."""
        inside = self._folder / CUTS_FOLDER
        kept = {inside / name for name in keep if name is not None}
        for file in set((inside / CutName(film, 0.0, 0.0).within("")).parent.glob("*")) - kept:
            with suppress(OSError):  # a file too many does no harm
                file.unlink()

    def _found_before(self, digest: str) -> FilmCuts | None:
        return cuts_of(self._folder, digest) or self._replaced.get(digest)

    def _forget_replaced(self, film: str, digest: str) -> None:
        """Forget what was found in other films that had this one's name, and remove their cuts."""
        for other in self._before.pop(film, ()):
            if other.digest != digest and other.digest not in self._cuts:
                self._replaced[other.digest] = other
                self._remove_cuts(film, keep=())
                with suppress(OSError):  # the next check removes it
                    cuts_path(self._folder, other.digest).unlink()
        end_scans_of_replaced(self._folder, film, digest)

    def _remove_of_gone(self) -> None:
        """Films that were taken away take their reps along, as clips do. What was found in them is
        kept, and what the coach said of their cuts: both hold again when they come back."""
        for cuts in read_cuts(self._folder):
            self._before.setdefault(cuts.film, []).append(cuts)
            if not (self._practice.folder / cuts.film).exists():
                self._remove_cuts(cuts.film, keep=())
        folder = self._practice.folder
        end_scans_without_film(self._folder, lambda film: (folder / film).exists())

    # -- keys --------------------------------------------------------------------------------------

    def _within(self, cut: Path) -> str:
        return cut.relative_to(self._folder / CUTS_FOLDER).as_posix()

    def _slow_motion(self, path: Path) -> float:
        """As stated, else as the phone says, else none."""
        return self._practice.slow_motion_for(path) or self._header(path).slow_motion

    def _scan_key(self, path: Path) -> str:
        return scan_key(self._settings, self._slow_motion(path))

    def _measures_key(self, path: Path) -> str:
        return measures_key(self._settings, self._practice, path)


def _keys(cuts: FilmCuts) -> tuple[str, str]:
    """By what a film was scanned, and by what all its cuts were measured, "" before they are."""
    scanned, _, measured = cuts.settings_key.partition("+")
    return scanned, measured
