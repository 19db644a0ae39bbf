"""A phone that turns and zooms: where things are in its pictures.

Checked against OpenCV's own camera model (cv2.projectPoints) and plain pinhole arithmetic.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from extra import needs_models_extra

from models.render.moving import together
from models.render.phone import Place, handheld, plate_for, project, tripod

pytestmark = [
    needs_models_extra("vtkmodules", "anny"),
    pytest.mark.filterwarnings("ignore"),  # vtk and anny warn about themselves
]

PLACE = Place((11.2, 12.0, 1.9), (0.0, 10.9, 0.85), (160, 90))
STILL = np.tile(PLACE.look_m, (3, 1))


def test_zoomed_frame_is_projected_as_opencv_does_with_a_longer_lens():
    track = replace(handheld(PLACE, STILL, 30.0, seed=4), zoom=np.array([1.0, 1.5, 2.0]))
    points = np.random.default_rng(1).uniform((-5, 3, 0), (3, 15, 2), (20, 3))
    for i, zoom in enumerate((1.0, 1.5, 2.0)):
        longer = PLACE.k * np.array([[zoom, 1, 1], [1, zoom, 1], [1, 1, 1]])
        turn = cv2.Rodrigues(track.rotation[i])[0]
        wanted, _ = cv2.projectPoints(points, turn, -track.rotation[i] @ track.centre, longer, None)
        got = project(track.matrix(i), track.rotation[i], track.centre, points)
        np.testing.assert_allclose(got, wanted[:, 0], atol=1e-6)
        np.testing.assert_array_equal(track.only(i).matrices[0], track.matrices[i])


def test_twice_the_focal_length_shows_everything_twice_as_far_from_the_middle():
    track = replace(tripod(PLACE, 2), zoom=np.array([1.0, 2.0]))
    middle = np.array([79.5, 44.5])
    once, twice = (
        project(track.matrix(i), track.rotation[i], track.centre, np.array([1.0, 9.0, 0.5]))
        for i in (0, 1)
    )
    np.testing.assert_allclose(twice - middle, 2 * (once - middle))


def test_one_empty_field_holds_every_frame_of_however_it_is_held():
    """The corners of each frame lie inside the field drawn for all of them."""
    targets = np.linspace((0.0, 7.0, 1.0), (0.0, 14.0, 1.0), 3)
    zoomed = replace(handheld(PLACE, STILL, 30.0, seed=4), zoom=np.array([0.75, 1.0, 1.25]))
    every = together([tripod(PLACE, 3), handheld(PLACE, targets, 30.0, seed=5), zoomed])
    assert len(every.rotation) == 9 and not every.still
    field = plate_for(every)
    height, width = field.sunlit.shape[:2]
    for i, k in enumerate(every.matrices):
        corners = np.array([[[0.0, 0], [159, 0], [0, 89], [159, 89]]])
        to_field = field.k @ field.rotation @ every.rotation[i].T @ np.linalg.inv(k)
        seen = cv2.perspectiveTransform(corners, to_field)[0]
        assert (seen >= 0).all() and (seen <= (width - 1, height - 1)).all()
