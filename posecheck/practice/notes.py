"""The coach's notes on a clip: where the camera stood, the spot, who is in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from posecheck.camera.lens import Lens
from posecheck.practice.layout import Point
from posecheck.practice.roster import Player


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
class ClipNotes:
    """The coach's notes on a clip; None for what the coach did not state.

    ``lens`` is the one that filmed this clip, where it is another than the practice's.
    """

    view: View | None = None
    spot: str | None = None
    defender: Player | None = None
    attacker: Player | None = None
    lens: Lens | None = None
