"""The two readers that the pose model runs in, and which of them is used."""

from __future__ import annotations

from enum import StrEnum
from importlib.util import find_spec

from posecheck.errors import UsageError


class Reader(StrEnum):
    """What runs the pose model; each has a file of its own form."""

    LITERT = "litert"
    LIBRARY = "library"

    @property
    def suffix(self) -> str:
        """Of the files that it opens."""
        return ".litert" if self is Reader.LITERT else ".task"

    @property
    def in_words(self) -> str:
        """What it is called in provenance and keys."""
        return "LiteRT" if self is Reader.LITERT else "the pose library"


def usual_reader() -> Reader:
    """The reader that is used unless another is named: LiteRT where it is installed."""
    return Reader.LIBRARY if find_spec("ai_edge_litert") is None else Reader.LITERT


def check_reader(reader: Reader) -> None:
    """See that a reader can be used on this machine.

    Raises:
        UsageError: LiteRT is not installed.
    """
    if reader is Reader.LITERT and find_spec("ai_edge_litert") is None:
        raise UsageError(
            "LiteRT is not installed, as there is no package of it for this machine; "
            "use --reader library."
        )
