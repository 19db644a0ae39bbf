"""A player's stance over time, from his landmarks and the camera."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from posecheck.body.hip_height import HipHeight
from posecheck.body.net import BodyNet
from posecheck.body.stance_net import OUTPUTS, default_net
from posecheck.body.view import SIDES, BodyView
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

STANCE = OUTPUTS[2:]
"""The measures of a stance, each a field of :class:`StanceTrack`."""

LEAST = {"knee_bend_deg": 0.0, "trunk_lean_deg": 0.0, "base_width": 0.0}
"""What cannot be negative."""

_LEGS = SKELETON.indices(*(f"{s}_{part}" for part in ("hip", "knee", "ankle") for s in SIDES))


@dataclass(frozen=True)
class StanceTrack:
    """How a player holds himself in each frame; NaN where not seen.

    Attributes:
        t_s: ``(n,)`` seconds.
        knee_bend_deg: ``(n,)`` flexion of the straighter leg.
        trunk_lean_deg: ``(n,)``.
        hip_drop: ``(n,)`` how much lower the hips are than the same player's standing.
        hand_reach, hand_height, base_width: ``(n,)`` as in :mod:`posecheck.body.formulas`.
        view_deg: ``(n,)`` 0 seen from the front, 90 side-on, 180 from behind.
        height_px: ``(n,)`` extent of the landmarks in the picture, head to foot.
        score: ``(n,)`` mean chance that hips, knees and ankles are seen; NaN where filled in.
        below, above: by measure ``(n,)`` how far the truth may lie below and above what is read
            in one frame, as :class:`posecheck.body.net.Told` has it.
    """

    t_s: FloatArray
    knee_bend_deg: FloatArray
    trunk_lean_deg: FloatArray
    hip_drop: FloatArray
    hand_reach: FloatArray
    hand_height: FloatArray
    base_width: FloatArray
    view_deg: FloatArray
    height_px: FloatArray
    score: FloatArray
    below: Mapping[str, FloatArray]
    above: Mapping[str, FloatArray]


def stance_track(
    pose: PoseTrack, view: BodyView, hips: HipHeight | None = None, net: BodyNet | None = None
) -> StanceTrack:
    """Read a player's stance in every frame.

    Args:
        pose: ``n`` frames of landmarks.
        view: the same, from :func:`posecheck.body.view.body_view`.
        hips: how high he carries them over the same frames, if that is known.
        net: what reads it, by default the one that comes with posecheck.
    """
    net = net or default_net()
    told = net.read(view)
    if hips is not None:
        alone = told["hip_drop"]
        lower, lower_sd = hips.drop(alone.value, alone.below + alone.above)
        told = net.read(replace(view, lower=lower, lower_sd=lower_sd))
    return StanceTrack(
        t_s=pose.t_s,
        **{key: np.maximum(told[key].value, LEAST.get(key, -np.inf)) for key in STANCE},
        view_deg=view.view_deg,
        height_px=view.height_px,
        score=pose.score[:, _LEGS].mean(axis=1),
        below={key: told[key].below for key in STANCE},
        above={key: told[key].above for key in STANCE},
    )
