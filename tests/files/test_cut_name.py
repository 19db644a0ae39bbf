"""The name of a cut says which film it is from, and when in it."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

import pytest

from posecheck.files.cut_name import CutName, clock, cut_name, shown_file, span
from posecheck.files.names import RECORD_FILE


@pytest.mark.parametrize(
    "film", ["film-01.mp4", "clips/cam 1/IMG_0007.MOV", "cuts/film.mp4", "Übung 3.mp4"]
)
def test_a_cut_gives_back_film_and_times(film: str) -> None:
    cut = CutName(film, 872.4333, 880.9)
    read = cut_name(f"checked/cuts/{cut.within('.mp4')}")
    assert read is not None
    assert (read.film, read.from_s, read.to_s, read.place) == (film, 872.433, 880.9, 1)
    elsewhere = cut_name(f"checked/cuts/{CutName(film, 1.0, 2.0, 3).within('.mov')}")
    assert elsewhere == CutName(film, 1.0, 2.0, 3)


@pytest.mark.parametrize("film", ["film.mp4", "cuts/film.mp4"])
def test_results_elsewhere_may_lie_in_a_folder_of_the_same_name(tmp_path: Path, film: str) -> None:
    results = tmp_path / "cuts/more/cuts"
    results.mkdir(parents=True)
    (results / RECORD_FILE).touch()
    cut = CutName(film, 1.0, 2.0)
    assert cut_name(f"{results.as_posix()}/cuts/{cut.within('.mp4')}") == cut


@pytest.mark.parametrize(
    "key", ["clips/rep-01.mp4", "cuts/rep-01.mp4", "checked/cuts/a/b.mp4", "1.000-2.000.mp4"]
)
def test_other_clips_are_no_cuts(key: str) -> None:
    assert cut_name(key) is None


def test_cuts_of_a_film_sort_by_time_and_are_shown_as_its_player_shows_it() -> None:
    names = [CutName("film.mp4", at_s, at_s + 8).within(".mp4") for at_s in (9.5, 872.4, 1000.0)]
    assert names == sorted(names)
    path = PurePosixPath("/somewhere/checked/cuts/clips") / names[1]
    assert shown_file(path) == "film.mp4 at 14:32"
    assert shown_file(PurePosixPath("clips/rep-01.mp4")) == "rep-01.mp4"
    assert [clock(at_s) for at_s in (9.99, 60, 3725)] == ["0:09", "1:00", "1:02:05"]


@pytest.mark.parametrize(
    ("from_s", "to_s", "said"),
    [
        (872.4, 880.9, "14:32 to 14:40"),
        (542.1, 542.8, "9:02.1 to 9:02.8"),
        (542.91, 543.02, "9:02 to 9:03"),
        (542.11, 542.19, "9:02.11 to 9:02.19"),
        (3725.001, 3725.002, "1:02:05.001 to 1:02:05.002"),
        (59.9996, 60.4, "1:00.0 to 1:00.4"),
    ],
)
def test_start_and_end_are_told_apart(from_s: float, to_s: float, said: str) -> None:
    assert span(from_s, to_s) == said
