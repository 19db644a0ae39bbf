"""In which order names stand."""

from __future__ import annotations

from itertools import permutations
from pathlib import Path

from factories import make_clip_result
from hypothesis import given
from hypothesis import strategies as st

from posecheck.files.names import in_order
from posecheck.practice.practice import Practice
from posecheck.store.record import Record
from posecheck.video.folder import find_clips

NAMES = ["9.mp4", "IMG_2.mov", "IMG_10.mov", "rep", "rep-01.mp4", "rep-1.mp4", "rep-10.mp4"]


def test_numbers_in_names_count_as_numbers() -> None:
    for names in permutations(NAMES):
        assert sorted(names, key=in_order) == NAMES


@given(st.lists(st.text(), unique=True))
def test_any_names_can_be_sorted_and_no_two_are_alike(names: list[str]) -> None:
    assert len({in_order(name) for name in names}) == len(names)
    sorted(names, key=in_order)


def test_clips_and_results_come_in_that_order(tmp_path: Path) -> None:
    names = ["rep-1.mp4", "rep-2.mp4", "rep-10.mp4"]
    for name in names:
        (tmp_path / name).write_bytes(b"")
    assert [path.name for path in find_clips([tmp_path])] == names
    practice = Practice(tmp_path, "Tuesday")
    with Record(tmp_path / "checked" / "record.sqlite", make=True) as record:
        for name in reversed(names):
            record.save(practice, make_clip_result(tmp_path / name))
        assert [result.path.name for result in record.results(practice)] == names
        assert [rep.clip.name for rep in record.measured_reps(practice)] == names
        assert [path.name for path, _ in record.clips(practice)] == names
