"""The film's geometry: truth and pictures agree about where things are.

Checked against OpenCV's own camera model (cv2.projectPoints, cv2.findHomography).
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import cv2
import numpy as np
import pytest
from extra import needs_models_extra

from models.data.stills import TRUTH, read_casts
from models.files import HELD_OUT
from models.recipe import recipe
from models.render.gbuffer import Rasteriser, mesh
from models.render.phone import Place, handheld, project
from models.render.practice import is_done, known_points
from models.render.props import tube
from models.render.script import REPS
from models.render.stills import plan_cast, stance_truth
from models.render.truth import ground_track

pytestmark = [
    needs_models_extra("vtkmodules", "anny"),
    pytest.mark.filterwarnings("ignore"),  # vtk and anny warn about themselves
]

ROOT = Path(__file__).parents[2] / "sample_clips"
PLACE = Place((11.2, 12.0, 1.9), (0.0, 10.9, 0.85))


def test_projection_is_opencvs():
    points = np.random.default_rng(1).uniform((-5, 3, 0), (3, 15, 2), (50, 3))
    centre, turn = np.array(PLACE.centre_m), cv2.Rodrigues(PLACE.rotation)[0]
    wanted, _ = cv2.projectPoints(points, turn, -PLACE.rotation @ centre, PLACE.k, None)
    got = project(PLACE.k, PLACE.rotation, centre, points)
    np.testing.assert_allclose(got, wanted[:, 0], atol=1e-6)


def test_rasteriser_draws_where_opencv_projects():
    """The middle of a small upright disc lands on the projected point, to a quarter pixel."""
    k = np.array([[500.0, 0, 319.5], [0, 500, 239.5], [0, 0, 1]])
    centre = np.array(PLACE.centre_m)
    raster = Rasteriser(640, 480)
    raster.perspective(k, PLACE.rotation, centre)
    for point in np.array([(0.0, 10.9, 0.85), (1.0, 13.0, 0.2), (-2.0, 8.0, 1.9)]):
        ahead = (point - centre) / np.linalg.norm(point - centre)
        disc = mesh(*tube([point, point + ahead * 0.01], [0.4, 0.0], 64), (1, 1, 1))
        raster.load([disc])
        rows, columns = np.nonzero(np.isfinite(raster.draw().depth))
        turn = cv2.Rodrigues(PLACE.rotation)[0]
        wanted, _ = cv2.projectPoints(point[None], turn, -PLACE.rotation @ centre, k, None)
        got = (columns.mean(), rows.mean())
        # A disc off the optical axis is drawn as an ellipse whose middle lies a little outside.
        np.testing.assert_allclose(got, wanted[0, 0], atol=0.25)


def test_hand_turns_the_camera_but_does_not_move_it():
    targets = np.linspace((0.0, 5.0, 1.0), (6.0, 12.0, 1.0), 60)
    track = handheld(PLACE, targets, 30.0, seed=3)
    for turn in track.rotation:
        np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-9)
        assert np.linalg.det(turn) == pytest.approx(1.0)
    aim = project(track.k, track.rotation[30], track.centre, targets[30])
    assert (
        np.abs(aim - np.array([959.5, 539.5])).max() < 40
    )  # the tremble is a fraction of a degree


@pytest.mark.parametrize("view", ["sideline", "front", "end-line", "far"])
def test_marks_of_a_tripod_give_the_ground_back(view: str):
    """The clicked marks, through OpenCV's homography, put a player back where he stands.

    To 0.3 m: four marks, each off by up to 0.7 px, and the far view covers 3 cm in a pixel.
    """
    practice = tomllib.loads((ROOT / "practice.toml").read_text())
    marks = next(v for v in practice["views"] if v["name"] == view)["marks"]
    points = known_points()
    image = np.array(list(marks.values()))
    ground = np.array([points[name] for name in marks])
    assert len(marks) >= 4
    h, _ = cv2.findHomography(image, ground)
    clip = next(c for c in practice["clips"] if c["view"] == view)["file"]
    truth = np.load(ROOT / "truth" / f"{Path(clip).stem}.npz")
    feet = truth["attacker_ground_m"][:1].astype(float)
    exact = project(
        truth["camera_matrix"][0],
        truth["camera_rotation"][0],
        truth["camera_centre_m"][0],
        np.column_stack([feet, [0.0]]),
    )
    back = cv2.perspectiveTransform(exact[None], h)[0, 0]
    assert np.linalg.norm(back - feet[0]) < 0.30


def test_the_sample_clips_are_those_of_the_script():
    """Nothing that decides their content has changed since they were rendered."""
    assert [rep.name for rep in REPS if not is_done(ROOT, rep)] == []


def test_a_number_gives_the_same_body_and_poses_as_ever():
    """Against rows in the tree, rendered on another machine: truth and place of every picture."""
    held_out = next(each for each in recipe().stills.sets if each.purpose == "held-out")
    plan = plan_cast(held_out.first, held_out.movement, held_out.poses, recipe().stills)
    cast = read_casts([HELD_OUT])[0]
    assert (cast.number, cast.sex) == (held_out.first, plan.spec.sex)
    assert cast.stature_m == pytest.approx(plan.spec.height_m)
    truth = stance_truth(plan.motion)
    places = ground_track(plan.motion.joints_m)[plan.middles]
    apart = np.linalg.norm(places - cast.ground_m[:, None], axis=2)
    assert apart.min(axis=1).max() < 2e-3  # kept in millimetres
    at = plan.middles[apart.argmin(axis=1)]
    assert len(set(at)) == len(cast)
    for column in TRUTH:
        off = np.abs(truth[column.name][at] - cast.truth[column.name])
        assert off.max() <= column.step


def test_truth_lies_beside_every_clip():
    practice = tomllib.loads((ROOT / "practice.toml").read_text())
    assert len(practice["clips"]) == 14
    for entry in practice["clips"]:
        stem = Path(entry["file"]).stem
        truth = json.loads((ROOT / "truth" / f"{stem}.json").read_text())
        arrays = np.load(ROOT / "truth" / f"{stem}.npz")
        assert truth.get("defender") == entry.get("defender")
        assert arrays["camera_rotation"].shape == (len(arrays["t_s"]), 3, 3)
        assert ("defender_joints_m" in arrays) == ("defender" in entry)
