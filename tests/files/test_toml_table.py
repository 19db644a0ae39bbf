"""Settings that no person means get one sentence, whatever they do to a parser."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from posecheck.errors import SettingsError
from posecheck.files.toml_table import read_toml
from posecheck.judging.thresholds import read_thresholds
from posecheck.practice.reading import read_practice
from posecheck.practice.season_file import read_season_file
from posecheck.practice.set_cuts import read_set

DEEP = "a = " + "[" * 5000 + "]" * 5000
LONG = "a = " + "9" * 5000
HEX = "a = 0x" + "f" * 5000


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        (DEEP, "brackets stand too deep inside each other; write it more simply."),
        (LONG, "a number in it is far too long; correct it."),
        (HEX, "a is a number of far too many digits; give a number without quotes."),
        ("a = 1e400", "a is inf; give a number without quotes."),
        ("a = " + "9" * 400, f"a is {'9' * 18}...{'9' * 19}; give a number without quotes."),
        ("a = 1e300", "a is 1e+300; give a number from -1e+06 to 1e+06."),
        (f"a = '{'x' * 200}'", f"a is '{'x' * 27}...{'x' * 28}'; give a number without quotes."),
    ],
)
def test_deep_and_huge_values(tmp_path: Path, text: str, complaint: str) -> None:
    path = tmp_path / "practice.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        read_toml(path).number("a")
    assert str(caught.value) == f"{path}: {complaint}"
    assert len(str(caught.value)) < len(str(path)) + 120


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("a = [1e300, 2]", "a is [1e+300, 2]; give numbers up to 1000000."),
        ("a = [[[[[[[[[1]]]]]]]]]", "a is [[[[[[[...]]]]]]]; give two numbers in brackets, such as "
         "[8.0, 12.5]."),
    ],
)  # fmt: skip
def test_points(tmp_path: Path, text: str, complaint: str) -> None:
    path = tmp_path / "practice.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        read_toml(path).point("a")
    assert str(caught.value) == f"{path}: {complaint}"


def test_whole_numbers_end_somewhere(tmp_path: Path) -> None:
    path = tmp_path / "practice.toml"
    path.write_text("a = 99999999999", encoding="utf-8")
    with pytest.raises(SettingsError, match="a is 99999999999; give one up to 1000000"):
        read_toml(path).whole("a")


def refused(path: Path) -> str:
    with pytest.raises(SettingsError) as caught:
        read_toml(path)
    return str(caught.value).removeprefix(f"{path}: ")


def test_a_file_that_no_person_wrote(tmp_path: Path) -> None:
    path = tmp_path / "practice.toml"
    with path.open("wb") as file:
        file.truncate(100_000_000)
    assert refused(path) == "100 MB are too much for a settings file; see what it is."
    path.write_bytes(b'name = "a\0b"')
    assert refused(path) == (
        "it is not valid TOML: Illegal character '\\x00' (at line 1, column 10); correct that line."
    )
    path.unlink()
    os.mkfifo(path)
    assert refused(path) == "this is no file; put a text file in its place."
    path.unlink()
    path.mkdir()
    assert refused(path) == "this is no file; put a text file in its place."


def test_a_character_that_no_name_of_a_file_can_hold(tmp_path: Path) -> None:
    path = tmp_path / "practice.toml"
    path.write_text('file = "a\\u0000b"', encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        read_toml(path).text("file")
    assert str(caught.value) == (f"{path}: file is 'a\\x00b'; take the character \\u0000 out.")


ODD = {
    "a number beyond all": "= 1e400",
    "400 digits": f"= {'9' * 400}",
    "5,000 digits": f"= {'9' * 5000}",
    "no number": "= nan",
    "without end": "= -inf",
    "5,000 lists": "= " + "[" * 5000 + "]" * 5000,
    "5,000 tables": "= " + "{a=" * 5000 + "1" + "}" * 5000,
    "5,000 dots": ".a" * 5000 + " = 1",
}
READ = {
    # by file: what reads it, and where a number stands in it
    "practice.toml": (read_practice, "slow_motion "),
    "clips.toml": (read_practice, "[[clips]]\nfile = 'a.mp4'\narrival_s "),
    "points.toml": (read_practice, "[[views]]\nname = 'a'\nsize = [9, 9]\ntime_s "),
    "season.toml": (read_season_file, "[[players]]\nname = 'a'\nnumber "),
    "cuts.toml": (read_set, "[[stretches]]\nfilm = 'a.mp4'\nto_s = 3\nfrom_s "),
    "thresholds.toml": (
        lambda folder: read_thresholds(folder / "thresholds.toml"),
        "min_hip_drop ",
    ),
}


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", READ)
def test_every_settings_file_says_in_one_sentence_what_is_wrong(
    tmp_path: Path, name: str, odd: str
) -> None:
    read, before = READ[name]
    (tmp_path / name).write_text(before + ODD[odd] + "\n", encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        read(tmp_path)
    sentence = str(caught.value)
    assert sentence.startswith(f"{tmp_path / name}: ")
    assert "\n" not in sentence
    assert len(sentence) < len(str(tmp_path)) + 200
