"""Files that are whole or absent, whoever writes them and whatever fails."""

from __future__ import annotations

import multiprocessing
import os
import stat
from pathlib import Path
from typing import BinaryIO

import pytest

from posecheck.errors import RecordError
from posecheck.files.whole_file import replace_whole, write_whole


def contents(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_the_file_is_replaced_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "points.toml"
    for text in (b"first", b"second"):
        write_whole(path, lambda file, text=text: file.write(text))
        assert path.read_bytes() == text
    assert contents(path.parent) == ["points.toml"]


@pytest.mark.skipif(os.name == "nt", reason="permissions of POSIX")
def test_permissions_are_the_owners_alone_unless_asked_for(tmp_path: Path) -> None:
    private, public = tmp_path / "private", tmp_path / "public"
    replace_whole(private, lambda file: file.write(b""))
    replace_whole(public, lambda file: file.write(b""), permissions=0o644)
    assert [stat.S_IMODE(path.stat().st_mode) for path in (private, public)] == [0o600, 0o644]


def test_a_writer_that_fails_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "record"
    path.write_bytes(b"old")

    def fails(file: BinaryIO) -> None:
        file.write(b"half")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_whole(path, fails)
    assert contents(tmp_path) == ["record"]
    assert path.read_bytes() == b"old"


def test_a_full_disk_says_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full_disk(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full_disk)
    with pytest.raises(OSError, match="No space left on device"):
        replace_whole(tmp_path / "a", lambda file: file.write(b"a"))
    with pytest.raises(RecordError) as caught:
        write_whole(tmp_path / "a", lambda file: file.write(b"a"))
    assert str(caught.value) == (
        f"{tmp_path}: a cannot be written (No space left on device); free some space or fix the "
        "folder's permissions, then run the same command again."
    )
    assert contents(tmp_path) == []


def _write_many_times(path: Path, data: bytes) -> None:
    for _ in range(30):
        replace_whole(path, lambda file: file.write(data))
        if path.read_bytes() != data:
            raise AssertionError("a half-written file was seen")


def test_workers_that_write_together_never_show_a_half_file(tmp_path: Path) -> None:
    path = tmp_path / "pose_full.task"
    data = bytes(1_000_000)
    spawn = multiprocessing.get_context("spawn")
    workers = [spawn.Process(target=_write_many_times, args=(path, data)) for _ in range(2)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(timeout=60)
    assert [worker.exitcode for worker in workers] == [0, 0]
    assert contents(tmp_path) == ["pose_full.task"]
