"""What really happened in a clip whose truth is known.

A folder with truth holds, beside ``clips/NAME.mp4``, ``truth/NAME.json`` (moments, stance, speeds
and the flags that are right) and ``truth/NAME.npz`` (joints and camera of every frame). Truth of
rendered film is exact; truth made from several phones says how far off it may be itself.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from posecheck.body import stance as stance
from posecheck.body.view import view_angle
from posecheck.errors import UsageError
from posecheck.maths.arrays import FloatArray, finite_median
from posecheck.maths.timeline import in_window

_UP = np.array([0.0, 0.0, 1.0])
"""Against gravity, on the field's axes.

Source: definition
"""


@dataclass(frozen=True)
class Truth:
    """What really happened in one clip.

    Attributes:
        name: of the clip, without ending.
        facts: the JSON part as read: moments in seconds, quantities by key, right flags.
        t_s: ``(n,)`` frame times.
        knee_bend_deg: ``(n,)`` flexion of the straighter leg.
        trunk_lean_deg: ``(n,)``.
        hip_px: ``(n, 2)`` the defender's mid-hip in the picture, NaN without a defender.
        height_px: ``(n,)`` vertical extent of the defender's joints in the picture.
        view_deg: ``(n,)`` 0 seen from the front, 90 side-on, 180 from behind.
    """

    name: str
    facts: dict[str, Any]
    t_s: FloatArray
    knee_bend_deg: FloatArray
    trunk_lean_deg: FloatArray
    hip_px: FloatArray
    height_px: FloatArray
    view_deg: FloatArray

    @property
    def has_rep(self) -> bool:
        """True when somebody closes out in this clip."""
        return self.facts.get("arrival_s") is not None

    @property
    def own_error(self) -> Mapping[str, float]:
        """By key of the quantity half of the truth's own 90 % interval; empty for exact truth.

        Truth made from several phones (``posecheck truth``) has one.
        """
        return dict(self.facts.get("truth_error", {}))

    @property
    def open_rules(self) -> Sequence[str]:
        """Rules that the truth itself leaves open, being too near the limit for its own error."""
        return tuple(self.facts.get("flags_open", ()))

    @property
    def defender(self) -> str:
        """The defender's shirt number as written, "not stated" when there is none."""
        number = self.facts.get("defender")
        return "not stated" if number is None else f"#{number}"

    def over(self, values: FloatArray, start_s: float, end_s: float) -> float:
        """The median of ``(n,)`` values over a stretch of time, NaN when there is none."""
        return finite_median(values[in_window(self.t_s, start_s, end_s)])


def read_truth(folder: Path, clip_name: str) -> Truth:
    """Read the truth of one clip.

    Raises:
        UsageError: there is none.
    """
    base = folder / "truth" / clip_name
    try:
        facts = json.loads(base.with_suffix(".json").read_text("utf-8"))
        arrays = np.load(base.with_suffix(".npz"))
    except FileNotFoundError as error:
        raise UsageError(
            f"{Path(error.filename).name}: there is no truth to compare {clip_name} with; "
            "name a folder that holds clips and their truth, such as sample_clips."
        ) from None
    t_s = arrays["t_s"].astype(float)
    n = len(t_s)
    if "defender_joints_m" not in arrays:
        nothing = np.full(n, np.nan)
        nowhere = np.full((n, 2), np.nan)
        return Truth(clip_name, facts, t_s, nothing, nothing, nowhere, nothing, nothing)
    joints_px = _project(arrays)
    names = [str(name) for name in arrays["joint_names"]]
    hips = [names.index("left_hip"), names.index("right_hip")]
    return Truth(
        clip_name,
        facts,
        t_s,
        np.min(arrays["knee_flexion_deg"], axis=1).astype(float),
        arrays["trunk_lean_deg"].astype(float),
        joints_px[:, hips].mean(axis=1),
        # Of joints seen by several phones some may be missing.
        np.fmax.reduce(joints_px[..., 1], axis=1) - np.fmin.reduce(joints_px[..., 1], axis=1),
        _view_deg(arrays, names),
    )


def _project(arrays: Any) -> FloatArray:
    """Truth joints ``(n, J, 3)`` in metres to pixels ``(n, J, 2)``."""
    in_camera = np.einsum(
        "nij,nkj->nki",
        arrays["camera_rotation"].astype(float),
        arrays["defender_joints_m"].astype(float)
        - arrays["camera_centre_m"][:, None].astype(float),
    )
    in_picture = np.einsum("nij,nkj->nki", arrays["camera_matrix"].astype(float), in_camera)
    pixels: FloatArray = in_picture[..., :2] / in_picture[..., 2:]
    return pixels


def _view_deg(arrays: Any, names: list[str]) -> FloatArray:
    """``(n,)`` from where the camera sees the direction that hips and shoulders face."""
    joints_m = arrays["defender_joints_m"].astype(float)

    def of(part: str) -> FloatArray:
        return np.asarray(joints_m[:, names.index(part)])

    across = sum(of(f"right_{part}") - of(f"left_{part}") for part in ("hip", "shoulder"))
    known = np.isfinite(joints_m).all(axis=2, keepdims=True)
    middle = np.where(known, joints_m, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    to_camera = arrays["camera_centre_m"].astype(float) - middle
    facing = stance.forward(np.asarray(across), _UP)
    return np.degrees(view_angle(facing, _UP, to_camera))
