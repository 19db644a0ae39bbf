"""What a page says of a check that still runs while it is written."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True)
class Running:
    """How far a check is.

    Attributes:
        done: clips that are done with.
        to_come: those that are not; None when it is not known how many will come.
        at: when the page was written.
    """

    done: int
    to_come: int | None
    at: dt.datetime

    @property
    def words(self) -> str:
        """One sentence for the head of the page."""
        when = f"{self.at:%H:%M} on {self.at.day} {self.at:%B %Y}"
        done = f"{self.done} clip{'' if self.done == 1 else 's'} done"
        rest = "" if self.to_come is None else f", {self.to_come} to come"
        return f"The check was still running when this page was written, at {when}: {done}{rest}."
