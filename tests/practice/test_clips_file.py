"""clips.toml: written, read back, laid over practice.toml, refused in a sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from posecheck.errors import SettingsError
from posecheck.files.names import in_order
from posecheck.practice.clips_file import Said, write_clips
from posecheck.practice.notes import ClipNotes, PointedOut
from posecheck.practice.reading import read_practice, read_said
from posecheck.practice.roster import Player

PRACTICE = """
# The coach's own words stay.
[[players]]
number = 12
name = "Robin Vale"
height_m = 1.83

[[players]]
number = 7
name = "Ash Cole"

[[clips]]
file = "clips/zo\u00e9-01.mp4"
spot = "top"
defender = 12
"""

FIRST = "clips/zo\u00e9-01.mp4"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "practice.toml").write_text(PRACTICE, "utf-8")
    return tmp_path


def test_what_is_written_is_read_back_and_wins(folder: Path) -> None:
    other = 'clips/odd "name" \\ \U0001f94d.mp4'
    at = PointedOut(1.2, 512.5, 300.0)
    said = {
        FIRST: Said(defender=31, arrival_s=2.366667),
        other: Said(spot="side-left", attacker=7, defender_at=at),
        "nothing.mp4": Said(),
    }
    new = Player(31, 'Toby "T" Reed')
    path = write_clips(folder, [new], said)
    assert path.name == "clips.toml"
    practice = read_practice(folder)
    robin, ash = practice.players[12], practice.players[7]
    assert robin.height_m == 1.83
    assert practice.players[31] == new
    # What clips.toml does not say stays as practice.toml has it.
    assert practice.notes_for(folder / FIRST) == ClipNotes(
        spot="top", defender=new, arrival_s=2.366667
    )
    assert practice.notes_for(folder / other) == ClipNotes(
        spot="side-left", attacker=ash, defender_at=at
    )
    assert "nothing.mp4" not in path.read_text("utf-8")
    del said["nothing.mp4"]
    assert read_said(folder, practice) == ({31: new}, said)
    assert (folder / "practice.toml").read_text("utf-8") == PRACTICE


def test_it_needs_no_practice_file(tmp_path: Path) -> None:
    write_clips(tmp_path, [Player(31, "Toby Reed")], {"a.mp4": Said(defender=31, spot="top")})
    notes = read_practice(tmp_path).notes_for(tmp_path / "a.mp4")
    assert (notes.defender_name, notes.spot) == ("Toby Reed (31)", "top")


def test_who_was_put_on_the_roster_may_stand_in_practice_toml_later(folder: Path) -> None:
    write_clips(folder, [Player(12, "R. V.")], {FIRST: Said(defender=12)})
    assert read_practice(folder).notes_for(folder / FIRST).defender_name == "Robin Vale (12)"


def test_without_the_file_nothing_was_said(folder: Path) -> None:
    assert read_said(folder, read_practice(folder)) == ({}, {})


BAD = {
    "spot = 'tpo'": "spot is 'tpo'; did you mean 'top'?",
    "defender = 99": "defender is 99, who is not on the roster; add a [[players]] entry.",
    "arrival_s = -1": "arrival_s is -1; give a number from 0 to 1e+06.",
    "defender_at = { t_s = 1.0 }": "defender_at is not whole; give t_s, x_px and y_px.",
    "view = 'x'": "view is not a known setting; choose one of file, spot, defender, attacker, "
    "arrival_s, defender_at.",
}


@pytest.mark.parametrize("line", BAD)
def test_what_cannot_be_used_is_refused(folder: Path, line: str) -> None:
    (folder / "clips.toml").write_text(f"[[clips]]\nfile = 'a.mp4'\n{line}\n")
    with pytest.raises(SettingsError) as caught:
        read_practice(folder)
    assert str(caught.value) == f"{folder / 'clips.toml'}: [[clips]] number 1 {BAD[line]}"


# -- who is not named ----------------------------------------------------------------------------


def names(folder: Path) -> list[str]:
    paths = [folder / "clips" / f"{name}.mp4" for name in ("c", "a", "zo\u00e9-01", "b")]
    practice = read_practice(folder).with_clips(paths)
    return [practice.notes_for(path).defender_name for path in paths]


def test_nameless_players_are_told_apart_by_numbers(folder: Path) -> None:
    assert names(folder) == ["unknown 3", "unknown 1", "Robin Vale (12)", "unknown 2"]


def test_naming_one_leaves_the_others_as_they_are(folder: Path) -> None:
    write_clips(folder, [], {"clips/a.mp4": Said(defender=7)})
    assert names(folder) == ["unknown 3", "Ash Cole (7)", "Robin Vale (12)", "unknown 2"]


def test_a_clip_outside_the_practice_is_just_unknown(folder: Path) -> None:
    assert read_practice(folder).notes_for(Path("/elsewhere/a.mp4")).defender_name == "unknown"


def test_the_unknown_come_last_in_order_of_their_numbers() -> None:
    names = ["unknown 10", "Zoé Vale (2)", "unknown 9", "unknown", "Unknown Soldier (3)"]
    assert sorted(names, key=in_order) == [
        "Unknown Soldier (3)", "Zoé Vale (2)", "unknown", "unknown 9", "unknown 10",
    ]  # fmt: skip
