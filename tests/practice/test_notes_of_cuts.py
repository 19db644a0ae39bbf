"""What is said of a long film holds for the reps cut out of it."""

from __future__ import annotations

from pathlib import Path

from posecheck.files.cut_name import CutName
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice

TEXT = """
units = "m"
[layout]
preset = "five-spots"
[[players]]
number = 12
name = "Robin Vale"
[[players]]
number = 7
name = "Sam Reed"
[[clips]]
file = "clips/film.mp4"
spot = "top"
attacker = 7
"""
SAID = """
[[clips]]
file = "clips/film.mp4"
arrival_s = 105.5
defender_at = { t_s = 104.0, x_px = 500.0, y_px = 300.0 }
[[clips]]
file = "{cut}"
defender = 12
spot = "top-left"
"""


def practice(folder: Path, of: str = "", said: str = "") -> Practice:
    (folder / "practice.toml").write_text(TEXT + of, "utf-8")
    (folder / "clips.toml").write_text(said, "utf-8")
    return read_practice(folder)


def cut(from_s: float, to_s: float, place: int = 1) -> str:
    return f"checked/cuts/{CutName('clips/film.mp4', from_s, to_s, place).within('.mp4')}"


def test_notes_on_the_film_hold_for_its_cuts_and_notes_on_the_cut_win(tmp_path: Path) -> None:
    one, other = cut(100, 108), cut(200, 208)
    read = practice(tmp_path, said=SAID.replace("{cut}", other))
    assert read.noted(one).spot == "top"
    assert read.noted(other).spot == "top-left"
    for key in (one, other):
        attacker = read.noted(key).attacker
        assert attacker is not None
        assert attacker.number == 7
    assert read.noted(one).defender is None
    assert read.noted(other).defender_name == "Robin Vale (12)"


def test_a_moment_of_the_film_is_one_of_the_cut_that_holds_it(tmp_path: Path) -> None:
    read = practice(tmp_path, said=SAID.replace("{cut}", cut(200, 208)))
    here, elsewhere = read.noted(cut(100, 108)), read.noted(cut(200, 208))
    assert here.arrival_s == 5.5
    assert here.defender_at is not None
    assert (here.defender_at.t_s, here.defender_at.x_px) == (4.0, 500.0)
    assert elsewhere.arrival_s is None
    assert elsewhere.defender_at is None


def test_cuts_are_shown_by_film_and_time_and_numbered_like_clips(tmp_path: Path) -> None:
    read = practice(tmp_path)
    paths = [tmp_path / cut(872.4, 880), tmp_path / cut(95, 103), tmp_path / "clips" / "rep.mp4"]
    assert [read.shown_name(path) for path in paths] == [
        "clips/film.mp4 at 14:32",
        "clips/film.mp4 at 1:35",
        "clips/rep.mp4",
    ]
    numbered = read.with_clips(paths)
    assert [numbered.notes_for(path).unknown for path in paths] == [2, 1, 3]


def test_a_film_whose_defender_is_named_has_no_unknown_ones(tmp_path: Path) -> None:
    read = practice(tmp_path, of="defender = 12\n")
    numbered = read.with_clips([tmp_path / cut(95, 103), tmp_path / "clips" / "rep.mp4"])
    assert numbered.noted(cut(95, 103)).defender_name == "Robin Vale (12)"
    assert numbered.noted("clips/rep.mp4").unknown == 1


def test_the_view_of_a_film_is_that_of_the_first_place_its_camera_stood_in(tmp_path: Path) -> None:
    read = practice(tmp_path, of='view = "sideline"\n[[views]]\nname = "sideline"\n')
    here, moved = read.noted(cut(10, 18)), read.noted(cut(95, 103, place=2))
    assert here.view is not None
    assert moved.view is None
    assert moved.spot == "top"
