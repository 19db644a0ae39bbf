"""The stance read from a body as it is seen, by a net learned on bodies of known stance.

``models/fit/stance.py`` is the recipe, ``models/STANCE_CARD.md`` gives the errors on bodies it has
never seen. The margins around a reading are those of one picture; the factors of
``intervals.toml`` turn them into the interval of a median over a window.
"""

from __future__ import annotations

from functools import cache

from posecheck.body.net import BodyNet, packaged
from posecheck.body.view import BodyView

OUTPUTS = (
    "left_knee_deg",
    "right_knee_deg",
    "knee_bend_deg",
    "trunk_lean_deg",
    "hip_drop",
    "hand_reach",
    "hand_height",
    "base_width",
)
"""What is read of a body. The bend of the straighter leg is an output of its own: the smaller of
two uncertain angles would come out too small."""

NET_FILE = "stance_net.npz"


BASE_FILE = "base_net.npz"


@cache
def base_net() -> BodyNet:
    """The net that reads how far apart the feet are, which comes with posecheck.

    It was fitted on reps and varied movement alone, seen by phones: with the other families the
    base of stances came out 0.1 pelvis widths worse at home, and no better elsewhere.
    """
    return packaged(BASE_FILE, OUTPUTS, BodyView.features)


@cache
def default_net() -> BodyNet:
    """The net that comes with posecheck."""
    return packaged(NET_FILE, OUTPUTS, BodyView.features)
