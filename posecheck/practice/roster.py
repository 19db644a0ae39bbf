"""Who is on the roster."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Player:
    """Someone on the roster; ``height_m`` and ``strong_hand`` None when not stated."""

    number: int
    name: str
    role: str | None = None
    strong_hand: str | None = None
    height_m: float | None = None

    @property
    def display_name(self) -> str:
        """The player as written wherever people read it."""
        return f"{self.name} ({self.number})"


UNKNOWN = "unknown"
"""A player whom nobody has named yet; a number follows where there are several."""
