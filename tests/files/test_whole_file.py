"""Files are whole or not there, whatever happens while they are written."""

from __future__ import annotations

import errno
import multiprocessing
import os
import stat
from pathlib import Path
from typing import BinaryIO

import pytest

from posecheck.errors import RecordError
from posecheck.files.whole_file import remove_left_over, replacement, whole_file, write_whole


def test_a_file_is_written_with_its_folder(tmp_path: Path) -> None:
    path = tmp_path / "new" / "a.bin"
    write_whole(path, lambda file: file.write(b"all of it"))
    assert path.read_bytes() == b"all of it"
    assert list(path.parent.iterdir()) == [path]


def test_what_was_there_stays_until_the_new_file_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.bin"
    path.write_bytes(b"before")

    def stumble(file: BinaryIO) -> None:
        file.write(b"half")
        assert path.read_bytes() == b"before"
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        write_whole(path, stumble)
    assert list(tmp_path.iterdir()) == [path]
    assert path.read_bytes() == b"before"


def test_a_block_may_write_by_name(tmp_path: Path) -> None:
    path = tmp_path / "a.mp4"
    with whole_file(path) as part:
        assert part.parent == tmp_path
        part.write_text("film")
        assert not path.exists()
    assert path.read_text() == "film"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such modes")
def test_others_may_read_what_they_may_read_of_any_new_file(tmp_path: Path) -> None:
    write_whole(tmp_path / "a", lambda file: file.write(b"1"))
    (tmp_path / "b").write_bytes(b"1")
    modes = {stat.S_IMODE((tmp_path / name).stat().st_mode) for name in "ab"}
    assert len(modes) == 1


def test_a_full_disk_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RecordError) as caught:
        write_whole(tmp_path / "a.bin", lambda file: file.write(b"1"))
    assert str(caught.value) == (
        f"{tmp_path}: a.bin cannot be written (No space left on device); free some space or change "
        "the folder's permissions, then run the same command again."
    )
    assert list(tmp_path.iterdir()) == []


def _write_many_times(path: Path, data: bytes) -> None:
    for _ in range(30):
        with replacement(path) as part:
            part.write_bytes(data)
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
    assert list(tmp_path.iterdir()) == [path]


def test_what_killed_runs_left_half_written_goes_after_a_while(tmp_path: Path) -> None:
    (tmp_path / "clips").mkdir()
    left = tmp_path / "clips" / ".a-1-0123abcd.part"
    fresh = tmp_path / ".page-89ab0123.part"
    own = tmp_path / ".mine.part"
    for path in (left, fresh, own):
        path.touch()
    for path in (left, own):
        os.utime(path, (1, 1))
    remove_left_over(tmp_path)
    assert not left.exists()
    assert fresh.exists() and own.exists()
    remove_left_over(tmp_path / "gone")
