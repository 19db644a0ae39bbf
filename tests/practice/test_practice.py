"""practice.toml: what is read, and what is said of a file that cannot be used."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from posecheck.errors import SettingsError
from posecheck.practice.field import closeout_layout
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes, View
from posecheck.practice.plan import Plan
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.practice.roster import Player
from posecheck.practice.stature import AGE_GROUPS

WHOLE = """
name = "Tuesday one-on-ones"
club = "Harbour Lacrosse"
date = 2026-05-12
slow_motion = 8
whole_picture = true

[layout]
units = "yd"
goal = true
[layout.cones]
inside = [0, 4]
top = [0, 16.5]
top-left = [-9, 13]

[plan]
top = "alley"
top-left = "weak-hand"

[[players]]
number = 12
name = "Zoé Vale"
strong_hand = "left"
height_in = 72
[[players]]
number = 7
name = "Sam Birch"
role = "midfield"
height_m = 1.78

[[views]]
name = "sideline"
size = [1920, 1080]
time_s = 0.5
[views.marks]
top = [1512.5, 488]
crease-top = [640, 700]

[[clips]]
file = "clips/zo\u00e9-01.mp4"
view = "sideline"
spot = "top"
defender = 12
attacker = 7
"""


def write(folder: Path, text: str) -> Path:
    (folder / "practice.toml").write_text(text, encoding="utf-8")
    return folder


def test_the_lens_of_a_practice_and_of_one_clip(tmp_path: Path) -> None:
    text = "lens = 0.5\n[[clips]]\nfile = 'a.mp4'\n[[clips]]\nfile = 'b.mp4'\nfocal_35mm = 52\n"
    practice = read_practice(write(tmp_path, text))
    other, own = (practice.lens_for(tmp_path / name) for name in ("a.mp4", "b.mp4"))
    assert other is not None and own is not None
    # Half of a main camera's 65 degrees across the longer side, and twice its 26 mm.
    assert np.exp(other.likely.median) == pytest.approx(0.39)
    assert np.exp(own.likely.median) == pytest.approx(1.56)
    assert read_practice(write(tmp_path, "")).lens_for(tmp_path / "a.mp4") is None


def test_how_tall_the_players_are(tmp_path: Path) -> None:
    assert read_practice(write(tmp_path, "")).stature is None
    group = read_practice(write(tmp_path, "age_group = 'under-12'")).stature
    assert group == AGE_GROUPS["under-12"]
    for said in ("height_m = 1.524", "height_in = 60"):
        stature = read_practice(write(tmp_path, said)).stature
        assert stature is not None
        assert stature.mean_m == pytest.approx(1.524)


def test_slow_motion_of_a_practice_and_of_one_clip(tmp_path: Path) -> None:
    text = (
        "slow_motion = 8\n[[clips]]\nfile = 'a.mp4'\n[[clips]]\nfile = 'b.mp4'\nslow_motion = 1\n"
    )
    practice = read_practice(write(tmp_path, text))
    said = [practice.slow_motion_for(tmp_path / name) for name in ("a.mp4", "b.mp4", "c.mp4")]
    assert said == [8, 1, 8]
    # What is not said is left to the film itself.
    assert read_practice(write(tmp_path, "")).slow_motion_for(tmp_path / "a.mp4") is None


def test_a_clip_that_is_slow_in_part(tmp_path: Path) -> None:
    text = "[[clips]]\nfile = 'a.mp4'\nslow_in_part = true\n[[clips]]\nfile = 'b.mp4'\n"
    practice = read_practice(write(tmp_path, text))
    said = [practice.notes_for(tmp_path / name).slow_in_part for name in ("a.mp4", "b.mp4")]
    assert said == [True, None]


def test_everything_is_read(tmp_path: Path) -> None:
    practice = read_practice(write(tmp_path, WHOLE))
    assert (practice.name, practice.club) == ("Tuesday one-on-ones", "Harbour Lacrosse")
    assert practice.date == dt.date(2026, 5, 12)
    assert practice.slow_motion == 8
    assert practice.whole_picture
    # A yard is 0.9144 m, an inch 0.0254 m, exactly (international yard and pound agreement, 1959).
    assert practice.layout.points["top"] == pytest.approx((0, 15.0876))
    assert practice.layout.points["top-left"] == pytest.approx((-8.2296, 11.8872))
    assert practice.layout.cones == {"inside", "top", "top-left"}
    assert practice.plan == {"top": Plan.ALLEY, "top-left": Plan.WEAK_HAND}
    assert practice.players[12].height_m == pytest.approx(1.8288)
    sam = Player(7, "Sam Birch", "midfield", None, 1.78)
    assert practice.players[7] == sam
    view = View("sideline", (1920, 1080), 0.5, {"top": (1512.5, 488), "crease-top": (640, 700)})
    notes = ClipNotes(view, "top", practice.players[12], sam)
    assert practice.notes_for(tmp_path / "clips" / "zoé-01.mp4") == notes


def test_the_goal_brings_its_points(tmp_path: Path) -> None:
    """Goal 6 ft wide and crease radius 9 ft: US rules, men's field (from memory)."""
    points = read_practice(write(tmp_path, WHOLE)).layout.points
    foot_m = 0.3048
    assert points["goal-left"] == pytest.approx((-3 * foot_m, 0))
    assert points["goal-right"] == pytest.approx((3 * foot_m, 0))
    assert points["crease-left"] == pytest.approx((-9 * foot_m, 0))
    assert points["crease-right"] == pytest.approx((9 * foot_m, 0))
    assert points["crease-top"] == pytest.approx((0, 9 * foot_m))


def test_the_crease_of_the_unified_field(tmp_path: Path) -> None:
    """Radius 3 m: World Lacrosse's unified field (from memory)."""
    points = read_practice(write(tmp_path, '[layout]\ngoal = true\ncrease = "world"')).layout.points
    assert points["crease-right"] == (3, 0)


def test_a_ready_made_layout_takes_two_lines(tmp_path: Path) -> None:
    layout = read_practice(write(tmp_path, '[layout]\npreset = "five-spots"')).layout
    assert layout == closeout_layout()
    layout = read_practice(write(tmp_path, '[layout]\npreset = "two-cones"')).layout
    assert layout.cones == {"inside", "top"}
    assert "goal-left" in layout.points


def test_one_cone_of_a_ready_made_layout_may_stand_elsewhere(tmp_path: Path) -> None:
    text = (
        '[layout]\npreset = "five-spots"\ngoal = false\nunits = "yd"\n[layout.cones]\ntop = [0, 15]'
    )
    layout = read_practice(write(tmp_path, text)).layout
    assert layout.points["top"] == pytest.approx((0, 13.716))
    assert layout.points["inside"] == closeout_layout().points["inside"]
    assert not layout.goal
    assert set(layout.points) == layout.cones


def test_a_view_without_marks_leaves_them_to_be_looked_for(tmp_path: Path) -> None:
    text = "[[views]]\nname = 'side'\n[[clips]]\nfile = 'a.mp4'\nview = 'side'"
    practice = read_practice(write(tmp_path, text))
    assert practice.notes_for(tmp_path / "a.mp4").view == View("side", None, 0.0, {})
    assert set(practice.views) == {"side"}


def test_a_folder_without_a_file_is_a_practice_of_which_nothing_is_known(tmp_path: Path) -> None:
    practice = read_practice(tmp_path)
    assert practice == Practice(tmp_path, tmp_path.name)
    assert practice.layout == Layout()
    assert practice.notes_for(tmp_path / "a.mp4") == ClipNotes()


def test_notes_are_found_however_the_clip_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    practice = read_practice(write(tmp_path, WHOLE))
    decomposed = "zoe\u0301-01.mp4"  # as some systems store it
    assert practice.notes_for(tmp_path / "clips" / decomposed).spot == "top"
    (tmp_path / "clips").mkdir()
    monkeypatch.chdir(tmp_path / "clips")
    assert practice.notes_for(Path("zoé-01.mp4")).spot == "top"
    assert practice.notes_for(Path("../clips/zoé-01.mp4")).spot == "top"
    assert practice.notes_for(Path("/elsewhere/zoé-01.mp4")) == ClipNotes()


def test_notes_may_name_a_clip_by_its_whole_path(tmp_path: Path) -> None:
    text = WHOLE.replace('"clips/zo', f'"{tmp_path}/clips/zo')
    assert text != WHOLE
    assert read_practice(write(tmp_path, text)).notes == read_practice(write(tmp_path, WHOLE)).notes


LAYOUT = '[layout]\nunits = "m"\n[layout.cones]\ntop = [0, 15]\ntop-left = [-8, 12.5]\n'
ROSTER = '[[players]]\nnumber = 12\nname = "Robin Vale"\n'
VIEW = '[[views]]\nname = "side"\nsize = [1920, 1080]\n'


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        # the file as such
        (
            "name = Tuesday",
            "it is not valid TOML: Invalid value (at line 1, column 8); correct that line.",
        ),
        ("nam = 'x'", "nam is not a known setting; did you mean 'name'?"),
        (
            "zzz = 1",
            "zzz is not a known setting; choose one of name, club, date, units, slow_motion, "
            "whole_picture, lens, focal_35mm, age_group, height_m, height_in, layout, plan, "
            "players, views, clips.",
        ),
        ("name = 3", "name is 3; give a text in quotes."),
        (
            "date = '12 May'",
            "date is '12 May'; give a date without quotes, such as 2026-05-12.",
        ),
        (
            "date = 2026-05-12T10:00:00",
            "date is datetime.datetime(2026, 5, 12, 10, 0); give a date without quotes, such as "
            "2026-05-12.",
        ),
        ("slow_motion = 0", "slow_motion is 0; give a number from 1 to 100."),
        (
            "[[clips]]\nfile = 'a.mp4'\nslow_motion = 0.5",
            "[[clips]] number 1 slow_motion is 0.5; give a number from 1 to 100.",
        ),
        ("slow_motion = '8x'", "slow_motion is '8x'; give a number without quotes."),
        ("slow_motion = nan", "slow_motion is nan; give a number without quotes."),
        ("lens = 0", "lens is 0; give a number from 0.3 to 20."),
        ("height_m = 175", "height_m is 175; give a number from 1 to 2.1."),
        (
            "age_group = 'adults'\nheight_in = 69",
            "age_group and height_in are both given; leave one out.",
        ),
        ("lens = 2\nfocal_35mm = 52", "lens and focal_35mm are both given; leave one out."),
        ("layout = 3", "layout is not a table; write it under a line of its own, [layout]."),
        ("players = 3", "players is not a list of tables; start each with a line [[players]]."),
        # the layout
        (
            "[layout]\npreset = 'five-spot'",
            "[layout] preset is 'five-spot'; did you mean 'five-spots'?",
        ),
        ("[layout]\nunits = 'ft'", "[layout] units is 'ft'; choose one of m, yd."),
        (
            "[layout.cones]\ntop = [0, 15]",
            "[layout] units is missing; say whether the cones are in 'm' or 'yd'.",
        ),
        (
            "[layout]\ngoal = 1",
            "[layout] goal is 1; give true or false without quotes.",
        ),
        (
            "[layout]\nunits = 'm'\n[layout.cones]\ntop = [0]",
            "[layout.cones] top is [0]; give two numbers in brackets, such as [8.0, 12.5].",
        ),
        (
            "[layout]\nunits = 'm'\n[layout.cones]\ngoal-left = [0, 1]",
            "[layout.cones] goal-left is the name of a point of the goal; give it another name.",
        ),
        # the plan
        (
            LAYOUT + "[plan]\ntop-lefft = 'alley'",
            "[plan] top-lefft is not a known spot; did you mean 'top-left'?",
        ),
        (
            "[plan]\ninside = 'alley'",
            "[plan] inside is not a known spot; choose one of top, top-left, "
            "top-right, side-left, side-right.",
        ),
        ("[plan]\ntop = 'ally'", "[plan] top is 'ally'; did you mean 'alley'?"),
        # the roster
        (
            "[[players]]\nname = 'A'",
            "[[players]] number 1 number is missing; give the player's jersey number.",
        ),
        (
            "[[players]]\nnumber = 'seven'\nname = 'A'",
            "[[players]] number 1 number is 'seven'; give a whole number without quotes.",
        ),
        (
            ROSTER + ROSTER,
            "[[players]] number 2 number 12 is already Robin Vale's; change one.",
        ),
        (
            "[[players]]\nnumber = 3",
            "[[players]] number 1 name is missing; give the player's name.",
        ),
        (
            ROSTER + "height_m = 6.1",
            "[[players]] number 1 height_m is 6.1; give a number from 1 to 2.5.",
        ),
        (
            ROSTER + "height_m = 1.8\nheight_in = 71",
            "[[players]] number 1 height_m and height_in are both given; leave one out.",
        ),
        (
            ROSTER + "strong_hand = 'Left'",
            "[[players]] number 1 strong_hand is 'Left'; did you mean 'left'?",
        ),
        # the views
        (
            "[[views]]\nsize = [1, 1]",
            "[[views]] number 1 name is missing; give the camera position a name.",
        ),
        (
            LAYOUT + "[[views]]\nname = 'side'\n[views.marks]\ntop = [3, 4]",
            "[[views]] number 1 size is missing; give the picture's width and height in pixels.",
        ),
        (VIEW + VIEW, "[[views]] number 2 name 'side' is used twice; change one."),
        (
            LAYOUT + VIEW + "[views.marks]\ntpo = [3, 4]",
            "[[views]] number 1 [marks] tpo is not a point of the layout; did you mean 'top'?",
        ),
        (
            LAYOUT + VIEW + "[views.marks]\ntop = [1920, 4]",
            "[[views]] number 1 [marks] top is outside the picture of 1920 x 1080 pixels; give "
            "pixels counted right and down from the top left corner.",
        ),
        # the clips
        (
            "[[clips]]\nspot = 'top'",
            "[[clips]] number 1 file is missing; give the clip's file name.",
        ),
        (
            "[[clips]]\nfile = 'a.mp4'\n[[clips]]\nfile = 'a.mp4'",
            "[[clips]] number 2 file 'a.mp4' is listed twice; leave one out.",
        ),
        (
            "[[clips]]\nfile = 'a.mp4'\nview = 'side'",
            "[[clips]] number 1 view is 'side'; leave it out.",
        ),
        (
            LAYOUT + "[[clips]]\nfile = 'a.mp4'\nspot = 'tp'",
            "[[clips]] number 1 spot is 'tp'; did you mean 'top'?",
        ),
        (
            ROSTER + "[[clips]]\nfile = 'a.mp4'\ndefender = 21",
            "[[clips]] number 1 defender is 21, who is not on the roster; add a [[players]] entry.",
        ),
    ],
)
def test_complaints(tmp_path: Path, text: str, complaint: str) -> None:
    with pytest.raises(SettingsError) as caught:
        read_practice(write(tmp_path, text))
    assert str(caught.value) == f"{tmp_path / 'practice.toml'}: {complaint}"


def test_a_file_that_is_not_text(tmp_path: Path) -> None:
    (tmp_path / "practice.toml").write_bytes(b"name = '\xff\xfe'")
    with pytest.raises(SettingsError, match=r"it is not plain text; save it as UTF-8 text\.$"):
        read_practice(tmp_path)


def test_a_folder_in_place_of_the_file(tmp_path: Path) -> None:
    (tmp_path / "practice.toml").mkdir()
    with pytest.raises(SettingsError) as caught:
        read_practice(tmp_path)
    path = tmp_path / "practice.toml"
    assert str(caught.value) == f"{path}: this is no file; put a text file in its place."
