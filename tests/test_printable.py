"""Names of files as they are shown."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from posecheck.errors import ClipError
from posecheck.printable import as_typed, printable


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("rep 01 zoé 日本.mp4", "rep 01 zoé 日本.mp4"),
        # Clears the screen, rings, starts a line of its own, and turns the writing round.
        ("\x1b[2Ja\x07\nb\u202e.mp4", r"\x1b[2Ja\x07\nb\u202e.mp4"),
        ("\x9b31m\u2028\x7f", r"\x9b31m\u2028\x7f"),
        # 0xE9 is é in Latin-1 and nothing in UTF-8 (PEP 383).
        (os.fsdecode(b"caf\xe9.mp4"), r"caf\xe9.mp4"),
        ("\ud83d", r"\ud83d"),
        ("\U000e0041", r"\U000e0041"),
        # Two people in one picture, and a word of Farsi.
        ("👩\u200d💻 می\u200cروم", "👩\u200d💻 می\u200cروم"),
    ],
)
def test_what_cannot_be_seen_is_written_out(text: str, shown: str) -> None:
    assert printable(text) == shown
    assert printable(text).encode()


def test_a_clip_is_named_as_it_may_be_shown() -> None:
    error = ClipError(Path("a\x1b[31m.mp4"), "it is broken", "copy it again")
    assert str(error) == r"a\x1b[31m.mp4: it is broken; copy it again."


@pytest.mark.skipif(os.name == "nt", reason="quotes of another shell")
@pytest.mark.parametrize(
    ("folder", "typed"),
    [
        ("fall/week-1", "fall/week-1"),
        ("coach's reps; $(x)", """'coach'"'"'s reps; $(x)'"""),
        ("a\nb", r"'a\nb'"),
    ],
)
def test_a_folder_after_a_command_is_in_quotes_where_it_needs_them(folder: str, typed: str) -> None:
    assert as_typed(Path(folder)) == typed
