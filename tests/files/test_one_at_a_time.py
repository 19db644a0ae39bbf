"""One check at a time in a folder of results."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from posecheck.errors import RecordError
from posecheck.files.one_at_a_time import one_at_a_time

HOLD = """
import pathlib, sys
from posecheck.files.one_at_a_time import one_at_a_time
with one_at_a_time(pathlib.Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_it_is_free_again_when_whoever_held_it_was_killed(tmp_path: Path) -> None:
    folder = tmp_path / "checked"
    other = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert other.stdout is not None and other.stdout.readline() == "held\n"
    with (
        pytest.raises(RecordError, match="a check is running in this folder; let it finish"),
        one_at_a_time(folder),
    ):
        pass
    waited: list[None] = []

    def wait() -> None:
        waited.append(None)
        if len(waited) == 3:
            other.kill()
            other.communicate()

    with one_at_a_time(folder, wait):
        assert len(waited) >= 3
    with one_at_a_time(folder):
        pass


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(RecordError, match="cannot be written to"), one_at_a_time(tmp_path / "file"):
        pass


@pytest.mark.parametrize(
    ("or_another", "end"),
    [
        (False, "change its permissions."),
        (True, "change its permissions or name another with --out."),
    ],
)
def test_another_folder_is_named_only_where_one_can_be(
    tmp_path: Path, or_another: bool, end: str
) -> None:
    (tmp_path / "file").touch()
    with (
        pytest.raises(RecordError) as caught,
        one_at_a_time(tmp_path / "file", or_another=or_another),
    ):
        pass
    assert str(caught.value).endswith(f"; {end}")
