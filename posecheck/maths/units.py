"""Units that people write and read. Everything inside is in SI units, and a practice is written and
read in one system of them."""

from __future__ import annotations

from enum import StrEnum

FOOT_M = 0.3048
"""Source: definition (international foot, 1959)."""
INCH_M = 0.0254
"""Source: definition (a twelfth of a foot)."""
YARD_M = 0.9144
"""Source: definition (three feet)."""
MILE_M = 1760 * YARD_M
"""Source: definition (1760 yards)."""
MPH_MPS = MILE_M / 3600
"""Source: definition (a mile in an hour)."""

_IN_YARDS = {"m": ("yd", YARD_M), "m/s": ("mph", MPH_MPS), "m/s²": ("mph/s", MPH_MPS)}
"""By SI unit: what stands in its place, and how much of the SI unit one of it is. Slowing down is
written as speed lost in a second in both systems.

Source: definition
"""


class Units(StrEnum):
    """The system in which a practice is written and read."""

    METRES = "m"
    """Metres, and metres a second."""
    YARDS = "yd"
    """Yards, and miles an hour."""

    def unit(self, si: str) -> str:
        """The unit that people read for an SI unit; angles, times and shares keep theirs."""
        return self._of(si)[0]

    def shown(self, value: float, si: str) -> float:
        """A value in an SI unit, in :meth:`unit`."""
        return value / self._of(si)[1]

    def metres(self, length: float) -> float:
        """A length that a person gives in this system, in metres."""
        return length * self._of("m")[1]

    def _of(self, si: str) -> tuple[str, float]:
        return _IN_YARDS.get(si, (si, 1.0)) if self is Units.YARDS else (si, 1.0)
