"""The contact sheet without its page: what is said, kept, judged again, and refused."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from named_practice import make_practice

from posecheck.errors import PosecheckError, SettingsError, UsageError
from posecheck.judging.verdict import Call
from posecheck.practice.notes import PointedOut
from posecheck.practice.reading import read_practice
from posecheck.store.record import Record
from posecheck.web.sheet import ContactSheet

A, B, C = "clips/a.mp4", "clips/b.mp4", "clips/c.mp4"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_practice(tmp_path_factory.mktemp("made") / "practice")


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "practice"))


@pytest.fixture
def sheet(folder: Path) -> ContactSheet:
    return ContactSheet(folder, folder / "checked" / "record.sqlite")


def of(sheet: ContactSheet, key: str) -> dict[str, Any]:
    return next(clip for clip in sheet.state()["clips"] if clip["key"] == key)


def notes(folder: Path, key: str) -> Any:
    return read_practice(folder).notes_for(folder / key)


def test_what_the_page_starts_from(sheet: ContactSheet) -> None:
    state = sheet.state()
    assert all(each["shown"] == each["key"] for each in state["clips"])  # none is cut from a film
    json.dumps(state)
    assert [clip["key"] for clip in state["clips"]] == [f"clips/{name}.mp4" for name in "abcde"]
    assert [clip["name"] for clip in state["clips"]] == [f"unknown {n}" for n in range(1, 6)]
    assert [player["number"] for player in state["players"]] == [7, 14, 22]
    first = state["clips"][0]
    assert (first["spot"], first["attacker"], first["again"]) == ("side-left", 7, False)
    assert first["verdict"].startswith("Broken down and under control")
    left, top, width, height = first["box"]
    assert 0 < left < left + width < 1
    assert 0 < top < top + height < 1


def test_naming_needs_no_film_and_leaves_the_other_unknowns_their_numbers(
    folder: Path, sheet: ContactSheet
) -> None:
    for film in (folder / "clips").iterdir():
        film.write_bytes(b"")
    reply = sheet.say({"clips": {B: {"defender": 22}}})
    assert [clip["name"] for clip in reply["clips"]] == ["Ellis Rowan (22)"]
    names = ["unknown 1", "Ellis Rowan (22)", "unknown 3", "unknown 4", "unknown 5"]
    assert [clip["name"] for clip in sheet.state()["clips"]] == names
    assert not any(clip["again"] for clip in sheet.state()["clips"])
    page = folder / "checked" / "practice.html"
    assert "Ellis Rowan (22)" not in page.read_text("utf-8")
    sheet.publish()
    written = page.read_text("utf-8")
    assert "Ellis Rowan (22)" in written
    assert "unknown 3" in written
    assert "unknown 2" not in written
    # Nothing new was said: nothing is written.
    page.unlink()
    sheet.publish()
    assert not page.exists()


def test_somebody_new_is_put_on_the_roster(folder: Path, sheet: ContactSheet) -> None:
    with pytest.raises(SettingsError) as caught:
        sheet.say({"clips": {A: {"defender": 31}}})
    assert str(caught.value) == ("31 is not on the roster; add the player, or check the number.")
    assert not (folder / "clips.toml").exists()
    reply = sheet.say({"players": [{"number": 31, "name": " Toby Reed "}]})
    assert {"number": 31, "name": "Toby Reed", "hand": None} in reply["players"]
    sheet.say({"clips": {A: {"defender": 31}}})
    assert notes(folder, A).defender_name == "Toby Reed (31)"


def test_what_was_said_can_be_taken_back(folder: Path, sheet: ContactSheet) -> None:
    sheet.say({"clips": {A: {"defender": 14, "spot": "top"}}})
    sheet.say({"clips": {A: {"defender": None, "spot": None}}})
    assert (notes(folder, A).defender, notes(folder, A).spot) == (None, "side-left")


def calls(folder: Path, key: str) -> dict[str, Call]:
    with Record(folder / "checked" / "record.sqlite") as record:
        digest = {path.name: one for path, one in record.clips(read_practice(folder))}
        verdict = record.verdicts(digest[Path(key).name])[1]
    return {finding.rule: finding.call for finding in verdict.findings}


def offset(folder: Path, key: str) -> tuple[float | None, ...]:
    with Record(folder / "checked" / "record.sqlite") as record:
        digest = {path.name: one for path, one in record.clips(read_practice(folder))}
        (rep,) = record.load(digest[Path(key).name]).reps
    measure = rep.measures["approach_offset_m"]
    return measure.low, measure.value, measure.high


def test_another_spot_is_judged_at_once_by_the_side_it_has(
    folder: Path, sheet: ContactSheet
) -> None:
    """Measured 0.5 m topside of one at the side left of the goal, where the alley is wanted."""
    assert calls(folder, A)["wrong_side"] is Call.CLEAR
    assert offset(folder, A) == pytest.approx((0.35, 0.5, 0.65))
    reply = sheet.say({"clips": {A: {"spot": "side-right"}}})
    # The same place is on the alley's side of one right of the goal.
    assert offset(folder, A) == pytest.approx((-0.65, -0.5, -0.35))
    assert calls(folder, A)["wrong_side"] is Call.FLAGGED
    (clip,) = reply["clips"]
    assert clip["again"]  # where he waits helps to tell who is who
    sheet.say({"clips": {A: {"spot": None}}})
    assert offset(folder, A) == pytest.approx((0.35, 0.5, 0.65))
    assert calls(folder, A)["wrong_side"] is Call.CLEAR
    assert not of(sheet, A)["again"]


def test_a_spot_on_the_same_side_turns_nothing(folder: Path, sheet: ContactSheet) -> None:
    sheet.say({"clips": {A: {"spot": "top-left"}}})
    assert offset(folder, A) == pytest.approx((0.35, 0.5, 0.65))


def test_without_a_spot_the_place_of_the_attacker_decided(
    folder: Path, sheet: ContactSheet
) -> None:
    # He stood at the top, where positive is the defender's right as it is left of the goal.
    low, value, high = offset(folder, C)
    assert low is not None and value is not None and high is not None
    sheet.say({"clips": {C: {"spot": "top-left"}}})
    assert offset(folder, C) == (low, value, high)
    sheet.say({"clips": {C: {"spot": "top-right"}}})
    assert offset(folder, C) == (-high, -value, -low)


def test_a_corrected_arrival_and_defender_want_the_film(folder: Path, sheet: ContactSheet) -> None:
    sheet.say({"clips": {A: {"arrival_s": 0.44}}})
    assert notes(folder, A).arrival_s == 0.44
    assert of(sheet, A)["again"]
    assert not of(sheet, B)["again"]
    sheet.say({"clips": {B: {"defender_at": {"t_s": 0.2, "x_px": 100.25, "y_px": 50}}}})
    assert notes(folder, B).defender_at == PointedOut(0.2, 100.2, 50.0)
    assert of(sheet, B)["again"]
    sheet.say({"clips": {A: {"arrival_s": None}}})
    assert not of(sheet, A)["again"]


BAD: dict[str, tuple[dict[str, Any], str]] = {
    "spot": ({"spot": "tpo"}, "tpo is not a spot of the layout; reload the page."),
    "late": ({"arrival_s": 9}, f"{A}: that moment is not in the film; reload the page."),
    "no moment": ({"arrival_s": "x"}, f"{A}: that moment is not in the film; reload the page."),
    "outside": (
        {"defender_at": {"t_s": 0, "x_px": 128, "y_px": 5}},
        f"{A}: that place is not in the picture; reload the page.",
    ),
    "half a place": (
        {"defender_at": {"t_s": 0}}, "The page sent something unreadable; reload it."
    ),
    "unknown": ({"name": "x"}, "The page sent something unreadable; reload it."),
    "both": (
        {"defender": 7}, f"{A}: Jonah Pell cannot be defender and attacker; change one."
    ),
    "true": ({"defender": True}, "True is not on the roster; add the player, or check the number."),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_what_is_refused(folder: Path, sheet: ContactSheet, case: str) -> None:
    changes, sentence = BAD[case]
    with pytest.raises(SettingsError) as caught:
        sheet.say({"clips": {B: {"defender": 14}, A: changes}})
    assert str(caught.value) == sentence
    assert not (folder / "clips.toml").exists()


@pytest.mark.parametrize(
    ("player", "sentence"),
    [
        ({"number": 14, "name": "Bo"}, "14 is already Theo Marsh's."),
        ({"number": 15, "name": " "}, "A player needs a number and a name; give both."),
        ({"number": None, "name": "Bo"}, "A player needs a number and a name; give both."),
    ],
)
def test_who_is_not_put_on_the_roster(
    sheet: ContactSheet, player: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(SettingsError) as caught:
        sheet.say({"players": [player]})
    assert str(caught.value) == sentence


@pytest.mark.parametrize(
    "ask",
    [
        lambda sheet: sheet.say({"clips": {"z.mp4": {"defender": 14}}}),
        lambda sheet: sheet.picture("../z.mp4", False),
        lambda sheet: sheet.film.frame("z.mp4", 0.0),
    ],
)
def test_a_clip_that_is_not_there(
    sheet: ContactSheet, ask: Callable[[ContactSheet], object]
) -> None:
    with pytest.raises(UsageError, match=r"there is no such clip; reload the page\."):
        ask(sheet)


def test_pictures_are_of_the_arrival(sheet: ContactSheet) -> None:
    import cv2
    import numpy as np

    def size(small: bool) -> tuple[int, ...]:
        jpeg = np.frombuffer(sheet.picture(A, small), np.uint8)
        return tuple(cv2.imdecode(jpeg, cv2.IMREAD_COLOR).shape[:2])

    assert size(False) == (720, 1280)
    # Around the defender, of the film's own shape.
    assert size(True) == (270, 480)


def test_a_practice_that_was_never_checked(tmp_path: Path) -> None:
    Record(tmp_path / "record.sqlite", make=True).close()
    with pytest.raises(PosecheckError, match="none of its clips has been checked"):
        ContactSheet(tmp_path, tmp_path / "record.sqlite")
