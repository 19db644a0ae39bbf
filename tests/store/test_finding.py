"""Where the record of a practice is looked for, and what is said where there is none."""

from __future__ import annotations

from pathlib import Path

import pytest
from factories import make_clip_result

from posecheck.errors import UsageError
from posecheck.files.names import OUTPUT_FOLDER, PRACTICE_FILE, RECORD_FILE
from posecheck.practice.practice import Practice
from posecheck.store.finding import find_record, folders_with_clips, measured_practices
from posecheck.store.record import Record


def checked(results: Path) -> Path:
    results.mkdir(parents=True)
    (results / RECORD_FILE).touch()
    return results / RECORD_FILE


def test_a_practice_is_found_by_its_folder_and_by_its_results(tmp_path: Path) -> None:
    record = checked(tmp_path / OUTPUT_FOLDER)
    assert find_record(tmp_path) == find_record(tmp_path / OUTPUT_FOLDER) == record


@pytest.mark.parametrize(
    ("n", "listed"),
    [
        (1, "{0}/week-1"),
        (3, "{0}/week-1, {0}/week-2, {0}/week-3"),
        (7, "{0}/week-1, {0}/week-2, {0}/week-3, {0}/week-4, {0}/week-5 and 2 more"),
    ],
)
def test_of_a_season_its_practices_are_named(tmp_path: Path, n: int, listed: str) -> None:
    for number in range(1, n + 1):
        checked(tmp_path / f"week-{number}" / OUTPUT_FOLDER)
    with pytest.raises(UsageError) as caught:
        find_record(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path}: it holds practices and is none that has been checked; name one of them: "
        f"{listed.format(tmp_path)}."
    )


def test_results_that_lie_elsewhere_are_named_as_they_lie(tmp_path: Path) -> None:
    checked(tmp_path / "results" / "week-1")
    with pytest.raises(UsageError, match=r"name one of them: \S+/results/week-1\.$"):
        find_record(tmp_path)


def test_where_nothing_was_checked_it_says_so(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="nothing has been checked here; run posecheck check"):
        find_record(tmp_path)


def measured(results: Path, folder: Path) -> None:
    """A record in which a clip of a practice stands; its film is gone."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / PRACTICE_FILE).write_text('name = "Tuesday"')
    with Record(results / RECORD_FILE, make=True) as record:
        result = make_clip_result(folder / "a.mp4", clip_digest="ab" * 32)
        record.save(Practice(folder, "Tuesday"), result)


def test_a_practice_that_was_renamed_is_one_practice(tmp_path: Path) -> None:
    results, before, now = tmp_path / "res", tmp_path / "tuesday", tmp_path / "Tuesday 15"
    measured(results, before)
    before.rename(now)
    measured(results, now)  # the same film: it moves from one practice to the other
    with Record(results / RECORD_FILE) as record:
        assert record.practice_folders() == (before, now)
        assert folders_with_clips(record) == [now]
        (practice,) = measured_practices(record)
    assert (practice.name, practice.unknown) == ("Tuesday", {"a.mp4": 1})


def test_results_that_were_moved_away_from_their_practice_say_so(tmp_path: Path) -> None:
    measured(tmp_path / "tuesday" / OUTPUT_FOLDER, tmp_path / "tuesday")
    (tmp_path / "deep").mkdir()
    moved = (tmp_path / "tuesday" / OUTPUT_FOLDER).rename(tmp_path / "deep" / "res")
    with (
        Record(moved / RECORD_FILE) as record,
        pytest.raises(UsageError, match=r"its practice is no longer in \S+/deep, so its players"),
    ):
        measured_practices(record)
    # Of a practice without any description its film is enough.
    (tmp_path / "deep" / "a.mp4").touch()
    with Record(moved / RECORD_FILE) as record:
        assert len(measured_practices(record)) == 1


def test_a_check_that_was_stopped_at_once_left_nothing_to_show(tmp_path: Path) -> None:
    with (
        Record(tmp_path / RECORD_FILE, make=True) as record,
        pytest.raises(UsageError, match="nothing has been measured here yet; run posecheck check"),
    ):
        measured_practices(record)
