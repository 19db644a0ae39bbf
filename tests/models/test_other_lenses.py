"""Reps seen again through other lenses, and marks set in their pictures."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from runner import camera_at, closeout

from models.data.film import Film
from models.data.marked_lens import COUNTS, SIZE_PX, marked_views, outcome
from models.data.other_lens import _carried, bent
from posecheck.camera.pinhole import Camera
from posecheck.pose.skeleton import SKELETON

OWN = camera_at((14.0, 8.0, 2.5), (0.0, 9.0, 0.8), size_px=(1280, 720))
RUN = closeout((0.0, 3.5), (0.0, 13.6))
PARTS = ("eye", "ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "foot_index")
KNOWN = ("nose", *(f"{side}_{part}" for part in PARTS for side in ("left", "right")))


@pytest.fixture
def film(tmp_path: Path) -> Film:
    """A film as the renderer leaves it, of the runner made of sticks."""
    (tmp_path / "truth").mkdir()
    (tmp_path / "clips").mkdir()
    n = len(RUN.t_s)
    np.savez(
        tmp_path / "truth" / "rep-1.npz",
        t_s=RUN.t_s,
        joint_names=np.array(KNOWN),
        camera_matrix=np.tile(OWN.matrix, (n, 1, 1)),
        camera_rotation=np.tile(OWN.rotation, (n, 1, 1)),
        camera_centre_m=np.tile(OWN.centre_m, (n, 1)),
        defender_joints_m=RUN.joints_m[:, SKELETON.indices(*KNOWN)],
    )
    clip = tmp_path / "clips" / "rep-1.mp4"
    return Film(clip, "rep", "tripod", 1, "upright", [], {}, "top", None)


def test_distortion_is_that_of_opencv() -> None:
    points = np.array([[-3.0, 9.0, 0.0], [1.0, 12.0, 1.8], [4.0, 8.0, 0.5]])
    turn, _ = cv2.Rodrigues(OWN.rotation)
    theirs, _ = cv2.projectPoints(
        points, turn, -OWN.rotation @ OWN.centre_m, OWN.matrix, np.array([-0.12, 0.0, 0.0, 0.0])
    )
    np.testing.assert_allclose(bent(OWN.to_image(points), OWN, -0.12), theirs[:, 0], atol=1e-8)


def test_through_its_own_lens_a_rep_looks_as_it_did(film: Film) -> None:
    pose = RUN.pose(OWN)
    noisy = pose.xy_px + np.random.default_rng(0).normal(0, 2, pose.xy_px.shape)
    track = type(pose)(pose.t_s, noisy, pose.world_m, pose.score)
    same = _carried(film, "defender", track, OWN, 0.0)
    np.testing.assert_allclose(same.xy_px, noisy, atol=1e-6)
    np.testing.assert_allclose(same.world_m, pose.world_m, atol=1e-9)


def test_through_another_lens_joints_are_where_it_shows_them(film: Film) -> None:
    """Twice as far with twice the focal length; landmarks of a model that makes no error."""
    other = camera_at((28.0, 8.0, 4.0), (0.0, 9.0, 0.8), 35.0, (1280, 720))
    carried = _carried(film, "defender", RUN.pose(OWN), other, 0.0)
    joints = SKELETON.indices(*KNOWN)
    np.testing.assert_allclose(
        carried.xy_px[:, joints], other.to_image(RUN.joints_m[:, joints]), atol=1e-6
    )


def test_marks_are_of_points_in_the_picture_and_drawn_alike_every_time() -> None:
    once, again = (list(marked_views(8, 3, distorted=True)) for _ in range(2))
    assert [each.view for each in once] == [each.view for each in again]
    assert [len(each.view.marks) for each in once] == 2 * list(COUNTS)
    for each in once:
        assert 0.6 <= each.focal <= 2.5
        assert isinstance(each.camera, Camera)
        seen = np.array(list(each.view.marks.values()))
        assert ((seen >= 0) & (seen <= np.array(SIZE_PX))).all()


def test_correct_marks_of_any_lens_are_hardly_ever_refused_and_their_errors_hold() -> None:
    """The whole of it, 400 views, is printed by `python -m models lens`: 4 refused of 398."""
    outcomes = [outcome(view) for view in marked_views(32, 11, distorted=False)]
    tried = [each for each in outcomes if "on one line" not in (each.refused or "")]
    read = [each for each in tried if each.refused is None]
    assert len(tried) - len(read) <= 1
    held = [abs(each.length_off) <= 1.645 * each.length_sd for each in read]
    assert np.mean(held) >= 0.85
    many = [each for each in read if each.marks >= 6]
    assert np.median([abs(each.length_off) for each in many]) < 0.02
    assert np.median([abs(each.focal_off) for each in many]) < 0.03
