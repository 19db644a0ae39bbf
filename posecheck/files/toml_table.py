"""Read settings files written by people, and complain in one sentence when they cannot be used."""

from __future__ import annotations

import datetime as dt
import difflib
import json
import math
import reprlib
import stat
import tomllib
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from posecheck.errors import SettingsError

GREATEST = 1e6
"""No figure in a settings file is larger: not a pixel, a metre, a jersey or a second.

Source: guess
"""

LARGEST_BYTES = 8_000_000
"""No settings file is larger: what is said of 10,000 clips takes a quarter of it.

Source: guess
"""

LONGEST_CHARS = 60
"""Characters of a value that a complaint repeats, at most.

Source: guess
"""


@dataclass(frozen=True)
class TomlTable:
    """A table of a TOML file that knows its file and name, so that complaints can give them.

    Attributes:
        path: the file.
        name: of the table as shown in complaints, "" for the file itself.
        values: its content by key.
    """

    path: Path
    name: str
    values: dict[str, Any]

    def refuse(self, key: str, fault: str, remedy: str) -> NoReturn:
        """Raise a SettingsError about one key, or about the table when ``key`` is empty."""
        what = " ".join(part for part in (self.name, key) if part)
        end = "" if remedy.endswith("?") else "."
        raise SettingsError(f"{self.path}: {what} {fault}; {remedy}{end}")

    def allow(self, *keys: str) -> None:
        """Refuse any key that is not one of ``keys``."""
        for key in self.values:
            if key not in keys:
                self.refuse(key, "is not a known setting", suggestion(key, keys))

    def text(self, key: str) -> str | None:
        """A text, None when not stated."""
        value = self.values.get(key)
        if value is not None and not isinstance(value, str):
            self.refuse(key, f"is {_shown(value)}", "give a text in quotes")
        if value is not None and "\0" in value:
            self.refuse(key, f"is {_shown(value)}", "take the character \\u0000 out")
        return value

    def choice(self, key: str, options: Collection[str]) -> str | None:
        """One of ``options``, None when not stated."""
        value = self.text(key)
        if value is not None and value not in options:
            self.refuse(key, f"is {_shown(value)}", suggestion(value, options))
        return value

    def flag(self, key: str) -> bool:
        """True or false, false when not stated."""
        value = self.values.get(key, False)
        if not isinstance(value, bool):
            self.refuse(key, f"is {_shown(value)}", "give true or false without quotes")
        return value

    def whole(self, key: str) -> int | None:
        """A whole number not below 0, None when not stated."""
        value = self.values.get(key)
        if value is None:
            return None
        if not isinstance(value, int) or isinstance(value, bool) or value < 0:
            self.refuse(key, f"is {_shown(value)}", "give a whole number without quotes")
        if value > GREATEST:
            self.refuse(key, f"is {_shown(value)}", f"give one up to {GREATEST:.0f}")
        return value

    def number(self, key: str, low: float = -GREATEST, high: float = GREATEST) -> float | None:
        """A number within ``[low, high]``, None when not stated."""
        value = self.values.get(key)
        if value is None:
            return None
        if not _is_number(value):
            self.refuse(key, f"is {_shown(value)}", "give a number without quotes")
        if not low <= value <= high:
            self.refuse(key, f"is {_shown(value)}", f"give a number from {low:g} to {high:g}")
        return float(value)

    def point(self, key: str) -> tuple[float, float]:
        """Two numbers in brackets; must be there."""
        value = self.values[key]
        if not isinstance(value, list) or len(value) != 2 or not all(map(_is_number, value)):
            self.refuse(
                key, f"is {_shown(value)}", "give two numbers in brackets, such as [8.0, 12.5]"
            )
        if any(abs(each) > GREATEST for each in value):
            self.refuse(key, f"is {_shown(value)}", f"give numbers up to {GREATEST:.0f}")
        return float(value[0]), float(value[1])

    def date(self, key: str) -> dt.date | None:
        """A date, None when not stated."""
        value = self.values.get(key)
        if value is not None and type(value) is not dt.date:
            self.refuse(
                key, f"is {_shown(value)}", "give a date without quotes, such as 2026-05-12"
            )
        return value

    def table(self, key: str) -> TomlTable:
        """The table under ``key``, empty when not stated."""
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            self.refuse(key, "is not a table", f"write it under a line of its own, [{key}]")
        inside = self.name.endswith("]")
        name = f"{self.name[:-1]}.{key}]" if inside else f"{self.name} [{key}]".lstrip()
        return TomlTable(self.path, name, value)

    def tables(self, key: str) -> Iterator[TomlTable]:
        """The tables of the list under ``key``, none when not stated."""
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
            self.refuse(key, "is not a list of tables", f"start each with a line [[{key}]]")
        for number, each in enumerate(value, start=1):
            yield TomlTable(self.path, f"[[{key}]] number {number}", each)


def read_toml(path: Path) -> TomlTable:
    """Read a TOML file.

    Raises:
        SettingsError: it cannot be read or is not TOML.
    """
    try:
        if not stat.S_ISREG(path.stat().st_mode):  # a pipe would keep us waiting
            raise SettingsError(f"{path}: this is no file; put a text file in its place.")
        if path.stat().st_size > LARGEST_BYTES:
            raise SettingsError(
                f"{path}: {path.stat().st_size / 1e6:.0f} MB are too much for a settings file; see "
                "what it is."
            )
        return TomlTable(path, "", tomllib.loads(path.read_text("utf-8-sig")))
    except FileNotFoundError:
        raise SettingsError(f"{path}: there is no such file; check the name.") from None
    except OSError as error:
        raise SettingsError(
            f"{path}: it cannot be read ({error.strerror}); change its permissions."
        ) from None
    except UnicodeDecodeError:
        raise SettingsError(f"{path}: it is not plain text; save it as UTF-8 text.") from None
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"{path}: it is not valid TOML: {error}; correct that line.") from None
    except RecursionError:
        raise SettingsError(
            f"{path}: brackets stand too deep inside each other; write it more simply."
        ) from None
    except ValueError:  # a number of more digits than Python reads
        raise SettingsError(f"{path}: a number in it is far too long; correct it.") from None


def toml_text(value: str) -> str:
    """A text as TOML's basic string: JSON's escapes are TOML's, but DEL must be escaped too."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def suggestion(given: str, known: Collection[str]) -> str:
    """What to write instead: the nearest known name, or all of them."""
    near = difflib.get_close_matches(given, known, n=1, cutoff=0.65)
    if near:
        return f"did you mean {near[0]!r}?"
    return f"choose one of {', '.join(known)}" if known else "leave it out"


def _is_number(value: object) -> bool:
    if not isinstance(value, int | float) or isinstance(value, bool):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def _shown(value: object) -> str:
    """A value as given, cut when long or deep."""
    try:
        short = reprlib.Repr()
        short.maxstring = short.maxother = LONGEST_CHARS
        return short.repr(value)
    except ValueError:  # more digits than Python writes
        return "a number of far too many digits"
