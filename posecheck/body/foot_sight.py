"""How far away a player is, read from his feet by a net learned on bodies whose place is known.

The line of sight to a foot that stands below the hips meets the ground at their range. But feet
stand ahead of the hips or behind them, or are lifted, and a pixel is a decimetre along the view.
How the rest of the body is seen shows which of these it is: ``models/fit/feet.py`` is the recipe,
``models/FEET_CARD.md`` gives the errors on bodies it has never seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from posecheck.body.net import BodyNet, packaged
from posecheck.body.view import SIDES, BodyView
from posecheck.maths.arrays import FloatArray
from posecheck.maths.shares import SDS_ACROSS_LEVEL
from posecheck.pose.skeleton import SKELETON

OUTPUTS = tuple(f"{side}_foot_m" for side in SIDES)

NET_FILE = "feet_net.npz"


def features(view: BodyView) -> FloatArray:
    """``(n, n_features)`` those of the stance, and where the pose model has the feet."""
    feet = view.body_m[:, FEET].mean(axis=2)
    return np.concatenate([view.features_of_picture(), feet[..., 1], feet[..., 2]], axis=1)


def read_feet(view: BodyView, net: BodyNet | None = None) -> FootSight:
    """Read how high over the ground the lines of sight to the feet pass below the hips.

    Args:
        view: ``n`` frames.
        net: that reads them, by default the one that comes with posecheck.
    """
    readings = (net or default_net()).read(view)
    feet = [readings[name] for name in OUTPUTS]
    return FootSight(
        np.stack([each.value for each in feet], axis=1),
        np.stack([(each.below + each.above) / SDS_ACROSS_LEVEL for each in feet], axis=1),
    )


@cache
def default_net() -> BodyNet:
    """The net that comes with posecheck."""
    return packaged(NET_FILE, OUTPUTS, features)


FEET = [SKELETON.indices(f"{side}_heel", f"{side}_foot_index") for side in ("left", "right")]
"""Numbers of the keypoints, left and right, heel and toe; a foot is the middle of the two."""


@dataclass(frozen=True)
class FootSight:
    """How high over the ground the lines of sight to a player's feet pass where his hips are.

    Positive for a lifted foot or one that stands beyond the hips, negative for one that stands on
    the camera's side of them.

    Attributes:
        height_m: ``(n, 2)`` left and right foot, NaN where not known.
        sd_m: ``(n, 2)`` standard deviations.
    """

    height_m: FloatArray
    sd_m: FloatArray
