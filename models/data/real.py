"""Real film: a man whose joints are known, and people of whom one knows how they stand.

The film itself is in no repository; what was read of it is kept as rows, beside the truth. It is
too little to fit on or to choose by: it can refute.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from models.data.bench import bench_key
from models.data.keyed import read_keyed, write_keyed
from models.files import ROWS
from models.recipe import Real, recipe
from posecheck.body import stance as formulas
from posecheck.body.kinematic import kinematic_stance
from posecheck.body.stance_track import stance_readings
from posecheck.body.view import BodyView, body_view
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.errors import ClipError
from posecheck.filming.conditions import Conditions
from posecheck.filming.tuning import BENT_DEG
from posecheck.keypoints.landmark_tracks import Wanted, read_keypoints
from posecheck.keypoints.smoothing import smooth_track
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import in_window
from posecheck.measures.intervals import default_intervals
from posecheck.pipeline.estimated_ground import estimated_ground
from posecheck.pipeline.measure import measure_clip
from posecheck.pipeline.settings import Settings
from posecheck.players.tracker import follow_players
from posecheck.pose.model_files import CLOSE_VARIANT, pose_model_path
from posecheck.pose.open_readers import Readers
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack
from posecheck.practice.practice import Practice
from posecheck.video.clip import Clip, open_clip

REAL = ROWS / "real.parquet"
STEP = "real"
MEASURES = ("left_knee_deg", "right_knee_deg", "knee_bend_deg", "trunk_lean_deg")
FLOOR_SD_M = 1.0
"""Where the floor is under the known camera is not known."""


@dataclass(frozen=True)
class RealReading:
    """One window of real film.

    Attributes:
        clip, camera: of the film; whether its camera is known or estimated from the players.
        measure: what was read.
        start_s: when the window begins.
        value, low, high: as read, and its interval.
        model: the same by the pose model's own body.
        truth: median of the truth, NaN where there is none.
        standing: whether one sees that the legs are straight.
    """

    clip: str
    camera: str
    measure: str
    start_s: float
    value: float
    low: float
    high: float
    model: float
    truth: float
    standing: bool


@dataclass(frozen=True)
class NoRep:
    """What a check says of film in which nobody closes out.

    Attributes:
        clip: of the film.
        reps: found in it.
        said: the reason given.
    """

    clip: str
    reps: int
    said: str


_SCHEMA = pa.schema(
    [
        (each.name, {"str": pa.string(), "bool": pa.bool_()}.get(str(each.type), pa.float64()))
        for each in fields(RealReading)
    ]
)


def read_real(folder: Path) -> tuple[list[RealReading], list[NoRep]]:
    """Read the real film of a folder, and keep the rows.

    Args:
        folder: clips, and ``balance/`` with ``truth.json.gz``.

    Raises:
        ValueError: there is no such film.
    """
    own = recipe().real
    with gzip.open(folder / "balance" / "truth.json.gz", "rt") as file:
        truth = json.load(file)["clips"]
    windows: list[RealReading] = []
    for name, known in truth.items():
        windows += _with_truth(folder / "balance" / name, known, own)
    for name, (first_s, last_s) in own.standing.items():
        windows += _standing(folder / name, (first_s, last_s), own)
    clips = [*sorted(folder.glob("*.mp4")), *(folder / "balance" / name for name in truth)]
    empty = [_no_rep(path) for path in clips]
    meta = pa.Table.from_pylist([asdict(each) for each in windows], _SCHEMA)
    write_keyed(REAL, meta, bench_key())
    (ROWS / "real-no-rep.json").write_text(
        json.dumps([asdict(each) for each in empty], indent=1) + "\n", "utf-8"
    )
    return windows, empty


def kept_real() -> tuple[list[RealReading], list[NoRep]]:
    """The rows in the tree.

    Raises:
        StaleRows: other nets or intervals read them.
    """
    windows = [RealReading(**row) for row in read_keyed(REAL, bench_key(), STEP).to_pylist()]
    empty = json.loads((ROWS / "real-no-rep.json").read_text("utf-8"))
    return windows, [NoRep(**each) for each in empty]


def _with_truth(path: Path, known: Mapping[str, Any], own: Real) -> Iterator[RealReading]:
    clip, motion, pose, close = _landmarks(path)
    matrix, rotation, centre = (np.array(known[name], dtype=float) for name in ("K", "R", "C_m"))
    camera = Camera(matrix, rotation, centre)
    knees = known["knee_flexion_deg"]
    left, right = (np.array(knees[side], dtype=float) for side in ("left", "right"))
    lean = np.array(known["trunk_lean_deg"], dtype=float)
    truth = dict(zip(MEASURES, (left, right, np.minimum(left, right), lean), strict=True))
    estimated = estimated_ground([(pose, None)], motion, (clip.width_px, clip.height_px))
    cameras = {"known": camera}
    if estimated is not None:
        cameras["estimated"] = estimated.camera
    for name, each in cameras.items():
        yield from _windows(clip, name, each, motion, pose, close, truth, (0.0, np.inf), own)


def _standing(path: Path, window_s: tuple[float, float], own: Real) -> Iterator[RealReading]:
    clip, motion, pose, close = _landmarks(path)
    ground = estimated_ground([(pose, None)], motion, (clip.width_px, clip.height_px))
    if ground is not None:
        camera = ground.camera
        yield from _windows(clip, "estimated", camera, motion, pose, close, {}, window_s, own)


def _landmarks(path: Path) -> tuple[Clip, CameraMotion, PoseTrack, PoseTrack]:
    """Of the one who is filmed, by both pose models, smoothed: tall in the picture and seen long,
    which onlookers behind him are not."""
    clip, model = open_clip(path), recipe().stills.pose_model
    with Readers(pose_model_path(model)) as reader:
        followed = follow_players(clip, reader)
    player = max(
        followed.tracks,
        key=lambda track: np.nansum(np.diff(track.box_xyxy[track.seen][:, 1::2], axis=1)),
    )
    every = np.ones(clip.n_frames, dtype=bool)
    wanted = [Wanted(player, every), Wanted(player, every, pose_model_path(CLOSE_VARIANT))]
    pose, close = read_keypoints(clip, wanted, pose_model_path(model))
    pose = smooth_track(pose)
    return clip, followed.camera_motion, pose, smooth_track(close, like=pose)


def _windows(
    clip: Clip,
    called: str,
    camera: Camera,
    motion: CameraMotion,
    pose: PoseTrack,
    close: PoseTrack,
    truth: Mapping[str, FloatArray],
    within_s: tuple[float, float],
    own: Real,
) -> Iterator[RealReading]:
    view = body_view(pose, camera, motion)
    fit = kinematic_stance(close, camera, motion, ground_sd_m=FLOOR_SD_M)
    readings, _ = stance_readings(view, close=body_view(close, camera, motion), fit=fit)
    plain, factors = _plain(view), default_intervals().stance
    first_s, last_s = max(within_s[0], 0.0), min(within_s[1], float(pose.t_s[-1]))
    for start_s in np.arange(first_s, last_s - own.window_s + 1e-6, own.every_s):
        during = in_window(pose.t_s, start_s, start_s + own.window_s)
        seen = during & np.isfinite(readings["knee_bend_deg"].value) & np.isfinite(view.view_deg)
        if seen.sum() < during.sum() / 2:
            continue
        group = Conditions(
            view_deg=float(np.median(view.view_deg[seen])),
            height_px=float(np.median(view.height_px[seen])),
            score=1.0,
            seen=int(seen.sum()),
            of=int(during.sum()),
            bent=float(np.median(readings["knee_bend_deg"].value[seen])) >= BENT_DEG,
        ).group
        for key in MEASURES:
            value, below, above = (
                float(np.median(getattr(readings[key], part)[seen]))
                for part in ("value", "below", "above")
            )
            value = max(value, 0.0)
            own_key = key if key in factors else "knee_bend_deg"
            low, high = factors[own_key][group]
            there = truth.get(key)
            true = np.nan if there is None else np.median(there[seen[: len(there)]])
            yield RealReading(
                clip=clip.path.name,
                camera=called,
                measure=key,
                start_s=float(start_s),
                value=value,
                low=max(value - low * below, 0.0),
                high=value + high * above,
                model=float(np.median(plain[key][seen])),
                truth=float(true),
                standing=there is None,
            )


def _plain(view: BodyView) -> dict[str, FloatArray]:
    """The same measures of the pose model's own body, degrees."""

    def at(name: str) -> FloatArray:
        return np.asarray(view.body_m[:, SKELETON.index(name)])

    left, right = (
        np.degrees(formulas.knee_flexion(*(at(f"{side}_{p}") for p in ("hip", "knee", "ankle"))))
        for side in ("left", "right")
    )
    hips, shoulders = ((at(f"left_{p}") + at(f"right_{p}")) / 2 for p in ("hip", "shoulder"))
    up = np.broadcast_to([0.0, 0.0, 1.0], hips.shape)
    lean = np.degrees(formulas.trunk_lean(hips, shoulders, up))
    return dict(zip(MEASURES, (left, right, np.minimum(left, right), lean), strict=True))


def _no_rep(path: Path) -> NoRep:
    model = recipe().stills.pose_model
    try:
        with Readers(pose_model_path(model)) as reader:
            result = measure_clip(path, Practice(path.parent, "real"), Settings(model), reader)
    except ClipError as error:
        return NoRep(path.name, 0, str(error))
    return NoRep(path.name, len(result.reps), "")
