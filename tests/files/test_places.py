"""Places that nobody may look into, and names that no file can have."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from posecheck.cli.season import _line
from posecheck.errors import UsageError
from posecheck.files.places import existing, is_folder, there
from posecheck.files.results_folder import holds_results
from posecheck.practice.reading import read_practice
from posecheck.practice.season_folder import gather
from posecheck.store.finding import find_record, records_below
from posecheck.video.folder import find_clips

SAID = r"the folder cannot be looked into \(Permission denied\); change its permissions\.$"


@pytest.fixture
def locked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder into which nobody may look; not by its mode, which an administrator overrules."""
    folder = tmp_path / "tuesday"
    folder.mkdir()
    stat = Path.stat

    def refused(path: Path, *, follow_symlinks: bool = True) -> os.stat_result:
        if folder in path.parents:
            raise PermissionError(errno.EACCES, "Permission denied")
        return stat(path, follow_symlinks=follow_symlinks)

    monkeypatch.setattr(Path, "stat", refused)
    return folder


@pytest.mark.parametrize(
    "look",
    [
        lambda folder: existing(folder / "clips"),
        read_practice,
        lambda folder: gather([folder]),
        find_record,
        lambda folder: find_clips([folder / "clips"]),
    ],
)
def test_a_folder_that_nobody_may_look_into(locked: Path, look: Callable[[Path], object]) -> None:
    with pytest.raises(UsageError, match=SAID):
        look(locked)


def test_it_costs_a_season_one_practice(locked: Path) -> None:
    assert "cannot be looked into" in _line(locked, locked / "checked", "").fault
    # A practice whose results alone are out of reach.
    assert "cannot be looked into" in _line(locked.parent, locked / "checked", "").fault
    faults: list[str] = []
    assert list(records_below(locked / "checked", faults)) == []
    assert "cannot be looked into" in faults[0]
    assert not holds_results(locked)


def test_a_name_longer_than_any_file_s_is_not_there(tmp_path: Path) -> None:
    long = tmp_path / ("x" * 300 + ".mp4")
    assert not there(long) and not is_folder(long)
    with pytest.raises(UsageError, match="there is no such folder or clip; check the name"):
        gather([long])
    assert find_clips([long]) == [long]
