"""The exit codes of the commands, for the program that called them."""

from __future__ import annotations

from enum import IntEnum


class ExitCode(IntEnum):
    """How a command ended."""

    ALL_MEASURED = 0
    FAILED = 1
    """Something that is no clip's fault."""
    BAD_USAGE = 2
    """The command or a settings file needs correcting."""
    SOME_FAILED = 3
    """Some clips, or some practices of a season, could not be measured."""
    NOTHING_USABLE = 4
    """No clip could be measured."""
    STOPPED = 130
    """By Ctrl-C; the number that shells use."""
