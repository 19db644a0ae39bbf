"""Which practices some paths name, and whose each clip is."""

from __future__ import annotations

from pathlib import Path

import pytest

from posecheck.errors import SettingsError, UsageError
from posecheck.practice.reading import read_practice
from posecheck.practice.season_folder import gather, practice_folder


def lay(top: Path, *files: str) -> Path:
    """Files with nothing in them."""
    for file in files:
        (top / file).parent.mkdir(parents=True, exist_ok=True)
        (top / file).touch()
    return top


def gathered(top: Path, *paths: str) -> tuple[dict[str, list[str]], list[str], str | None]:
    """Practices with their clips, loose clips and the season, by names relative to ``top``."""
    found = gather([top / path for path in paths or ["."]])

    def named(path: Path) -> str:
        return path.resolve().relative_to(top).as_posix()

    return (
        {named(each.folder): [named(path) for path in each.paths] for each in found.practices},
        [named(clip) for clip in found.loose],
        None if found.season is None else named(found.season),
    )


@pytest.mark.parametrize(
    ("files", "path"),
    [
        (["practice.toml", "a.mp4", "clips/b.mp4"], "."),
        (["a.mp4", "clips/b.mp4"], "."),
        (["practice.toml", "clips/a.mp4", "clips/b.mp4"], "clips"),
    ],
)
def test_a_practice_alone_is_no_season(tmp_path: Path, files: list[str], path: str) -> None:
    lay(tmp_path, *files)
    assert gathered(tmp_path, path) == ({".": [path]}, [], None)
    assert practice_folder([tmp_path / path]) == tmp_path


def test_each_clip_of_a_season_belongs_to_the_nearest_practice(tmp_path: Path) -> None:
    lay(
        tmp_path,
        *("week-10/practice.toml", "week-10/clips/a.mp4"),
        *("week-9/practice.toml", "week-9/b.mp4", "week-9/b.txt"),
        *("no-file/phone/c.mp4", "no-file/d.mp4"),
        *("other-team/one/practice.toml", "other-team/one/e.mp4", "other-team/two/f.mp4"),
        "no-clips/practice.toml",
        ".hidden/practice.toml",
        "pictures/a.jpg",
    )
    assert gathered(tmp_path) == (
        {
            "no-clips": [],
            "no-file": ["no-file/d.mp4", "no-file/phone/c.mp4"],
            "other-team/one": ["other-team/one/e.mp4"],
            "other-team/two": ["other-team/two/f.mp4"],
            "week-9": ["week-9/b.mp4"],
            "week-10": ["week-10/clips/a.mp4"],
        },
        [],
        ".",
    )


def test_clips_beside_practices_are_nobodys(tmp_path: Path) -> None:
    lay(tmp_path, "a.mp4", "team/b.mp4", "team/one/practice.toml", "team/one/c.mp4")
    assert gathered(tmp_path) == ({"team/one": ["team/one/c.mp4"]}, ["a.mp4", "team/b.mp4"], ".")


def test_a_practice_may_hold_others(tmp_path: Path) -> None:
    """Then what lies in neither of them is its own."""
    lay(tmp_path, "practice.toml", "a.mp4", "clips/b.mp4", "again/practice.toml", "again/c.mp4")
    assert gathered(tmp_path) == (
        {".": ["a.mp4", "clips/b.mp4"], "again": ["again/c.mp4"]},
        [],
        ".",
    )


def test_a_season_file_makes_a_season_of_folders_of_clips(tmp_path: Path) -> None:
    lay(tmp_path, "season.toml", "tuesday/a.mp4", "thursday/phone/b.mp4", "c.mp4")
    assert gathered(tmp_path) == (
        {"thursday": ["thursday/phone/b.mp4"], "tuesday": ["tuesday/a.mp4"]},
        ["c.mp4"],
        ".",
    )
    (tmp_path / "empty").mkdir()
    lay(tmp_path / "empty", "season.toml", "a.mp4")
    with pytest.raises(UsageError) as caught:
        gather([tmp_path / "empty"])
    assert str(caught.value) == (
        f"{tmp_path}/empty: there is no practice in it; put each practice into a folder of its own "
        "below."
    )


def test_practices_named_one_by_one(tmp_path: Path) -> None:
    lay(tmp_path, "b/practice.toml", "b/clips/1.mp4", "b/clips/2.mp4", "a/3.mp4")
    for names in (["b", "a"], ["b/clips/1.mp4", "b/clips/2.mp4", "a/3.mp4"]):
        want = {name: [each for each in names if each.startswith(name)] for name in ("b", "a")}
        assert gathered(tmp_path, *names) == (want, [], None)
    assert gather([tmp_path / "b", tmp_path / "a"]).common == tmp_path
    with pytest.raises(UsageError) as caught:
        practice_folder([tmp_path / "b", tmp_path / "a"])
    assert str(caught.value) == (
        f"These are several practices ({tmp_path}/b, {tmp_path}/a); name one."
    )


def test_what_is_not_there(tmp_path: Path) -> None:
    lay(tmp_path, "tuesday/a.mp4")
    with pytest.raises(UsageError, match=r"did you mean .*/tuesday"):
        gather([tmp_path / "tuseday"])
    # a missing clip among others is that clip's fault
    found = gather([tmp_path / "tuesday" / "a.mp4", tmp_path / "tuesday" / "b.mp4"])
    assert [path.name for path in found.practices[0].paths] == ["a.mp4", "b.mp4"]


# -- what is shared ------------------------------------------------------------------------------

SEASON = """
name = "Fall"
club = "Harbor Point Herons"
[[players]]
number = 12
name = "Robin Vale"
height_m = 1.83
[[players]]
number = 7
name = "Sam Birch"
"""


def test_roster_and_club_of_a_season_hold_for_its_practices(tmp_path: Path) -> None:
    lay(tmp_path, "one/a.mp4", "two/a.mp4")
    (tmp_path / "season.toml").write_text(SEASON)
    (tmp_path / "two" / "practice.toml").write_text(
        'club = "Guests"\n[[players]]\nnumber = 7\nname = "Ira Fenn"\n'
        '[[clips]]\nfile = "a.mp4"\ndefender = 12\nattacker = 7'
    )
    one, two = read_practice(tmp_path / "one"), read_practice(tmp_path / "two")
    assert (one.club, two.club) == ("Harbor Point Herons", "Guests")
    assert [who.name for who in one.players.values()] == ["Robin Vale", "Sam Birch"]
    notes = two.notes["a.mp4"]
    assert (notes.defender.name, notes.defender.height_m) == ("Robin Vale", 1.83)
    assert notes.attacker.name == "Ira Fenn"


def test_what_does_not_belong_into_a_season_file(tmp_path: Path) -> None:
    lay(tmp_path, "one/a.mp4")
    (tmp_path / "season.toml").write_text("lens = 1")
    with pytest.raises(SettingsError) as caught:
        read_practice(tmp_path / "one")
    assert str(caught.value) == (
        f"{tmp_path}/season.toml: lens is not a known setting; choose one of name, club, players."
    )
