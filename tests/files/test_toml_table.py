"""Settings that no person means get one sentence, whatever they do to a parser."""

from __future__ import annotations

from pathlib import Path

import pytest

from posecheck.errors import SettingsError
from posecheck.files.toml_table import read_toml

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
