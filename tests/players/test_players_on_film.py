"""Following and roles on the sample practice, against the truth it was rendered from."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from places import SAMPLES

from posecheck.camera.pinhole import Camera
from posecheck.maths.boxes import overlap
from posecheck.players import NoDefender, choose_roles, follow_players
from posecheck.players.roles_on_ground import choose_roles_on_ground
from posecheck.pose.reader import PoseReader
from posecheck.practice.field import closeout_layout, waiting_at
from posecheck.video.clip import open_clip

pytestmark = pytest.mark.film


def clip_of(view: str, alone: bool = False) -> str:
    """The first sample clip of a view; or of an attacker alone, whatever the view."""
    for file in sorted((SAMPLES / "truth").glob("*.json")):
        truth = json.loads(file.read_text("utf-8"))
        if (truth["kind"] == "alone") == alone and (alone or truth["view"] == view):
            return file.stem
    pytest.skip(f"the sample practice has no such clip ({view})")


def projected(truth: np.lib.npyio.NpzFile, who: str) -> np.ndarray:
    """``(n_frames, n_joints, 2)`` a player's true joints in the picture: x = K R (X - C)."""
    from_camera = truth[f"{who}_joints_m"] - truth["camera_centre_m"][:, None]
    turned = np.einsum("nij,nkj->nki", truth["camera_rotation"], from_camera)
    pixels = np.einsum("nij,nkj->nki", truth["camera_matrix"], turned)
    return pixels[..., :2] / pixels[..., 2:]


def camera_of(truth: np.lib.npyio.NpzFile) -> Camera:
    """The true camera of the first frame."""
    matrix, rotation, centre = (
        truth[f"camera_{part}"][0].astype(float) for part in ("matrix", "rotation", "centre_m")
    )
    return Camera(matrix, rotation, centre)


def outline(joints: np.ndarray) -> np.ndarray:
    """``(n, 4)`` boxes of a body from its joints ``(n, k, 2)``. Flesh reaches beyond them: beside
    shoulders and hips by half the breadth of a thigh, 8 cm of 1.75 m (from memory)."""
    low, high = joints.min(axis=1), joints.max(axis=1)
    beside = np.zeros_like(low)
    beside[:, 0] = 0.045 * (high - low)[:, 1]
    return np.concatenate([low - beside, high + beside], axis=1)


@pytest.mark.parametrize("view", ["sideline", "end-line", "front", "hand"])
def test_the_defender_is_chosen_and_followed_from_start_to_arrival(
    pose_model: Path, view: str
) -> None:
    name = clip_of(view)
    truth = np.load(SAMPLES / "truth" / f"{name}.npz")
    moments = json.loads((SAMPLES / "truth" / f"{name}.json").read_text("utf-8"))
    clip = open_clip(SAMPLES / "clips" / f"{name}.mp4")
    with PoseReader(pose_model) as reader:
        followed = follow_players(clip, reader)
    roles = choose_roles(followed)
    assert roles.attacker is not None
    # By their places on the ground the same two, whether or not cones are named.
    cones = closeout_layout().points
    waits = waiting_at(np.array(cones[moments["spot"]]))
    for start_m, waits_m in ((np.array(cones["inside"]), waits), (None, None)):
        by_places = choose_roles_on_ground(followed, camera_of(truth), start_m, waits_m)
        assert by_places.defender is roles.defender
        assert by_places.attacker is roles.attacker
    running = np.flatnonzero((clip.t_s >= moments["start_s"]) & (clip.t_s <= moments["arrival_s"]))
    hips = [list(truth["joint_names"]).index(f"{side}_hip") for side in ("left", "right")]
    for who, track, share in (
        ("defender", roles.defender, 0.95),
        ("attacker", roles.attacker, 0.9),
    ):
        joints = projected(truth, who)
        middle = joints[:, hips].mean(axis=1)
        shown = [
            frame
            for frame in running
            if np.all((middle[frame] > 0) & (middle[frame] < (clip.width_px, clip.height_px)))
        ]
        box, hip = track.box_xyxy[shown], middle[shown]
        assert np.mean(np.all((box[:, :2] < hip) & (hip < box[:, 2:]), axis=1)) >= share
        true = outline(joints)[shown]
        shares = [
            overlap(one, other) if np.isfinite(one[0]) else 0.0
            for one, other in zip(box, true, strict=True)
        ]
        assert np.mean(np.array(shares) > 0.5) >= 0.9


def test_an_attacker_alone_is_no_rep(pose_model: Path) -> None:
    clip = open_clip(SAMPLES / "clips" / f"{clip_of('', alone=True)}.mp4")
    with PoseReader(pose_model) as reader:
        followed = follow_players(clip, reader)
    assert len(followed.tracks) == 1
    with pytest.raises(NoDefender):
        choose_roles(followed)
    truth = np.load(SAMPLES / "truth" / f"{clip.path.stem}.npz")
    with pytest.raises(NoDefender):
        choose_roles_on_ground(followed, camera_of(truth))
