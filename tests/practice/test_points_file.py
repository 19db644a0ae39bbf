"""points.toml: written, read back, laid over practice.toml, refused in a sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from posecheck.errors import RecordError, SettingsError
from posecheck.practice.notes import View
from posecheck.practice.points_file import write_points
from posecheck.practice.reading import read_practice

PRACTICE = """
# The coach's own words stay.
[layout]
preset = "five-spots"

[[views]]
name = "sideline"
size = [1920, 1080]
[views.marks]
top = [100, 200]

[[clips]]
file = "clips/zo\u00e9-01.mp4"
view = "sideline"
spot = "top"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "practice.toml").write_text(PRACTICE, "utf-8")
    return tmp_path


def test_what_is_written_is_read_back_and_wins(folder: Path) -> None:
    sideline = View("sideline", (1280, 720), 0.8, {"inside": (3.25, 4.0), "goal-left": (700.5, 8)})
    odd = View('the "other" side \\ \u00e9', (640, 480), 1.5, {"top": (0.0, 479.0)})
    unmarked = View("later", None, 0.0, {})
    write_points(
        folder,
        [sideline, odd, unmarked],
        {"clips/b \U0001f94d.mp4": odd.name, "clips/c.mp4": "later"},
    )
    practice = read_practice(folder)
    assert practice.views == {view.name: view for view in (sideline, odd, unmarked)}
    first = practice.notes_for(folder / "clips" / "zo\u00e9-01.mp4")
    assert (first.view, first.spot) == (sideline, "top")
    assert practice.notes_for(folder / "clips" / "b \U0001f94d.mp4").view == odd
    assert (folder / "practice.toml").read_text("utf-8") == PRACTICE


def test_a_clip_can_be_given_another_view(folder: Path) -> None:
    other = View("end-line", (1920, 1080), 0.0, {"top": (1.0, 2.0)})
    write_points(folder, [other], {"clips/zo\u00e9-01.mp4": "end-line"})
    notes = read_practice(folder).notes_for(folder / "clips" / "zo\u00e9-01.mp4")
    assert (notes.view, notes.spot) == (other, "top")
    assert read_practice(folder).views["sideline"].marks == {"top": (100, 200)}


def test_names_that_would_break_a_line_are_kept(folder: Path) -> None:
    view = View("two\nlines\x7f\t", (10, 10), 0.0, {"top": (1.0, 2.0)})
    write_points(folder, [view], {})
    assert read_practice(folder).views[view.name] == view


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("[[views]\n", "it is not valid TOML: "),
        (
            "[[views]]\nname = 'a'\nsize = [9, 9]\n[views.marks]\ntpo = [1, 2]",
            "[[views]] number 1 [marks] tpo is not a point of the layout; did you mean 'top'?",
        ),
        ("[clips]\n'a.mp4' = 'sidelin'", "[clips] a.mp4 is 'sidelin'; did you mean 'sideline'?"),
        ("marks = 3", "marks is not a known setting; choose one of views, clips."),
    ],
)
def test_complaints_name_the_file(folder: Path, text: str, complaint: str) -> None:
    (folder / "points.toml").write_text(text, "utf-8")
    with pytest.raises(SettingsError) as caught:
        read_practice(folder)
    assert str(caught.value).startswith(f"{folder / 'points.toml'}: {complaint}")


def test_a_folder_that_cannot_be_written_to(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", "utf-8")
    with pytest.raises(RecordError, match=r"points\.toml cannot be written \("):
        write_points(tmp_path / "file", [], {})
