"""Text from outside, such as the name of a file, as it may be shown: on one line, and obeyed by
nothing."""

from __future__ import annotations

import os
import shlex
import subprocess
import unicodedata
from pathlib import Path

_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
"""Categories of characters that cannot be seen and may do something: move the cursor of a terminal,
turn the direction of writing, or be half a character."""

_JOINERS = "\u200c\u200d"
"""Parts of ordinary words in some scripts, and of pictures put together from several."""


def printable(text: str) -> str:
    r"""The text with whatever is not seen written out, such as ``\x1b`` for Escape.

    Bytes of a file name that are no UTF-8, which Python reads as lone surrogates (PEP 383), come
    out as the bytes they are, such as ``\xe9``.
    """
    if text.isprintable():
        return text
    return "".join(_written_out(each) for each in text)


def as_typed(path: Path) -> str:
    """A file as it is typed after a command: in quotes where the shell wants them."""
    text = str(path)
    return printable(subprocess.list2cmdline([text]) if os.name == "nt" else shlex.quote(text))


def _written_out(char: str) -> str:
    if char in _JOINERS or unicodedata.category(char) not in _HIDDEN:
        return char
    code = ord(char)
    if 0xDC80 <= code <= 0xDCFF:
        return f"\\x{code - 0xDC00:02x}"
    return char.encode("unicode_escape").decode("ascii")
