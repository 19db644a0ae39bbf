"""The steps of a player at his fastest, and whether anybody moves like that.

Apart from ``slow_motion.py``, which finds them: to speak of them does not need what that reads.
"""

from __future__ import annotations

from dataclasses import dataclass

from posecheck.filming.tuning import LONG_STEP_M, RUN_STEPS_HZ, SLOW_STEPS_HZ


@dataclass(frozen=True)
class Steps:
    """The steps of a player at his fastest.

    Attributes:
        hz: a second.
        length_m: metres of each.
        slow_motion: how many times slower than life the film is taken to play.
    """

    hz: float
    length_m: float
    slow_motion: float = 1.0

    @property
    def slow(self) -> bool:
        """Nobody moves like that: the film plays slower than life."""
        return self.hz < SLOW_STEPS_HZ and self.length_m > LONG_STEP_M

    @property
    def times_slower(self) -> int:
        """About how many times slower than life the film plays, if he runs."""
        return max(2, round(self.slow_motion * RUN_STEPS_HZ / self.hz))

    @property
    def described(self) -> str:
        """What was seen, as part of a sentence."""
        return f"he takes {self.hz:.1f} steps a second of {self.length_m:.1f} m each"
