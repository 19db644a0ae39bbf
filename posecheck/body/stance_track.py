"""A player's stance over time, from his landmarks and the camera."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from posecheck.body.fuse import fused, mean_reading
from posecheck.body.hip_height import HipHeight
from posecheck.body.kinematic import KinematicStance
from posecheck.body.net import BodyNet, Reading
from posecheck.body.stance_net import OUTPUTS, base_net, default_net
from posecheck.body.tuning import FIT_BEND_SDS
from posecheck.body.view import SIDES, BodyView
from posecheck.maths.arrays import FloatArray
from posecheck.maths.shares import SDS_ACROSS_LEVEL
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack

STANCE = OUTPUTS[2:]
"""The measures of a stance, each a field of :class:`StanceTrack`."""

_LEAST = {"knee_bend_deg": 0.0, "trunk_lean_deg": 0.0, "base_width": 0.0}
"""Least value, by key, of measures that cannot be negative; units as of the measure.

Source: definition
"""

FITTED = ("left_knee_deg", "right_knee_deg", "knee_bend_deg", "trunk_lean_deg")
"""What the kinematic fit reads about as well as the net; hands and base it reads worse."""

_LEGS = SKELETON.indices(*(f"{s}_{part}" for part in ("hip", "knee", "ankle") for s in SIDES))


@dataclass(frozen=True)
class StanceTrack:
    """A player's stance in each frame; NaN where not seen.

    Attributes:
        t_s: ``(n,)`` seconds.
        knee_bend_deg: ``(n,)`` flexion of the straighter leg, 0 for a straight one.
        trunk_lean_deg: ``(n,)`` angle of the line from mid-hip to mid-shoulder to the vertical.
        hip_drop: ``(n,)`` how much lower the hips are than when the player stands, as a share of
            their standing height.
        hand_reach: ``(n,)`` horizontal distance of the wrists ahead of mid-shoulder over the length
            of the arm.
        hand_height: ``(n,)`` height of the wrists, 0 at mid-hip and 1 at mid-shoulder.
        base_width: ``(n,)`` distance between the ankles over the ground, in pelvis widths.
        view_deg: ``(n,)`` 0 seen from the front, 90 side-on, 180 from behind.
        height_px: ``(n,)`` extent of the landmarks in the picture, head to foot.
        score: ``(n,)`` mean probability that hips, knees and ankles are seen; NaN where filled in.
        below, above: by measure ``(n,)`` margins of the reading of one frame, as in
            :class:`posecheck.body.net.Reading`.
        apart: by measure ``(n,)`` how far net and kinematic fit are apart, in units of what their
            intervals allow for; NaN where one of them read it alone.
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
    apart: Mapping[str, FloatArray] = field(default_factory=dict)


def stance_track(
    pose: PoseTrack,
    view: BodyView,
    hips: HipHeight | None = None,
    net: BodyNet | None = None,
    *,
    close: BodyView | None = None,
    fit: KinematicStance | None = None,
) -> StanceTrack:
    """Read a player's stance in every frame.

    Args:
        pose: ``n`` frames of landmarks.
        view: the same, from :func:`posecheck.body.view.body_view`.
        hips: height of his hips over the same frames, None when not known.
        net: that reads the stance, by default the one that comes with posecheck.
        close: the view again, as a second pose model read him around the arrival.
        fit: the kinematic fit over the same frames, where it was made.
    """
    readings, apart = stance_readings(view, hips, net, close=close, fit=fit)
    return StanceTrack(
        t_s=pose.t_s,
        **{key: np.maximum(readings[key].value, _LEAST.get(key, -np.inf)) for key in STANCE},
        view_deg=view.view_deg,
        height_px=view.height_px,
        score=pose.score[:, _LEGS].mean(axis=1),
        below={key: readings[key].below for key in STANCE},
        above={key: readings[key].above for key in STANCE},
        apart={key: apart[key] for key in STANCE if key in apart},
    )


def stance_readings(
    view: BodyView,
    hips: HipHeight | None = None,
    net: BodyNet | None = None,
    *,
    close: BodyView | None = None,
    fit: KinematicStance | None = None,
) -> tuple[dict[str, Reading], dict[str, FloatArray]]:
    """Every output of the net, fused with the kinematic fit where there is one.

    The net reads the landmarks of either pose model. What it reads of both is averaged, since it
    errs alike; the fit has learned nothing, and is weighed against it.

    Args:
        As :func:`stance_track`.

    Returns:
        By output the reading of each frame, and how far net and fit are apart.
    """
    whole = net or default_net()
    if hips is not None:
        alone = whole.read(view)["hip_drop"]
        lower, lower_sd = hips.drop(alone.value, alone.below + alone.above)
        view = replace(view, lower=lower, lower_sd=lower_sd)
        close = close and replace(close, lower=lower, lower_sd=lower_sd)
    readings = _by_both(whole, view, close)
    if net is None:
        readings["base_width"] = _by_both(base_net(), view, close)["base_width"]
    apart: dict[str, FloatArray] = {}
    if fit is not None:
        for key in FITTED:
            sds = FIT_BEND_SDS if key == "knee_bend_deg" else 1.0
            half = SDS_ACROSS_LEVEL / 2 * sds * fit.sd[key]
            own = Reading(getattr(fit, key), half, half)
            readings[key], apart[key] = fused(readings[key], own)
    return readings, apart


def _by_both(net: BodyNet, view: BodyView, close: BodyView | None) -> dict[str, Reading]:
    """What a net reads of the landmarks of either pose model, averaged."""
    readings = net.read(view)
    if close is None:
        return readings
    again = net.read(close)
    return {key: mean_reading(readings[key], again[key]) for key in readings}
