"""`posecheck stars` as typed."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from factories import make_clip_result, make_rep_result
from films import write_film

from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.stars import show_stars
from posecheck.errors import UsageError
from posecheck.judging.thresholds import Thresholds
from posecheck.pages.annotated import annotated_name
from posecheck.pipeline.judge import judge_clip
from posecheck.practice.practice import Practice
from posecheck.store.record import Record
from posecheck.video.clip import open_clip


@pytest.fixture
def practice(tmp_path: Path) -> Practice:
    return Practice(tmp_path, "Tuesday")


@pytest.fixture
def record(practice: Practice) -> Record:
    """Three judged reps in two clips, with films in place of annotated clips."""
    with Record(practice.folder / "checked" / "record.sqlite", make=True) as record:
        for name, kinds in (("a", ["upright"]), ("b", ["breakdown", "upright"])):
            reps = tuple(
                make_rep_result(kind, number, start_s=10.0 * number)
                for number, kind in enumerate(kinds, 1)
            )
            result = make_clip_result(practice.folder / f"{name}.mp4", reps=reps)
            record.save(practice, result)
            judge_clip(record, practice, result, Thresholds())
            for rep in reps:
                path = record.folder / "clips" / annotated_name(result, rep)
                path.parent.mkdir(exist_ok=True)
                write_film(path, size=(320, 180))
        yield record


def star(record: Record, practice: Practice, number: int) -> None:
    """Star a rep by its number on the page."""
    keys = [(each.clip_digest, each.number) for each in record.measured_reps(practice)]
    record.star(*keys[number - 1])


def test_the_starred_reps_as_list_and_film(
    record: Record, practice: Practice, capsys: pytest.CaptureFixture[str]
) -> None:
    star(record, practice, 3)
    star(record, practice, 1)
    film, listed = practice.folder / "stars.mp4", practice.folder / "stars.csv"
    assert show_stars(record, practice, None, film, listed) == ExitCode.ALL_MEASURED
    out = capsys.readouterr().out
    assert [line.split(",")[0] for line in out.splitlines()[:2]] == ["Rep 1", "Rep 3"]
    assert "The film of 2 reps:" in out
    assert "consent" in out
    rows = listed.read_text("utf-8-sig").splitlines()
    assert [row.split(",")[0] for row in rows] == ["rep", "1", "3"]
    # Two title cards of 3 s and two films of a second.
    assert open_clip(film).t_s[-1] == pytest.approx(8, abs=0.1)


def test_reps_named_instead_in_the_order_named(
    record: Record, practice: Practice, capsys: pytest.CaptureFixture[str]
) -> None:
    show_stars(record, practice, (3, 2), None, None)
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(",")[0] for line in lines] == ["Rep 3", "Rep 2"]
    assert "unknown" in lines[0]


def test_nothing_starred_or_a_number_that_is_not_there(record: Record, practice: Practice) -> None:
    with pytest.raises(UsageError, match="no rep is starred; star some on the page"):
        show_stars(record, practice, None, None, None)
    with pytest.raises(UsageError, match="no rep 7 on the page; it holds 3 reps"):
        show_stars(record, practice, (1, 7), None, None)


@pytest.mark.parametrize("results", ["checked", "elsewhere"])
def test_what_is_not_starred_is_the_folder_that_was_given(
    results: str, practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(practice.folder.parent)
    given = Path(practice.folder.name if results == "checked" else results)
    path = (given / "checked" if results == "checked" else given) / "record.sqlite"
    with Record(path, make=True) as record, pytest.raises(UsageError, match=f"^{given}: no rep"):
        show_stars(record, practice, None, None, None)


def test_numbers_that_are_none_are_a_usage_error(
    record: Record, practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    from posecheck.cli import commands

    folder = str(practice.folder)
    monkeypatch.setattr("sys.argv", ["posecheck", "stars", folder, "--reps", "two"])
    with pytest.raises(SystemExit) as ended:
        commands.main()
    assert ended.value.code == ExitCode.BAD_USAGE


def test_a_rep_measured_again_keeps_its_star(record: Record, practice: Practice) -> None:
    star(record, practice, 1)
    first = next(record.results(practice))
    record.save(practice, dataclasses.replace(first, n_frames=first.n_frames + 1))
    judge_clip(record, practice, first, Thresholds())
    assert show_stars(record, practice, None, None, None) == ExitCode.ALL_MEASURED
