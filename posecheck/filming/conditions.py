"""The conditions under which a stance was read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from posecheck.filming.look import NOT_LOOKED, Look
from posecheck.filming.tuning import FRONT_TO_DEG, SIDE_TO_DEG

Side = Literal["front", "side", "behind"]
"""Side from which the camera sees a player."""

SIDES: tuple[Side, ...] = ("front", "side", "behind")

Group = str
"""Side seen and legs, such as "front_bent": each has intervals of its own."""

GROUPS: tuple[Group, ...] = tuple(
    f"{side}_{legs}" for side in SIDES for legs in ("bent", "straight")
)

_VIEWS = (
    "from the front",
    "at a slant from the front",
    "side-on",
    "at a slant from behind",
    "from behind",
)


@dataclass(frozen=True)
class Conditions:
    """The conditions under which a stance was read.

    Attributes:
        view_deg: 0 seen from the front, 90 side-on, 180 from behind.
        height_px: the player's height in the picture.
        score: mean probability that hips, knees and ankles are seen.
        seen: frames of the window in which the stance was seen.
        of: frames the window should hold.
        look: how the player looks in the picture, over the window.
        bent: whether his knees are read bent over the window.
        hidden: frames of a step in which he was hidden and ran on as before, which count as those
            around it.
    """

    view_deg: float
    height_px: float
    score: float
    seen: int
    of: int
    look: Look = NOT_LOOKED
    bent: bool = True
    hidden: int = 0

    @property
    def described(self) -> str:
        """For the page: "13 of 13 frames, 240 px tall, seen side-on"."""
        hidden = f", {self.hidden} hidden while he runs on" if self.hidden else ""
        tall = f"{self.height_px:.0f} px tall"
        return f"{self.seen} of {self.of} frames{hidden}, {tall}, seen {self.view_words}"

    @property
    def seen_from(self) -> Side:
        """Which side of him the camera sees."""
        if self.view_deg < FRONT_TO_DEG:
            return "front"
        return "side" if self.view_deg < SIDE_TO_DEG else "behind"

    @property
    def group(self) -> Group:
        """Readings that err alike."""
        return f"{self.seen_from}_{'bent' if self.bent else 'straight'}"

    @property
    def view_words(self) -> str:
        """The direction from which he is seen, such as "side-on"."""
        return _VIEWS[min(int((self.view_deg + 22.5) // 45), 4)]


@dataclass(frozen=True)
class StanceReading:
    """One measure of the stance, read over a window of time.

    Attributes:
        value: median of the readings in its frames.
        below, above: medians of the margins below and above the reading of a frame.
        conditions: under which it was read.
        apart: how far two independent readings of it are apart, in units of what their intervals
            allow for; NaN when there is one alone.
    """

    value: float
    below: float
    above: float
    conditions: Conditions
    apart: float = float("nan")
