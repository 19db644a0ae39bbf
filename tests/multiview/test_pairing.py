"""Which films belong together."""

from __future__ import annotations

from pathlib import Path

import pytest

from posecheck.errors import UsageError
from posecheck.multiview.pairing import pair_films


def films(folder: Path, *names: str) -> Path:
    folder.mkdir()
    for name in names:
        (folder / name).write_bytes(b"")
    return folder


def test_by_name_whatever_the_ending(tmp_path: Path) -> None:
    one = films(tmp_path / "one", "a.mp4", "b.mp4", "c.mp4")
    other = films(tmp_path / "other", "B.MOV", "a.mov", "d.mov")
    found = pair_films([one, other])
    assert found.by == "name"
    assert found.takes == ((one / "a.mp4", other / "a.mov"), (one / "b.mp4", other / "B.MOV"))
    assert found.alone == (one / "c.mp4", other / "d.mov")


def test_by_order_where_no_name_agrees(tmp_path: Path) -> None:
    one = films(tmp_path / "one", "IMG_1.mov", "IMG_2.mov")
    other = films(tmp_path / "other", "PXL_7.mp4", "PXL_9.mp4")
    found = pair_films([one, other])
    assert found.by == "order"
    assert found.takes[1] == (one / "IMG_2.mov", other / "PXL_9.mp4")


def test_two_single_films(tmp_path: Path) -> None:
    one, other = films(tmp_path / "one", "x.mp4"), films(tmp_path / "other", "y.mp4")
    found = pair_films([one / "x.mp4", other / "y.mp4"])
    assert found.takes == ((one / "x.mp4", other / "y.mp4"),)


def test_numbers_that_differ_are_refused(tmp_path: Path) -> None:
    one, other = films(tmp_path / "one", "x.mp4"), films(tmp_path / "other", "y.mp4", "z.mp4")
    with pytest.raises(UsageError, match="same name"):
        pair_films([one, other])


def test_two_films_of_one_name_are_refused(tmp_path: Path) -> None:
    one, other = films(tmp_path / "one", "x.mp4", "x.mov"), films(tmp_path / "other", "x.mp4")
    with pytest.raises(UsageError, match="two films are called x"):
        pair_films([one, other])


def test_an_empty_or_missing_folder_is_refused(tmp_path: Path) -> None:
    one = films(tmp_path / "one", "x.mp4")
    with pytest.raises(UsageError, match="no film in it"):
        pair_films([one, films(tmp_path / "empty")])
    with pytest.raises(UsageError, match="no such folder"):
        pair_films([one, tmp_path / "missing"])
    with pytest.raises(UsageError, match="two phones or more"):
        pair_films([one])
