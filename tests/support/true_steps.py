"""Steps of the sample practice's players as its truth has them: where their joints are in the
picture, and how fast they run."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.ground.tracks import GroundTrack
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack
from posecheck.scoring.truth import read_truth

SAMPLES = Path(__file__).parents[2] / "sample_clips"
REPS = [
    name
    for name in sorted(path.stem for path in (SAMPLES / "truth").glob("*.json"))
    if read_truth(SAMPLES, name).has_rep
]
PARTS = [f"{s}_{p}" for s in ("left", "right") for p in ("shoulder", "hip", "knee", "ankle")]


def rep(name: str, times_slower: float) -> tuple[PoseTrack, GroundTrack, np.ndarray]:
    """Truth of a rep's defender as film shows it that plays slower; frames of his run."""
    with np.load(SAMPLES / "truth" / f"{name}.npz") as file:
        truth = dict(file)
    facts = read_truth(SAMPLES, name).facts
    t_s = truth["t_s"] * times_slower
    xy_px = np.full((len(t_s), 33, 2), np.nan)
    names = list(truth["joint_names"])
    for frame in range(len(t_s)):
        camera = Camera(
            *(truth[f"camera_{part}"][frame] for part in ("matrix", "rotation", "centre_m"))
        )
        joints = truth["defender_joints_m"][frame, [names.index(part) for part in PARTS]]
        xy_px[frame, SKELETON.indices(*PARTS)] = camera.to_image(joints.astype(float))
    pose = PoseTrack(t_s, xy_px, np.full((len(t_s), 33, 3), np.nan), np.ones((len(t_s), 33)))
    run = (truth["t_s"] >= facts["start_s"]) & (truth["t_s"] <= facts["arrival_s"])
    return pose, on_ground(t_s, truth["defender_ground_m"].astype(float)), run


def on_ground(t_s: np.ndarray, xy_m: np.ndarray) -> GroundTrack:
    velocity = np.gradient(xy_m, t_s, axis=0)
    return GroundTrack(t_s, xy_m, velocity, np.full(len(t_s), 0.05), np.full(len(t_s), 0.1))
