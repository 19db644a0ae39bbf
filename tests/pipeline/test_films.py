"""Long films in a check: scanned once, cut, and every cut a clip of its own.

The scan and the measuring are scripted here; the film is real, and so is the cutting.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from factories import make_clip_result
from films import write_film

from posecheck.errors import NothingToMeasure, SeveralPlaces
from posecheck.files.cut_name import cut_name
from posecheck.files.digest import file_digest
from posecheck.measures.result import ClipResult
from posecheck.pipeline import films
from posecheck.pipeline.batch import Checked, Source, check_clips
from posecheck.pipeline.films import FollowTask, WatchTask
from posecheck.pipeline.provenance import provenance
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.tasks import Task
from posecheck.practice.cuts import FilmCuts, SetStretch, StretchKind
from posecheck.practice.found_cuts import cut_files, read_cuts
from posecheck.practice.practice import Practice
from posecheck.practice.set_cuts import write_set
from posecheck.reps.rep import ArrivalSource
from posecheck.scan.runs import Run
from posecheck.scan.scan_film import Candidate, Holds, PartRuns, Scan
from posecheck.scan.watch import Watched
from posecheck.store.record import Record
from posecheck.video.clip import open_clip

FILM = "clips/film-01.mp4"
NOWHERE = np.zeros(2)


def candidate(from_s: float, to_s: float, holds: Holds = Holds.CLOSEOUT) -> Candidate:
    run = Run(
        from_s + 1.5, to_s - 2, 0, 1, 5.0, 2.0, NOWHERE, NOWHERE, 100.0, (from_s + 2, NOWHERE)
    )
    return Candidate(from_s, to_s, holds, run)


class InThisProcess:
    """Workers that are none: tasks are done one after another, and remembered."""

    def __init__(self) -> None:
        self.tasks: list[Task] = []

    @property
    def scans(self) -> int:
        """How many steps of scans were done."""
        return sum(isinstance(task, WatchTask | FollowTask) for task in self.tasks)

    @property
    def measures(self) -> int:
        """How many clips were measured."""
        return len(self.tasks) - self.scans

    def outcomes(
        self, tasks: Iterator[Task], on_tick: Callable[[], object] = lambda: None
    ) -> Iterator[tuple[Task, Any]]:
        for task in tasks:
            self.tasks.append(task)
            try:
                outcome = task.run(None)
            except Exception as error:
                outcome = error
            yield task, outcome


@dataclass
class Session:
    """A practice with one film of 70 s, a scripted scan of it, and what measuring makes of cuts.

    ``reads`` gives, by the second at which a cut begins, what it shows: a rep, where arrival was
    read from, or nothing. ``places`` makes measuring find the film, and a cut at 7 s, filmed from
    several places.
    """

    folder: Path
    scan: Scan
    reads: dict[int, ArrivalSource | None] = field(default_factory=dict)
    stop_at: int | None = None
    places: bool = False
    stop_in_part: int | None = None
    parts: tuple[tuple[float, float], ...] = ((0.0, 40.0), (38.0, 70.0))
    followed: list[float] = field(default_factory=list)

    def follow(
        self, path: Path, part_s: tuple[float, float], slow_motion: float, reader: object
    ) -> PartRuns:
        if len(self.followed) == self.stop_in_part:
            raise KeyboardInterrupt
        self.followed.append(part_s[0])
        return PartRuns(part_s[0], (64, 36), ())

    def scan_of(self, seen: Watched, followed: list[PartRuns], slow_motion: float) -> Scan:
        assert [each.begins_s for each in followed] == [begins_s for begins_s, _ in self.parts]
        return self.scan

    @property
    def practice(self) -> Practice:
        return Practice(self.folder, "practice")

    @property
    def results(self) -> Path:
        return self.folder / "checked"

    @property
    def cuts(self) -> FilmCuts:
        (cuts,) = read_cuts(self.results)
        return cuts

    def measure(
        self, path: Path, practice: Practice, settings: Settings, reader: object
    ) -> ClipResult:
        cut = cut_name(practice.clip_key(path))
        begins = 0 if cut is None else int(cut.from_s)
        if begins == self.stop_at:
            raise KeyboardInterrupt
        if self.places and (cut is None or begins == 7):
            raise SeveralPlaces(path, "from 3.0 s on it is filmed from another place", "cut it")
        source = self.reads.get(begins, ArrivalSource.ATTACKER)
        if source is None:
            raise NothingToMeasure(path, "nobody runs out at anybody", "leave it out")
        made = provenance(settings, practice, path)
        result = make_clip_result(path, clip_digest=file_digest(path), provenance=made)
        reps = tuple(replace(rep, rep=replace(rep.rep, source=source)) for rep in result.reps)
        return replace(result, reps=reps)

    def check(
        self,
        afresh: bool = False,
        workers: InThisProcess | None = None,
        others: Sequence[Path] = (),
        whole: bool = False,
    ) -> tuple[dict[str, Checked], InThisProcess]:
        """What came of each clip, by its name as shown; and what was done."""
        workers, done = workers or InThisProcess(), []
        paths = [self.folder / FILM] if (self.folder / FILM).exists() else []
        paths += others
        with Record(self.results / "record.sqlite", make=True) as record:
            check_clips(
                paths,
                self.practice,
                Settings(),
                record,
                1,
                done.append,
                afresh=afresh,
                whole=whole,
                measure=self.measure,
                workers=workers,
            )
        return {self.practice.shown_name(each.path): each for each in done}, workers

    def on_page(self) -> list[str]:
        with Record(self.results / "record.sqlite") as record:
            shown = record.clips(self.practice, taken_away=False)
        return [self.practice.shown_name(path) for path, _ in shown if path.exists()]


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Session:
    (tmp_path / "clips").mkdir()
    write_film(tmp_path / FILM, range(0, 70_000, 100))
    scan = Scan(70.0, (candidate(10, 18), candidate(30.5, 38), candidate(50, 57.3)), (25.0,))
    made = Session(tmp_path, scan)
    nothing = np.zeros(0)
    seen = Watched(nothing, nothing, np.zeros((0, 3, 3)), (), (), (64, 36), 70.0)
    monkeypatch.setattr(films, "watch_film", lambda path, slow_motion: seen)
    monkeypatch.setattr(films, "moving_parts", lambda seen, slow_motion: made.parts)
    monkeypatch.setattr(films, "runs_in_part", made.follow)
    monkeypatch.setattr(films, "scan_of", made.scan_of)
    return made


def kinds(cuts: FilmCuts) -> list[StretchKind]:
    return [each.kind for each in cuts.stretches]


@pytest.mark.parametrize("places", [False, True])
def test_a_film_that_is_wanted_whole_is_neither_scanned_nor_cut(
    session: Session, places: bool
) -> None:
    session.places = places
    done, workers = session.check(whole=True)
    assert list(done) == [FILM]
    assert workers.scans == 0
    assert (done[FILM].result.fault is None) is not places


def test_every_stretch_is_cut_out_and_measured_as_a_clip_of_its_own(session: Session) -> None:
    done, workers = session.check()
    names = [f"{FILM} at 0:10", f"{FILM} at 0:30", f"{FILM} at 0:50"]
    assert list(done) == [FILM, *names]
    assert done[FILM].source is Source.SCANNED
    assert [done[name].source for name in names] == [Source.MEASURED] * 3
    assert session.on_page() == names
    assert [session.practice.shown_name(path) for path in cut_files(session.results)] == names
    assert isinstance(workers.tasks[0], WatchTask)
    assert kinds(session.cuts) == [StretchKind.REP] * 3
    assert session.cuts.camera_changes_s == (25.0,)
    for stretch, (from_s, to_s) in zip(
        session.cuts.stretches, ((10, 18), (30.5, 38), (50, 57.3)), strict=True
    ):
        clip = open_clip(session.results / "cuts" / (stretch.cut or ""))
        assert clip.t_s[-1] == pytest.approx(to_s - from_s, abs=0.2)


def test_nothing_is_scanned_or_measured_twice(session: Session) -> None:
    session.reads = {30: None}
    session.check()
    done, workers = session.check()
    assert workers.tasks == []
    assert [each.source for each in done.values()] == [
        Source.SCANNED, Source.ON_RECORD, Source.ON_RECORD,
    ]  # fmt: skip
    assert kinds(session.cuts) == [StretchKind.REP, StretchKind.UNSURE, StretchKind.REP]


def test_afresh_scans_once_more(session: Session) -> None:
    session.check()
    _, workers = session.check(afresh=True)
    assert (workers.scans, workers.measures) == (3, 3)


def test_what_turns_out_to_be_no_rep_is_listed_with_its_reason(session: Session) -> None:
    session.reads = {30: None}
    done, _ = session.check()
    assert done[f"{FILM} at 0:30"] == Checked(done[f"{FILM} at 0:30"].path, Source.NO_REP, None)
    assert session.on_page() == [f"{FILM} at 0:10", f"{FILM} at 0:50"]
    stretch = session.cuts.stretches[1]
    assert stretch.kind is StretchKind.UNSURE
    assert stretch.why == "it looks like a rep, but nobody runs out at anybody"
    assert stretch.cut is not None
    assert (session.results / "cuts" / stretch.cut).is_file()  # to look at


@pytest.mark.parametrize(
    ("source", "kind"),
    [
        (ArrivalSource.ATTACKER, StretchKind.REP),
        (ArrivalSource.CONE, StretchKind.REP),
        (ArrivalSource.BRAKING, StretchKind.UNSURE),
        (None, StretchKind.NONE),
    ],
)
@pytest.mark.parametrize("holds", [Holds.LONE_RUN, Holds.MAYBE_WALK])
def test_a_run_to_nobody_or_what_may_be_a_walk_is_what_measuring_says(
    session: Session, source: ArrivalSource | None, kind: StretchKind, holds: Holds
) -> None:
    session.scan = replace(session.scan, candidates=(candidate(10, 18, holds),))
    session.reads = {10: source}
    session.check()
    assert kinds(session.cuts) == [kind]
    assert session.on_page() == ([f"{FILM} at 0:10"] if kind is StretchKind.REP else [])


def test_a_run_at_somebody_is_a_rep_though_measuring_reads_its_end_from_braking(
    session: Session,
) -> None:
    session.reads = {30: ArrivalSource.BRAKING}
    session.check()
    assert kinds(session.cuts) == [StretchKind.REP] * 3
    assert len(session.on_page()) == 3


def test_of_two_at_the_same_time_one_is_measured_and_the_other_listed(session: Session) -> None:
    second = candidate(10.4, 18.2, Holds.SECOND)
    session.scan = replace(session.scan, candidates=(candidate(10, 18), second))
    _, workers = session.check()
    assert (workers.scans, workers.measures) == (3, 1)
    assert kinds(session.cuts) == [StretchKind.REP, StretchKind.UNSURE]
    assert session.cuts.stretches[1].why == "somebody else runs at somebody at the same time"
    _, workers = session.check()
    assert workers.tasks == []


def test_what_the_coach_set_wins_and_is_a_clip_whatever_it_shows(session: Session) -> None:
    session.check()
    write_set(
        session.folder,
        {
            FILM: [
                SetStretch(10.0, 18.0, StretchKind.NONE, (10.0, 18.0)),
                SetStretch(31.0, 38.5, StretchKind.REP, (30.5, 38.0)),
                SetStretch(62.0, 68.0, StretchKind.REP),
            ]
        },
    )
    session.reads = {62: None}
    done, workers = session.check()
    assert [task.name for task in workers.tasks] == [
        session.practice.clip_key(session.results / "cuts" / FILM / name)
        for name in ("0031.000-0038.500-place-2.mp4", "0062.000-0068.000-place-2.mp4")
    ]
    assert session.on_page() == [f"{FILM} at 0:31", f"{FILM} at 0:50", f"{FILM} at 1:02"]
    faulty = done[f"{FILM} at 1:02"].result
    assert faulty is not None
    assert "nobody runs out at anybody" in (faulty.fault or "")
    assert kinds(session.cuts) == [StretchKind.NONE, *[StretchKind.REP] * 3]


def test_a_check_that_was_stopped_goes_on_where_it_was(session: Session) -> None:
    session.stop_at = 30
    with pytest.raises(KeyboardInterrupt):
        session.check()
    assert session.on_page() == [f"{FILM} at 0:10"]
    session.stop_at = None
    done, workers = session.check()
    assert len(workers.tasks) == 2
    assert done[f"{FILM} at 0:10"].source is Source.ON_RECORD
    assert len(session.on_page()) == 3


def test_a_scan_that_was_stopped_goes_on_with_the_parts_that_are_left(session: Session) -> None:
    session.parts = ((0.0, 20.0), (18.0, 40.0), (38.0, 70.0))
    session.stop_in_part = 2
    with pytest.raises(KeyboardInterrupt):
        session.check()
    assert session.followed == [0.0, 18.0]
    session.stop_in_part = None
    done, workers = session.check()
    assert session.followed == [0.0, 18.0, 38.0]
    assert not any(isinstance(task, WatchTask) for task in workers.tasks)
    assert len(done) == 4
    assert not list(session.results.rglob("*.scan.jsonl"))


def test_one_that_was_stopped_after_its_last_part_is_cut_at_once(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*args: object) -> list[Path]:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched, pytest.raises(KeyboardInterrupt):
        patched.setattr(films.LongFilms, "scanned", stopped)
        session.check()
    done, workers = session.check()
    assert workers.scans == 0
    assert workers.measures == 3
    assert len(done) == 4


def test_afresh_begins_a_stopped_scan_anew(session: Session) -> None:
    session.stop_in_part = 1
    with pytest.raises(KeyboardInterrupt):
        session.check()
    session.stop_in_part = None
    session.check(afresh=True)
    assert session.followed == [0.0, 0.0, 38.0]


def test_a_scan_that_differs_by_tenths_changes_no_cut(session: Session) -> None:
    session.check()
    before = session.on_page()
    moved = tuple(
        replace(each, from_s=each.from_s + 0.3, to_s=each.to_s - 0.2)
        for each in session.scan.candidates
    )
    session.scan = replace(session.scan, candidates=moved)
    done, _ = session.check(afresh=True)
    assert session.on_page() == before
    assert [stretch.from_s for stretch in session.cuts.stretches] == [10, 30.5, 50]
    assert len(done) == 4


def test_a_film_that_is_taken_away_takes_its_reps_along_and_brings_them_back(
    session: Session,
) -> None:
    session.check()
    reps = session.on_page()
    aside = session.folder / "aside.bin"
    (session.folder / FILM).rename(aside)
    session.check()
    assert session.on_page() == []
    aside.rename(session.folder / FILM)
    _, workers = session.check()
    assert workers.tasks == []
    assert session.on_page() == reps


@pytest.mark.parametrize("ends_s", [70.5, 9.0])
def test_another_film_of_the_same_name_takes_its_place(session: Session, ends_s: float) -> None:
    session.check()
    cuts = session.results / "cuts"
    (cuts / "stopped.scan.jsonl").write_text(f'{{"film": "{FILM}", "digest": "another"}}\n')
    before = {path.name: path.read_bytes() for path in cuts.rglob("*.mp4") if path.is_file()}
    write_film(session.folder / FILM, range(0, round(ends_s * 1000), 125))
    session.scan = replace(session.scan, candidates=(candidate(10, 18), candidate(40, 48)))
    session.check()
    kept = [] if ends_s < 10 else [file_digest(session.folder / FILM)]
    assert [each.digest for each in read_cuts(session.results)] == kept
    after = {path.name: path.read_bytes() for path in cuts.rglob("*.mp4") if path.is_file()}
    names = ["0010.000-0018.000.mp4", "0040.000-0048.000-place-2.mp4"]
    assert sorted(after) == (names if kept else [])
    assert not kept or after[names[0]] != before[names[0]], "it is cut out of the film of today"
    assert not list(cuts.glob("*.scan.jsonl"))


def test_films_that_change_names_are_not_scanned_again(session: Session) -> None:
    other = session.folder / "clips/film-02.mp4"
    write_film(other, range(0, 70_500, 125))
    session.check(others=[other])
    aside = session.folder / "aside.bin"
    (session.folder / FILM).rename(aside)
    other.rename(session.folder / FILM)
    aside.rename(other)
    _, workers = session.check(others=[other])
    assert workers.scans == 0
    assert len(read_cuts(session.results)) == 2
    assert len(session.on_page()) == 6


def test_a_long_film_without_any_run_is_a_fault_and_never_one_rep(session: Session) -> None:
    session.scan = Scan(70.0, (), ())
    done, workers = session.check()
    assert [type(task) for task in workers.tasks] == [WatchTask, FollowTask, FollowTask]
    fault = done[FILM].result
    assert fault is not None
    assert fault.reps == ()
    assert "nobody runs out at anybody in its 70 seconds" in (fault.fault or "")


def test_a_short_one_without_any_run_is_measured_as_a_clip(session: Session) -> None:
    write_film(session.folder / FILM, range(0, 20_000, 100))
    session.scan = Scan(20.0, (), ())
    done, workers = session.check()
    assert done[FILM].source is Source.MEASURED
    assert (workers.scans, workers.measures) == (3, 1)
    done, workers = session.check()
    assert (done[FILM].source, workers.tasks) == (Source.ON_RECORD, [])


def test_an_ordinary_clip_is_not_scanned(session: Session) -> None:
    write_film(session.folder / FILM, range(0, 9_000, 100))
    done, workers = session.check()
    assert done[FILM].source is Source.MEASURED
    assert not any(isinstance(task, WatchTask) for task in workers.tasks)


def test_a_short_film_from_two_places_is_cut_as_a_long_one_is(session: Session) -> None:
    write_film(session.folder / FILM, range(0, 12_000, 100))
    session.places = True
    session.scan = Scan(11.9, (candidate(0.5, 5), candidate(7, 11)), (6.0,))
    done, workers = session.check()
    assert [type(task).__name__ for task in workers.tasks] == [
        "MeasureTask", "WatchTask", "FollowTask", "FollowTask", "MeasureTask", "MeasureTask",
    ]  # fmt: skip
    assert done[FILM].source is Source.SCANNED
    # A part that seems to be filmed from several places itself is listed, and not cut once more.
    assert session.on_page() == [f"{FILM} at 0:00"]
    assert kinds(session.cuts) == [StretchKind.REP, StretchKind.UNSURE]
    assert "filmed from another place" in session.cuts.stretches[1].why
    done, workers = session.check()
    assert (done[FILM].source, workers.tasks) == (Source.SCANNED, [])
    _, workers = session.check(afresh=True)
    assert isinstance(workers.tasks[0], WatchTask)


def test_one_in_which_the_scan_finds_nothing_is_a_fault(session: Session) -> None:
    write_film(session.folder / FILM, range(0, 12_000, 100))
    session.places = True
    session.scan = Scan(11.9, (), (6.0,))
    done, workers = session.check()
    assert (workers.scans, workers.measures) == (3, 2)
    fault = done[FILM].result
    assert fault is not None
    assert "filmed from another place; cut it" in (fault.fault or "")


def test_a_film_measured_as_one_clip_by_an_earlier_version_leaves_the_page(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as earlier:
        earlier.setattr(films, "LONG_FILM_S", 1e9)
        session.check()
    assert session.on_page() == [FILM]
    session.check()
    assert len(session.on_page()) == 3


@pytest.mark.parametrize(
    ("plays_s", "lost_within_s", "breaks_off", "said"),
    [
        (69.9, 0.0, False, ""),
        (61.2, 0.0, False, "Only the first 61.2 of its 69.9 s can be read, the file is damaged; "),
        (69.9, 3.5, False, "3.50 s within it cannot be read, the file is damaged; "),
        (69.9, 0.0, True, "It breaks off after 69.9 s and its end is missing, the file is "
         "damaged; "),
    ],
)  # fmt: skip
def test_a_damaged_film_says_so_itself(
    session: Session, plays_s: float, lost_within_s: float, breaks_off: bool, said: str
) -> None:
    session.scan = Scan(plays_s, (candidate(10, 18),), (), lost_within_s, breaks_off)
    session.check()
    assert session.cuts.damage == (f"{said}copy it from the phone again." if said else "")


def test_parts_are_followed_in_any_order(session: Session) -> None:
    class LastFirst(InThisProcess):
        """Two workers of which the second is always done first."""

        def outcomes(
            self, tasks: Iterator[Task], on_tick: Callable[[], object] = lambda: None
        ) -> Iterator[tuple[Task, Any]]:
            while two := [task for task in (next(tasks, None), next(tasks, None)) if task]:
                for task in reversed(two):
                    self.tasks.append(task)
                    yield task, task.run(None)

    session.parts = ((0.0, 20.0), (18.0, 40.0), (38.0, 70.0))
    done, _ = session.check(workers=LastFirst())
    assert session.followed == [18.0, 0.0, 38.0]
    assert len(done) == 4


def test_without_a_moving_part_nobody_is_looked_for(session: Session) -> None:
    session.parts, session.scan = (), Scan(70.0, (), ())
    done, workers = session.check()
    assert [type(task) for task in workers.tasks] == [WatchTask]
    assert done[FILM].result is not None
    assert not list(session.results.rglob("*.scan.jsonl"))


def test_a_scan_that_fails_is_a_fault_of_the_film(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(path: Path, slow_motion: float) -> Watched:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(films, "watch_film", fails)
    done, _ = session.check()
    fault = done[FILM].result
    assert fault is not None
    assert "posecheck itself failed on it" in (fault.fault or "")


def test_one_part_that_fails_ends_the_scan(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(
        path: Path, part_s: tuple[float, float], slow_motion: float, reader: object
    ) -> PartRuns:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(films, "runs_in_part", fails)
    done, workers = session.check()
    assert [type(task) for task in workers.tasks] == [WatchTask, FollowTask]
    fault = done[FILM].result
    assert fault is not None
    assert "posecheck itself failed on it" in (fault.fault or "")
    assert not list(session.results.rglob("*.scan.jsonl"))
