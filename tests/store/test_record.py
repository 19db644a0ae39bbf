"""The record: what goes in comes out, and errors with remedies when it cannot be used."""

from __future__ import annotations

import dataclasses
import errno
import math
import os
import sqlite3
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pytest
from factories import make_clip_result, make_provenance, make_rep_result
from old_records import take_back

from posecheck.errors import RecordError
from posecheck.filming.quality import NOT_GRADED
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, Finding, Verdict
from posecheck.measures.measure import Measure
from posecheck.measures.result import ClipResult, Series
from posecheck.practice.practice import Practice
from posecheck.reps.rep import Rep
from posecheck.store import database
from posecheck.store.record import MeasuredRep, Record

VERDICT = Verdict(
    Call.FLAGGED,
    "upright run-out: knee bend 17°",
    (
        Finding("upright_run_out", Call.FLAGGED, "knee bend 17° (11 to 23)", "sit down early"),
        Finding("hands_in", Call.CANT_TELL, "hands hidden", "film from the side"),
        Finding("narrow_base", Call.CLEAR, "base 1.9", ""),
    ),
)


@pytest.fixture
def practice(tmp_path: Path) -> Practice:
    folder = tmp_path / "Übung"
    folder.mkdir()
    return Practice(folder, "Übung")


@pytest.fixture
def record(practice: Practice) -> Record:
    with Record(practice.folder / "checked" / "record.sqlite", make=True) as record:
        yield record


def assert_same(got: object, want: object, where: str = "result") -> None:
    """Equal field by field, arrays to the last bit, NaN equal to NaN."""
    if dataclasses.is_dataclass(want):
        assert type(got) is type(want), where
        for field in dataclasses.fields(want):
            name = field.name
            assert_same(getattr(got, name), getattr(want, name), f"{where}.{name}")
    elif isinstance(want, np.ndarray):
        np.testing.assert_array_equal(got, want, err_msg=where, strict=True)
    elif isinstance(want, tuple | list):
        assert len(got) == len(want), where
        for i, (g, w) in enumerate(zip(got, want, strict=True)):
            assert_same(g, w, f"{where}[{i}]")
    elif isinstance(want, dict):
        assert list(got) == list(want), where
        for key in want:
            assert_same(got[key], want[key], f"{where}[{key}]")
    elif isinstance(want, float) and math.isnan(want):
        assert math.isnan(got), where
    else:
        assert type(got) is type(want), where
        assert got == want, where


def empty_series() -> Series:
    shapes = {"defender_xy_m": (2,), "attacker_xy_m": (2,)}
    shapes |= {"defender_xy_px": (33, 2), "attacker_xy_px": (33, 2)}
    names = [field.name for field in dataclasses.fields(Series)]
    return Series(**{name: np.empty((0, *shapes.get(name, ()))) for name in names})


def results_to_keep(folder: Path) -> dict[str, ClipResult]:
    """Results with something odd about each."""
    unseen = dataclasses.replace(
        make_rep_result("upright", picture=False, knee_bend_deg=None),
        rep=Rep(0.4, None, None, 3.9, None),
        on_field=False,
        film=("the defender is only 120 px tall", "the end of the film is damaged"),
    )
    second = make_rep_result("unclear", number=2, start_s=7.0)
    expected = dataclasses.replace(unseen, rep=Rep(0.4, 1.1, None, 3.9, None, expected_s=2.9))
    nothing = dataclasses.replace(make_rep_result(picture=False), series=empty_series())
    unknown = dataclasses.replace(
        make_clip_result(folder / "audio.mp4", fault="audio.mp4: no picture."),
        width_px=0,
        height_px=0,
        n_frames=0,
        duration_s=math.nan,
        rate_hz=math.nan,
    )
    return {
        "plain": make_clip_result(folder / "a.mp4"),
        "two reps, one without arrival": make_clip_result(folder / "b.mp4", reps=(unseen, second)),
        "an arrival that is expected": make_clip_result(folder / "d.mp4", reps=(expected,)),
        "a rep of no frames": make_clip_result(folder / "c.mp4", reps=(nothing,)),
        "accents in folder and name": make_clip_result(folder / "zoé #1 (ñ) 日本.mp4"),
        "accents as characters of their own": make_clip_result(folder / "zoe\u0301.mp4"),
        "nothing measured, nothing known of the film": unknown,
        "outside the practice's folder": make_clip_result(folder.parent / "else.mp4"),
    }


CASES = list(results_to_keep(Path("x")))


@pytest.mark.parametrize("case", CASES)
def test_a_result_comes_back_as_it_was(record: Record, practice: Practice, case: str) -> None:
    result = results_to_keep(practice.folder)[case]
    record.save(practice, result)
    assert_same(record.load(result.clip_digest), result)


def test_results_outlive_the_program_and_the_folder_s_place(
    record: Record, practice: Practice
) -> None:
    for result in results_to_keep(practice.folder).values():
        record.save(practice, result)
    record.close()
    elsewhere = practice.folder.rename(practice.folder.parent / "moved")
    with Record(elsewhere / "checked" / "record.sqlite") as again:
        assert again.practice_folders() == (elsewhere,)
        moved = Practice(elsewhere, "moved")
        got = {result.clip_digest: result for result in again.results(moved)}
    for name, want in results_to_keep(practice.folder).items():
        path = want.path
        if path.is_relative_to(practice.folder):
            path = elsewhere / path.relative_to(practice.folder)
        assert_same(got[want.clip_digest], dataclasses.replace(want, path=path), name)


def test_has_asks_for_content_and_settings(record: Record, practice: Practice) -> None:
    result = make_clip_result(practice.folder / "a.mp4")
    settings_digest = result.provenance.settings_digest
    assert not record.has(result.clip_digest, settings_digest)
    record.save(practice, result)
    assert record.has(result.clip_digest, settings_digest)
    assert not record.has(result.clip_digest, "ef" * 32)
    assert not record.has("ef" * 32, settings_digest)


def files(record: Record) -> list[str]:
    paths = record.folder.rglob("*")
    return sorted(path.name for path in paths if path.suffix in {".parquet", ".jpg"})


def test_measuring_again_takes_the_place_of_what_was_there(
    record: Record, practice: Practice
) -> None:
    path = practice.folder / "a.mp4"
    two = (make_rep_result(number=1), make_rep_result(number=2, start_s=6.0))
    record.save(practice, make_clip_result(path, reps=two))
    first = files(record)
    assert len(first) == 3
    # fewer reps under the same settings: the second picture goes
    record.save(practice, make_clip_result(path))
    assert files(record) == [name for name in first if not name.endswith("-2.jpg")]
    # other settings
    other = make_clip_result(path, provenance=make_provenance(settings_digest="12" * 32))
    record.save(practice, other)
    assert_same(list(record.results(practice)), [other])
    assert len(files(record)) == 2
    assert not set(files(record)) & set(first)
    # other content under the same name
    cut = make_clip_result(path, kind="upright", clip_digest="34" * 32)
    record.save(practice, cut)
    assert_same(list(record.results(practice)), [cut])
    assert len(files(record)) == 2


def kept_beside(record: Record, result: ClipResult) -> list[Path]:
    """Files that drawing and measuring keep of a clip, made up."""
    digest = result.clip_digest
    names = (
        f"keypoints/{digest[:16]}-0123456789abcdef.parquet",
        f"clips/a-1-{digest[:8]}.mp4",
        f"stills/a-1-{digest[:8]}-thumb.jpg",
        f"players/films/{digest[:16]}-1-01234567.mp4",
    )
    for path in (paths := [record.folder / name for name in names]):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    return paths


def test_of_another_film_under_the_same_name_nothing_is_left(
    record: Record, practice: Practice
) -> None:
    path = practice.folder / "a.mp4"
    first, other = make_clip_result(path), make_clip_result(practice.folder / "b.mp4")
    for result in (first, other):
        record.save(practice, result)
    shown, others = kept_beside(record, first), kept_beside(record, other)
    record.save(practice, make_clip_result(path))
    assert all(file.exists() for file in shown), "the same film, measured again"
    record.save(practice, make_clip_result(path, clip_digest="34" * 32))
    assert not [file.name for file in record.folder.rglob(f"*{first.clip_digest[:8]}*")]
    assert all(file.exists() for file in others)


def test_a_renamed_clip_keeps_its_measures(record: Record, practice: Practice) -> None:
    result = make_clip_result(practice.folder / "a.mp4")
    record.save(practice, result)
    record.save(practice, make_clip_result(practice.folder / "old.mp4"))
    record.moved(practice, result.clip_digest, practice.folder / "old.mp4")
    moved = dataclasses.replace(result, path=practice.folder / "old.mp4")
    assert_same(list(record.results(practice)), [moved])


def test_names_that_go_round_cost_nothing(record: Record, practice: Practice) -> None:
    a, b, c = (make_clip_result(practice.folder / f"{name}.mp4") for name in "abc")
    for result in (a, b, c):
        record.save(practice, result)
    now = {a.clip_digest: b.path, b.clip_digest: c.path, c.clip_digest: a.path}
    record.claim_names(practice, now | {"ef" * 32: practice.folder / "new.mp4"})
    assert_same(
        list(record.results(practice)),
        [dataclasses.replace(result, path=now[result.clip_digest]) for result in (c, a, b)],
    )


def test_a_clip_whose_name_another_takes_is_away_with_its_figures_kept(
    record: Record, practice: Practice
) -> None:
    a, b = (make_clip_result(practice.folder / f"{name}.mp4") for name in "ab")
    bad = make_clip_result(practice.folder / "bad.mp4", fault="bad.mp4: nobody is in it.")
    for result in (a, b, bad):
        record.save(practice, result)
    beside = kept_beside(record, a)
    record.claim_names(practice, {b.clip_digest: a.path})
    earlier = f"a (earlier film {a.clip_digest[:8]}).mp4"
    assert [path.name for path, _ in record.clips(practice, taken_away=False)] == [
        "a.mp4",
        "bad.mp4",
    ]
    assert (practice.folder / earlier, a.clip_digest) in record.clips(practice)
    assert record.load(a.clip_digest).reps[0].measures == a.reps[0].measures
    assert [file.exists() for file in beside] == [True, False, False, False]
    # It is back under a name of its own, and one that was not measured makes room for good.
    record.moved(practice, a.clip_digest, bad.path)
    assert [path.name for path, _ in record.clips(practice)] == ["a.mp4", "bad.mp4"]
    assert record.digests() == {a.clip_digest, b.clip_digest}
    assert not [file.name for file in record.folder.rglob(f"*{bad.clip_digest[:8]}*")]


def test_practices_in_one_record_are_kept_apart(record: Record, practice: Practice) -> None:
    other = Practice(practice.folder.parent / "other", "other")
    mine, theirs = (
        make_clip_result(practice.folder / "a.mp4"),
        make_clip_result(other.folder / "a.mp4"),
    )
    record.save(practice, mine)
    record.save(other, theirs)
    assert_same(list(record.results(practice)), [mine])
    assert_same(list(record.results(other)), [theirs])
    assert record.practice_folders() == (practice.folder, other.folder)


def test_verdicts_are_written_again_without_touching_measures(
    record: Record, practice: Practice
) -> None:
    result = make_clip_result(practice.folder / "a.mp4")
    digest = result.clip_digest
    record.save(practice, result)
    assert record.verdicts(digest) == {}
    assert record.thresholds(digest) is None
    lenient = Thresholds(min_knee_bend_deg=40.0)
    clear = Verdict(Call.CLEAR, "broke down", ())
    record.save_verdicts({(digest, 1): VERDICT}, Thresholds())
    assert record.verdicts(digest) == {1: VERDICT}
    record.save_verdicts({(digest, 1): clear}, lenient)
    assert record.verdicts(digest) == {1: clear}
    assert record.thresholds(digest) == lenient
    assert_same(record.load(digest), result)
    rep = MeasuredRep(
        result.path, digest, 1, result.reps[0].measures, clear, result.reps[0].quality
    )
    assert record.measured_reps(practice) == [rep]


def test_judging_needs_no_series(record: Record, practice: Practice) -> None:
    result = make_clip_result(practice.folder / "a.mp4")
    record.save(practice, result)
    for path in record.folder.rglob("*.parquet"):
        path.unlink()
    assert record.measured_reps(practice)[0].measures == result.reps[0].measures


def test_measures_keep_odd_numbers(record: Record, practice: Practice) -> None:
    odd = {
        key: Measure(key, value, value, value, "1 of 1 frames")
        for key, value in {"a": 0.1 + 0.2, "b": -0.0, "c": 1e-300, "d": 5}.items()
    }
    rep = dataclasses.replace(make_rep_result(), measures=odd)
    result = make_clip_result(practice.folder / "a.mp4", reps=(rep,))
    record.save(practice, result)
    assert record.load(result.clip_digest).reps[0].measures == odd


# -- faults --------------------------------------------------------------------------------------


def test_a_run_killed_while_saving_loses_the_clip_in_hand_only(
    record: Record, practice: Practice
) -> None:
    kept = make_clip_result(practice.folder / "a.mp4")
    record.save(practice, kept)
    program = f"""
        import os
        from pathlib import Path
        from factories import make_clip_result
        from posecheck.practice.practice import Practice
        from posecheck.store.record import Record

        folder = Path({str(practice.folder)!r})
        record = Record(folder / "checked" / "record.sqlite")
        record._db.set_trace_callback(lambda sql: os._exit(9) if "INTO measures" in sql else None)
        record.save(Practice(folder, "x"), make_clip_result(folder / "b.mp4"))
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(program)],
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        check=False,
    )
    assert done.returncode == 9
    assert_same(list(record.results(practice)), [kept])
    lost = make_clip_result(practice.folder / "b.mp4")
    record.save(practice, lost)
    assert_same(list(record.results(practice)), [kept, lost])


def complaint(path: Path, make: bool = False) -> str:
    with pytest.raises(RecordError) as caught:
        Record(path, make)
    return str(caught.value)


@pytest.mark.parametrize("content", [None, b""])
def test_a_record_that_is_gone_does_not_come_back_empty(
    tmp_path: Path, content: bytes | None
) -> None:
    path = tmp_path / "checked" / "record.sqlite"
    if content is None:
        said = "the record is not there any more; put it back, or run posecheck check again"
    else:
        path.parent.mkdir()
        path.write_bytes(content)
        said = "this is no record of posecheck; move it away or use --out"
    before = sorted(tmp_path.rglob("*"))
    assert complaint(path) == f"{path}: {said}."
    assert sorted(tmp_path.rglob("*")) == before
    assert content is None or path.read_bytes() == content
    Record(path, make=True).close()
    Record(path).close()


def test_a_file_that_is_no_database(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    path.write_text("shopping list " * 100)
    assert complaint(path) == (
        f"{path}: this is no record of posecheck; move it away or use --out."
    )


def test_a_database_of_another_program(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()
    assert complaint(path) == (
        f"{path}: this is a database of another program; move it away or use --out."
    )


def test_a_record_from_before_film_was_graded_is_read_and_goes_on(
    record: Record, practice: Practice
) -> None:
    result = make_clip_result(practice.folder / "a.mp4")
    record.save(practice, result)
    record.close()
    take_back(record.path, 1)
    for _ in range(2):  # updated once, then left alone
        with Record(record.path) as again:
            (rep,) = again.load(result.clip_digest).reps
            assert rep.quality == NOT_GRADED
            assert rep.measures == result.reps[0].measures
    with Record(record.path) as again:
        again.save(practice, result)
        assert_same(again.load(result.clip_digest), result)


def test_a_record_of_a_newer_posecheck(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    Record(path, make=True).close()
    with sqlite3.connect(path) as db:
        db.execute(f"PRAGMA user_version = {database.SCHEMA_VERSION + 1}")
    db.close()
    assert complaint(path) == (
        f"{path}: this record was made by a newer posecheck; update posecheck, or use --out."
    )


def test_a_record_that_another_program_writes_to(
    record: Record, practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "PATIENCE_S", 0.05)
    with Record(record.path) as late:
        record._db.execute("BEGIN IMMEDIATE")
        with pytest.raises(RecordError) as caught:
            late.save(practice, make_clip_result(practice.folder / "a.mp4"))
        record._db.execute("ROLLBACK")
    assert str(caught.value) == (
        f"{record.path}: another program is writing to it; wait for it to end, then try again."
    )


def test_a_full_disk_for_the_database(record: Record, practice: Practice) -> None:
    pages = record._db.execute("PRAGMA page_count").fetchone()[0]
    record._db.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(RecordError) as caught:
        for number in range(50):
            record.save(practice, make_clip_result(practice.folder / f"{number}.mp4"))
    assert str(caught.value) == (
        f"{record.path}: the disk is full; free some space, then run the same command again."
    )
    record._db.execute("PRAGMA max_page_count = 100000")
    result = make_clip_result(practice.folder / "a.mp4")
    record.save(practice, result)
    assert_same(record.load(result.clip_digest), result)


def test_a_full_disk_for_the_files(
    record: Record, practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    result = make_clip_result(practice.folder / "a.mp4")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RecordError) as caught:
        record.save(practice, result)
    folder = record.folder / "series"
    name = f"{result.clip_digest[:16]}-{'cd' * 8}.parquet"
    assert str(caught.value) == (
        f"{folder}: {name} cannot be written (No space left on device); free some space "
        "or change the folder's permissions, then run the same command again."
    )
    assert list(record.results(practice)) == []


def test_an_output_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "checked").write_text("a file in the way")
    assert complaint(tmp_path / "checked" / "record.sqlite", make=True) == (
        f"{tmp_path / 'checked'}: the folder cannot be made (File exists); change the permissions "
        "or use --out."
    )


@pytest.mark.parametrize(
    ("kind", "fault", "message"),
    [
        (
            "parquet",
            "gone",
            "this part of the record is gone; check the clips again with --afresh.",
        ),
        (
            "parquet",
            "damaged",
            "this part of the record is damaged; check the clips again with --afresh.",
        ),
        (
            "jpg",
            "gone",
            "this picture of the record cannot be read (No such file or directory); check the "
            "clips again with --afresh.",
        ),
    ],
)
def test_a_file_beside_the_database_is_gone_or_damaged(
    record: Record, practice: Practice, kind: str, fault: str, message: str
) -> None:
    result = make_clip_result(practice.folder / "a.mp4")
    record.save(practice, result)
    (path,) = record.folder.rglob(f"*.{kind}")
    if fault == "gone":
        path.unlink()
    else:
        path.write_bytes(path.read_bytes()[:100])
    with pytest.raises(RecordError) as caught:
        record.load(result.clip_digest)
    assert str(caught.value) == f"{path}: {message}"


def test_a_clip_that_is_not_on_record(record: Record) -> None:
    with pytest.raises(RecordError) as caught:
        record.load("ab" * 32)
    assert str(caught.value) == (
        f"{record.path}: clip abababababab is not on record; check it first."
    )
    with pytest.raises(RecordError) as caught:
        record.save_verdicts({("ab" * 32, 3): VERDICT}, Thresholds())
    assert str(caught.value) == (
        f"{record.path}: rep 3 of clip abababababab is not on record; check it first."
    )
