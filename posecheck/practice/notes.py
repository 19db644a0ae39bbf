"""The coach's notes on a clip: where the camera stood, the spot, who is in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

from posecheck.camera.lens import Lens
from posecheck.practice.layout import Point
from posecheck.practice.roster import UNKNOWN, Player


@dataclass(frozen=True)
class View:
    """One camera position: where known points are seen in its picture.

    Attributes:
        name: of the position.
        size: width and height in pixels of the picture the marks were read from, None when
            there are none.
        time_s: moment of that picture in seconds of clip time (matters when the camera moves).
        marks: point name to pixels, empty when posecheck should find the points itself.
    """

    name: str
    size: tuple[int, int] | None
    time_s: float
    marks: Mapping[str, Point]


@dataclass(frozen=True)
class PointedOut:
    """Where somebody is seen: a moment in seconds of clip time, and pixels of the clip."""

    t_s: float
    x_px: float
    y_px: float


@dataclass(frozen=True)
class ClipNotes:
    """The coach's notes on a clip; None for what the coach did not state.

    Attributes:
        view, spot, defender, attacker: where the camera stood, and who is seen where.
        lens: that filmed this clip, where it is another than the practice's.
        slow_motion: how many times slower than life it plays, where that is another than the
            practice's.
        slow_in_part: True when it plays at the speed of life but for a part that is slower.
        arrival_s: when the defender arrives, seconds of clip time, where it was read wrongly.
        defender_at: where he is seen, where somebody else was taken for him.
        unknown: number by which the defender goes while nobody has named him.
    """

    view: View | None = None
    spot: str | None = None
    defender: Player | None = None
    attacker: Player | None = None
    lens: Lens | None = None
    slow_motion: float | None = None
    slow_in_part: bool | None = None
    arrival_s: float | None = None
    defender_at: PointedOut | None = None
    unknown: int | None = None

    def over(self, others: ClipNotes) -> ClipNotes:
        """These notes, and the others where these say nothing."""
        said = {each.name: getattr(self, each.name) for each in fields(self)}
        stated = {name: value for name, value in said.items() if value is not None}
        return replace(others, **stated)

    def within(self, from_s: float, to_s: float, slow_motion: float) -> ClipNotes:
        """These notes on a film, for a clip that is a part of it.

        Args:
            from_s, to_s: the part, seconds of the film as it plays.
            slow_motion: how many times slower than life it plays.
        """
        begins_s, ends_s = from_s / slow_motion, to_s / slow_motion
        arrival_s, at = self.arrival_s, self.defender_at
        if arrival_s is not None:
            arrival_s = arrival_s - begins_s if begins_s <= arrival_s <= ends_s else None
        if at is not None:
            at = replace(at, t_s=at.t_s - begins_s) if begins_s <= at.t_s <= ends_s else None
        return replace(self, arrival_s=arrival_s, defender_at=at)

    @property
    def defender_name(self) -> str:
        """The defender as written wherever people read it, also when nobody has named him."""
        if self.defender is not None:
            return self.defender.display_name
        return UNKNOWN if self.unknown is None else f"{UNKNOWN} {self.unknown}"
