"""Style and script put into a page itself, so that it opens offline from anywhere.

A page opened as a file cannot rely on files beside it being readable to a script, and a strict
content security policy wants to know every script by its digest.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from markupsafe import Markup


@dataclass(frozen=True)
class Inlined:
    """What goes into a page's head.

    Attributes:
        style: text of the one style element.
        scripts: text of each script element.
        style_digest, script_digests: sources for the policy, ``'sha256-...'`` with the quotes.
    """

    style: Markup
    scripts: tuple[Markup, ...]
    style_digest: Markup
    script_digests: Markup


def inlined(styles: Sequence[str], scripts: Sequence[str]) -> Inlined:
    """Templates of these names as text for a page, in this order."""
    style = "".join(_text(name) for name in styles)
    texts = [_text(name) for name in scripts]
    return Inlined(
        style=Markup(style),
        scripts=tuple(Markup(text) for text in texts),
        style_digest=Markup(_digest(style)),
        script_digests=Markup(" ".join(_digest(text) for text in texts)),
    )


@cache
def _text(name: str) -> str:
    return (files("posecheck.pages") / "templates" / name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode('ascii')}'"
