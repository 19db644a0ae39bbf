"""Under what conditions a stance was read, and the limits beyond which it is not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from posecheck.filming.look import NOT_LOOKED, Look

Side = Literal["front", "side", "behind"]


SIDES: tuple[Side, ...] = ("front", "side", "behind")


FRONT_TO_DEG, SIDE_TO_DEG = 45.0, 105.0
"""Views up to these, 0 from the front and 180 from behind. Seen from the side a leg shows its bend
in the picture, and readings come closer than the room that the stance net leaves."""


_VIEWS = (
    "from the front",
    "at a slant from the front",
    "side-on",
    "at a slant from behind",
    "from behind",
)


@dataclass(frozen=True)
class Conditions:
    """What is known of a stance reading when it is made.

    Attributes:
        view_deg: 0 seen from the front, 90 side-on, 180 from behind.
        height_px: the player's height in the picture.
        score: mean chance that hips, knees and ankles are seen.
        seen: frames of the window in which the stance was seen.
        of: frames the window should hold.
        look: how the player looks in the picture, over the window.
    """

    view_deg: float
    height_px: float
    score: float
    seen: int
    of: int
    look: Look = NOT_LOOKED

    @property
    def described(self) -> str:
        """For the page: "13 of 13 frames, 240 px tall, seen side-on"."""
        tall = f"{self.height_px:.0f} px tall"
        return f"{self.seen} of {self.of} frames, {tall}, seen {self.view_words}"

    @property
    def seen_from(self) -> Side:
        """Which side of him the camera sees, as error bars are told apart by it."""
        if self.view_deg < FRONT_TO_DEG:
            return "front"
        return "side" if self.view_deg < SIDE_TO_DEG else "behind"

    @property
    def view_words(self) -> str:
        """Where the camera stood, as in "side-on"."""
        return _VIEWS[min(int((self.view_deg + 22.5) // 45), 4)]


@dataclass(frozen=True)
class StanceReading:
    """What is read of a stance over a window of time.

    Attributes:
        value: the median of what is read in its frames.
        below, above: medians of how far the truth may lie below and above it, frame by frame.
        conditions: under which it was read.
    """

    value: float
    below: float
    above: float
    conditions: Conditions
