"""A rep that was cut out of a long film is named as the pages name it."""

from __future__ import annotations

from pathlib import Path

import pytest
from factories import make_clip_result

from posecheck.cli.commands import _find_clip
from posecheck.errors import UsageError
from posecheck.files.cut_name import CutName
from posecheck.practice.practice import Practice
from posecheck.store.record import Record


def test_a_rep_of_a_film_goes_by_film_and_time(tmp_path: Path) -> None:
    practice = Practice(tmp_path, "practice")
    with Record(tmp_path / "checked" / "record.sqlite") as record:
        for digest, from_s in (("a" * 64, 10.0), ("b" * 64, 872.4)):
            name = CutName("clips/film.mp4", from_s, from_s + 8).within(".mp4")
            path = tmp_path / "checked" / "cuts" / name
            record.save(practice, make_clip_result(path, clip_digest=digest))
        for name in ("film.mp4 at 14:32", "clips/film.mp4 at 14:32", "0872.400-0880.400"):
            assert _find_clip(record, name)[1] == "b" * 64
        with pytest.raises(UsageError, match=r"2 clips go by this name; .*film\.mp4 at 0:10"):
            _find_clip(record, "clips/film.mp4")
