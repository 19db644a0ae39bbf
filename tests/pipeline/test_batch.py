"""Many clips at once, with a scripted measuring function in real worker processes.

What the script does with a clip stands in the clip's text, so a clip is a small text file here.
"""

from __future__ import annotations

import dataclasses
import os
import signal
import subprocess
import sys
import textwrap
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path

import pytest
from scripted import calls, clips, scripted_measure, scripted_reader

from posecheck.errors import ModelError
from posecheck.files.digest import file_digest
from posecheck.measures.result import ClipResult
from posecheck.pipeline import batch, keys, workers
from posecheck.pipeline.batch import Checked, Source, check_clips
from posecheck.pipeline.keys import measures_key
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.tasks import Task
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice
from posecheck.store.record import Record

SETTINGS = Settings()


def no_reader(settings: Settings) -> Path:
    raise ModelError("The pose model is not there; fetch it.")


@pytest.fixture
def practice(tmp_path: Path) -> Practice:
    return Practice(tmp_path, "practice")


def run(
    practice: Practice,
    paths: list[Path],
    jobs: int = 1,
    settings: Settings = SETTINGS,
    afresh: bool = False,
    open_reader: Callable[[Settings], Path] = scripted_reader,
) -> dict[str, Checked]:
    """Check the clips; what came of each, by name."""
    done: list[Checked] = []
    with Record(practice.folder / "checked" / "record.sqlite", make=True) as record:
        check_clips(
            paths,
            practice,
            settings,
            record,
            jobs,
            done.append,
            afresh=afresh,
            measure=scripted_measure,
            open_reader=open_reader,
        )
    assert sorted(each.path for each in done) == sorted(paths)
    return {each.path.stem: each for each in done}


def on_record(practice: Practice) -> dict[str, ClipResult]:
    with Record(practice.folder / "checked" / "record.sqlite") as record:
        return {result.path.stem: result for result in record.results(practice)}


def test_every_clip_is_measured_and_saved(practice: Practice) -> None:
    paths = clips(practice, a="fine", b="fine", c="fine", d="fine")
    done = run(practice, paths, jobs=2)
    assert {each.source for each in done.values()} == {Source.MEASURED}
    assert set(on_record(practice)) == {"a", "b", "c", "d"}
    assert sorted(name for name, _ in calls(practice)) == ["a.mp4", "b.mp4", "c.mp4", "d.mp4"]
    # at most one reader for each worker
    assert 1 <= len({worker for _, worker in calls(practice)}) <= 2
    for path in paths:
        kept = on_record(practice)[path.stem].provenance.settings_digest
        assert kept == measures_key(SETTINGS, practice, path)


def test_a_clip_that_comes_meanwhile_is_begun_as_soon_as_a_worker_is_free(
    practice: Practice,
) -> None:
    """Not only when all that were there before are done."""
    first, late, again = clips(practice, a="slow", b="fine", c="fine")
    coming, said = deque([[late], [again], [late]]), []
    done: list[str] = []

    def on_result(checked: Checked) -> None:
        done.append(checked.path.stem)
        if len(done) == 2:
            (practice.folder / "go").touch()

    with Record(practice.folder / "checked" / "record.sqlite", make=True) as record:
        check_clips(
            [first], practice, SETTINGS, record, 2, on_result,
            measure=scripted_measure, open_reader=scripted_reader,
            more=lambda: coming.popleft() if coming else [], on_more=said.append,
        )  # fmt: skip
    assert done == ["b", "c", "a"]  # and the one that was copied here twice is done once
    assert said == [[late], [again], [late]]
    assert sorted(name for name, _ in calls(practice)) == ["a.mp4", "b.mp4", "c.mp4"]


def test_what_is_on_record_is_not_measured_again(practice: Practice) -> None:
    paths = clips(practice, a="fine", b="nobody here")
    first = run(practice, paths)
    again = run(practice, paths)
    assert {each.source for each in again.values()} == {Source.ON_RECORD}
    assert len(calls(practice)) == 2
    assert again["b"].result.fault == first["b"].result.fault
    assert again["a"].result.reps[0].measures == first["a"].result.reps[0].measures
    run(practice, paths, settings=Settings(reach_m=2.0))
    assert len(calls(practice)) == 4
    run(practice, paths, settings=Settings(reach_m=2.0), afresh=True)
    assert len(calls(practice)) == 6


def test_what_other_code_measured_is_measured_again(
    practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same clip, settings and version."""
    paths = clips(practice, a="fine", b="nobody here")
    with monkeypatch.context() as older:
        older.setattr(keys, "measures_fingerprint", lambda: "other code")
        run(practice, paths)
    # What the worker measured is its own code's, of what could not be measured it is the parent's.
    again = run(practice, paths)
    assert {name: each.source for name, each in again.items()} == {
        "a": Source.ON_RECORD,
        "b": Source.MEASURED,
    }
    monkeypatch.setattr(keys, "measures_fingerprint", lambda: "newer code")
    assert {each.source for each in run(practice, paths).values()} == {Source.MEASURED}


def test_a_renamed_clip_is_not_measured_again(practice: Practice) -> None:
    (path,) = clips(practice, a="fine")
    run(practice, [path])
    renamed = path.rename(path.with_name("robin.mp4"))
    assert run(practice, [renamed])["robin"].source is Source.ON_RECORD
    assert set(on_record(practice)) == {"robin"}


def test_clips_that_are_numbered_anew_are_not_measured_again(practice: Practice) -> None:
    paths = clips(practice, a="fine", b="fine", c="fine")
    run(practice, paths)
    before = on_record(practice)
    for path in reversed(paths):
        path.rename(path.with_stem(chr(ord(path.stem) + 1)))
    clips(practice, a="fine new")
    done = run(practice, sorted(practice.folder.glob("*.mp4")))
    assert [done[name].source for name in "abcd"] == [Source.MEASURED, *[Source.ON_RECORD] * 3]
    now = on_record(practice)
    for old, new in zip("abc", "bcd", strict=True):
        assert now[new].clip_digest == before[old].clip_digest
        assert now[new].reps[0].measures == before[old].reps[0].measures


def test_numbering_that_closes_a_gap_keeps_the_figures_of_film_that_is_gone(
    practice: Practice,
) -> None:
    paths = clips(practice, a="fine", b="fine", c="fine")
    run(practice, paths)
    gone = file_digest(paths[0])
    paths[1].rename(paths[0])
    paths[2].rename(paths[1])
    assert {each.source for each in run(practice, paths[:2]).values()} == {Source.ON_RECORD}
    assert set(on_record(practice)) == {"a", "b"}
    with Record(practice.folder / "checked" / "record.sqlite") as record:
        assert record.load(gone).reps[0].measures
        assert len(record.clips(practice)) == 3


def test_clips_that_are_numbered_anew_while_others_are_measured(practice: Practice) -> None:
    paths = clips(practice, a="fine", b="fine")
    run(practice, paths)
    first = clips(practice, c="fine")
    coming: deque[list[Path]] = deque([[], paths])
    sources = {}

    def more() -> list[Path]:
        if not coming:
            return []
        if come := coming.popleft():
            swap = practice.folder / "swap"
            for old, new in ((paths[0], swap), (paths[1], paths[0]), (swap, paths[1])):
                old.rename(new)
        return come

    with Record(practice.folder / "checked" / "record.sqlite") as record:
        check_clips(
            first, practice, SETTINGS, record, 1,
            lambda checked: sources.update({checked.path.stem: checked.source}),
            measure=scripted_measure, open_reader=scripted_reader, more=more,
        )  # fmt: skip
    assert sources == {"a": Source.ON_RECORD, "b": Source.ON_RECORD, "c": Source.MEASURED}


@pytest.mark.parametrize("kind", ["parquet", "jpg"])
def test_a_record_with_a_hole_is_filled(practice: Practice, kind: str) -> None:
    paths = clips(practice, a="fine", b="fine")
    run(practice, paths)
    next((practice.folder / "checked").rglob(f"*.{kind}")).unlink()
    sources = [each.source for each in run(practice, paths).values()]
    assert sorted(sources) == [Source.MEASURED, Source.ON_RECORD]
    assert all(result.reps[0].picture for result in on_record(practice).values())


def test_measuring_afresh_looks_at_the_film_again(practice: Practice) -> None:
    """Keypoints kept by the measuring itself go too, those of other clips stay."""
    paths = clips(practice, a="fine", b="fine")
    folder = practice.folder / "keypoints"
    folder.mkdir()
    kept = {path.stem: folder / f"{file_digest(path)[:16]}-0123.parquet" for path in paths}
    for file in kept.values():
        file.touch()
    settings = Settings(keypoints_folder=folder)
    run(practice, paths, settings=settings)
    assert all(file.exists() for file in kept.values())
    run(practice, paths[:1], settings=settings, afresh=True)
    assert [name for name, file in kept.items() if file.exists()] == ["b"]


def test_copies_are_measured_once(practice: Practice) -> None:
    paths = clips(practice, a="fine")
    for name in ("b", "c"):
        path = practice.folder / f"{name}.mp4"
        path.write_bytes(paths[0].read_bytes())
        paths.append(path)
    practice = dataclasses.replace(practice, notes={"c.mp4": ClipNotes(spot="top")})
    done = run(practice, paths)
    # the one that the coach has said something of gives the name
    assert done["c"].source is Source.MEASURED
    for name in ("a", "b"):
        want = Checked(practice.folder / f"{name}.mp4", Source.COPY, None, paths[2])
        assert done[name] == want
    assert set(on_record(practice)) == {"c"}


LOG = "please report this with the file posecheck.log from the output folder."

FAULTS = {
    # what stands in the clip: (the sentence, whether the next run tries again)
    "nobody": ("bad.mp4: no player is to be seen; film closer.", False),
    "stumble": (
        f"bad.mp4: posecheck itself failed on it (ZeroDivisionError: division by zero); {LOG}",
        True,
    ),
    "no memory": (
        "bad.mp4: its worker was stopped from outside, most likely because memory ran out; close "
        "other programs or use --jobs 1, then run the same command again.",
        True,
    ),
    "killed": (
        "bad.mp4: its worker was stopped from outside twice, most likely because memory ran "
        "out; close other programs or use --jobs 1, then run the same command again.",
        True,
    ),
}


@pytest.mark.parametrize("text", FAULTS)
def test_a_fault_costs_only_its_clip(practice: Practice, text: str) -> None:
    sentence, again = FAULTS[text]
    paths = clips(practice, a="fine", bad=text, c="fine", d="fine")
    done = run(practice, paths, jobs=2)
    assert {name for name, each in done.items() if each.result.fault is None} == {"a", "c", "d"}
    assert done["bad"].result.fault == sentence
    kept = on_record(practice)
    assert kept["bad"].fault == sentence
    assert len(kept) == 4
    tries = 2 if text == "killed" else 1
    assert [name for name, _ in calls(practice)].count("bad.mp4") == tries
    run(practice, paths)
    assert [name for name, _ in calls(practice)].count("bad.mp4") == (2 * tries if again else 1)
    log = practice.folder / "checked" / "posecheck.log"
    assert log.exists() == (text == "stumble")
    if log.exists():
        assert "bad.mp4" in log.read_text()
        assert 'raise ZeroDivisionError("division\\nby zero")' in log.read_text()


def test_a_clip_whose_worker_dies_is_tried_once_more(practice: Practice) -> None:
    done = run(practice, clips(practice, a="fine", bad="dies once", c="fine"))
    assert all(each.result.fault is None for each in done.values())
    tried = [worker for name, worker in calls(practice) if name == "bad.mp4"]
    assert len(set(tried)) == 2


@pytest.mark.parametrize("text", ["stuck", "asleep"])
def test_a_clip_without_an_end_costs_only_itself(
    practice: Practice, monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    """Also when the worker cannot even end itself."""
    monkeypatch.setattr(batch, "limit_s", lambda path: 5.0)  # loading what it needs takes some
    monkeypatch.setattr(workers, "LIMIT_GRACE_S", 3.0)
    done = run(practice, clips(practice, a="fine", bad=text, c="fine"), jobs=2)
    assert done["bad"].result.fault == (
        "bad.mp4: it was given up twice, each time after 5 seconds without an end; copy it from "
        "the phone again."
    )
    assert [name for name, _ in calls(practice)].count("bad.mp4") == 2
    assert {name for name, each in done.items() if each.result.fault is None} == {"a", "c"}


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda path: None, "bad.mp4: there is no such file; check the name."),
        (Path.mkdir, "bad.mp4: this is a folder; name the clips in it."),
        (Path.touch, "bad.mp4: the file is empty; copy it from the phone again."),
    ],
)
def test_a_file_that_cannot_be_read_costs_only_its_clip(
    practice: Practice, make: Callable[[Path], None], sentence: str
) -> None:
    bad = practice.folder / "bad.mp4"
    make(bad)
    paths = [bad, *clips(practice, a="fine")]
    done = run(practice, paths)
    assert done["bad"].result.fault == sentence
    assert done["a"].result.fault is None
    assert on_record(practice)["bad"].fault == sentence
    assert [name for name, _ in calls(practice)] == ["a.mp4"]


def test_a_file_that_can_be_read_after_all(practice: Practice) -> None:
    path = practice.folder / "a.mp4"
    path.touch()
    assert run(practice, [path])["a"].result.fault is not None
    path.write_text("fine")
    assert run(practice, [path])["a"].result.fault is None
    assert on_record(practice)["a"].fault is None


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def unplugged(path: Path) -> None:
    path.unlink()
    path.symlink_to(path.parent / "usb stick" / path.name)


@pytest.mark.parametrize(
    ("spoil", "fault"),
    [
        (emptied, "the file is empty; copy it from the phone again"),
        (unplugged, "there is no such file; check the name"),
    ],
)
def test_a_file_that_cannot_be_read_now_keeps_what_was_measured(
    practice: Practice, spoil: Callable[[Path], None], fault: str
) -> None:
    paths = clips(practice, a="fine", b="fine", c="nobody here")
    run(practice, paths)
    before = on_record(practice)
    for path in paths:
        film = path.read_bytes()
        spoil(path)
        (name, checked), *_ = run(practice, [path]).items()
        assert checked.source is Source.UNREADABLE
        assert checked.result.fault == (
            f"{path.name}: {fault}; what was measured of it stays on record."
        )
        assert not checked.result.reps
        path.unlink()
        path.write_bytes(film)
        assert on_record(practice)[name].fault == before[name].fault
    assert {each.source for each in run(practice, paths).values()} == {Source.ON_RECORD}
    assert len(calls(practice)) == 3


def test_without_a_model_nothing_is_tried(practice: Practice) -> None:
    paths = clips(practice, a="fine", b="fine")
    with pytest.raises(ModelError) as caught:
        run(practice, paths, open_reader=no_reader)
    assert str(caught.value) == "The pose model is not there; fetch it."
    assert on_record(practice) == {}


@dataclasses.dataclass(frozen=True)
class Counted(Task):
    """Other work: says its name."""

    def run(self, reader: None) -> str:
        return self.name


class Besides:
    """One more task for each clip that is measured, and one at last."""

    def __init__(self, measured: list[Checked]) -> None:
        self.measured, self.given = measured, 0
        self.outcomes: list[object] = []
        self.measured_at_last: int | None = None

    def next_task(self, last: bool) -> Task | None:
        if self.given < len(self.measured):
            self.given += 1
            return Counted(f"after {self.measured[self.given - 1].path.stem}", Path("x"), 60.0)
        if last and self.measured_at_last is None:
            self.measured_at_last = len(self.measured)
            return Counted("at last", Path("x"), 60.0)
        return None

    def done(self, task: Task, outcome: object) -> None:
        self.outcomes.append(outcome)


def test_workers_do_other_work_besides(practice: Practice) -> None:
    paths = clips(practice, a="fine", b="fine", c="fine")
    measured: list[Checked] = []
    besides = Besides(measured)
    with Record(practice.folder / "checked" / "record.sqlite", make=True) as record:
        check_clips(
            paths,
            practice,
            SETTINGS,
            record,
            2,
            measured.append,
            measure=scripted_measure,
            open_reader=scripted_reader,
            besides=besides,
        )
    assert besides.measured_at_last == 3  # none was in hand any more
    assert sorted(map(str, besides.outcomes)) == ["after a", "after b", "after c", "at last"]


# -- runs that end early -------------------------------------------------------------------------


def start(practice: Practice, paths: list[Path]) -> subprocess.Popen[str]:
    """Run in a program of its own, and wait until the slow clip is in hand."""
    program = f"""
        import sys
        from pathlib import Path
        from test_batch import run
        from posecheck.practice.practice import Practice

        if __name__ == "__main__":
            paths = {[str(path) for path in paths]!r}
            try:
                run(Practice(Path({str(practice.folder)!r}), "practice"), list(map(Path, paths)))
            except KeyboardInterrupt:
                sys.exit(130)
    """
    script = practice.folder / "program.py"
    script.write_text(textwrap.dedent(program))
    run_path = os.pathsep.join([str(Path(__file__).parent), *sys.path])
    process = subprocess.Popen(
        [sys.executable, str(script)],
        env=os.environ | {"PYTHONPATH": run_path},
        stderr=subprocess.PIPE,
        text=True,
    )
    until(lambda: (practice.folder / "b.pid").exists())
    return process


def until(happened: Callable[[], bool], at_most_s: float = 20.0) -> None:
    end = time.monotonic() + at_most_s
    while not happened():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.02)


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    # a process that has ended but was not waited for still has its number
    stat = Path(f"/proc/{pid}/stat")
    return not stat.exists() or stat.read_text().rsplit(")", 1)[1].split()[0] != "Z"


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_stopped_run_keeps_what_is_done(practice: Practice, how: signal.Signals) -> None:
    paths = clips(practice, a="fine", b="slow", c="fine")
    process = start(practice, paths)
    worker = int((practice.folder / "b.pid").read_text())
    process.send_signal(how)
    _, said = process.communicate(timeout=20)
    assert process.returncode == (130 if how is signal.SIGINT else -signal.SIGKILL)
    if how is signal.SIGINT:
        assert said == ""
    until(lambda: not alive(worker))
    assert set(on_record(practice)) == {"a"}
    paths[1].write_text("fine after all")
    done = run(practice, paths)
    assert {name: each.source for name, each in done.items()} == {
        "a": Source.ON_RECORD,
        "b": Source.MEASURED,
        "c": Source.MEASURED,
    }
