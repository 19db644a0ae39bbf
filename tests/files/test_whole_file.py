"""Files are whole or not there, whatever happens while they are written."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

import pytest

from posecheck.errors import RecordError
from posecheck.files.whole_file import whole_file, write_whole


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
