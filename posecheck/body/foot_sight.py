"""What the feet tell of how far away a player is, learned from bodies whose place is known.

The line of sight to a foot that stands below the hips meets the ground at their range. But feet
stand ahead of the hips or behind them, or are lifted, and a pixel is a decimetre along the view.
How the rest of the body is seen tells which of that it is: ``models/fit_feet.py`` is the recipe,
``models/FEET_CARD.md`` says how well it does on bodies it has never seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from posecheck.body.net import BodyNet, packaged
from posecheck.body.view import SIDES, BodyView
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON

OUTPUTS = tuple(f"{side}_foot_m" for side in SIDES)

NET_FILE = "feet_net.npz"

COVER_SDS = 2 * 1.645
"""Standard deviations in nine tenths of a normal distribution."""


def features(view: BodyView) -> FloatArray:
    """``(n, n_features)`` what a stance is read from, and where the model has the feet."""
    feet = view.body_m[:, FEET].mean(axis=2)
    return np.concatenate([view.features_of_picture(), feet[..., 1], feet[..., 2]], axis=1)


def read_feet(view: BodyView, net: BodyNet | None = None) -> FootSight:
    """Read how high the lines of sight to the feet pass over the ground below the hips.

    Args:
        view: ``n`` frames.
        net: what reads it, by default the one that comes with posecheck.
    """
    told = (net or default_net()).read(view)
    feet = [told[name] for name in OUTPUTS]
    return FootSight(
        np.stack([each.value for each in feet], axis=1),
        np.stack([(each.below + each.above) / COVER_SDS for each in feet], axis=1),
    )


@cache
def default_net() -> BodyNet:
    """The net that comes with posecheck."""
    return packaged(NET_FILE, OUTPUTS, features)


FEET = [SKELETON.indices(f"{side}_heel", f"{side}_foot_index") for side in ("left", "right")]
"""Left and right, heel and toe; a foot is the middle of the two."""


@dataclass(frozen=True)
class FootSight:
    """How high over the ground the lines of sight to a player's feet pass where his hips are.

    Above nothing for a lifted foot or one beyond the hips, below for one that stands before them.

    Attributes:
        height_m: ``(n, 2 feet)`` left and right, NaN where not known.
        sd_m: ``(n, 2 feet)`` standard deviations.
    """

    height_m: FloatArray
    sd_m: FloatArray
