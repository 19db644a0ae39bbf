"""Where the record of a practice is looked for, and what is said where there is none."""

from __future__ import annotations

from pathlib import Path

import pytest

from posecheck.errors import UsageError
from posecheck.files.names import OUTPUT_FOLDER, RECORD_FILE
from posecheck.store.finding import find_record


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
