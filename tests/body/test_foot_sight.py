"""How far away a player is, as his feet tell it: symmetry, gaps, and bodies no fit has seen."""

import held_out
import numpy as np
import pytest
from bodies import camera_at, faces, seen_by, squat, steady
from hypothesis import given
from hypothesis import strategies as st

from posecheck.body.foot_sight import FootSight, read_feet
from posecheck.body.view import body_view
from posecheck.ground.readings import Sight

T_S = np.arange(2) / 30
SIDELINE = camera_at((12.0, 9.0, 1.8), (0.0, 9.0, 1.0))
SOLE_M = 0.045


def viewed(yaw=0.0, **stance):
    body = faces(squat(**stance), yaw) + np.array([0.0, 9.0, 0.0])
    return body_view(seen_by(SIDELINE, np.tile(body, (2, 1, 1)), T_S), SIDELINE, steady(2))


@given(yaw=st.floats(-np.pi, np.pi), knee=st.floats(0, 90), lean=st.floats(0, 60))
def test_the_mirror_image_has_the_other_foot(yaw, knee, lean):
    view = viewed(yaw, knee_bend_deg=knee, trunk_lean_deg=lean)
    here, there = read_feet(view), read_feet(view.mirrored)
    assert here.height_m == pytest.approx(there.height_m[:, ::-1], abs=1e-9)
    assert here.sd_m == pytest.approx(there.sd_m[:, ::-1], abs=1e-9)
    assert (here.sd_m > 0).all()


def test_frames_not_seen_are_nan():
    view = viewed()
    view.sight_xy[1] = np.nan
    reading = read_feet(view)
    assert np.isnan(reading.height_m[1]).all() and np.isfinite(reading.height_m[0]).all()


@pytest.fixture(scope="module")
def ranges():
    """Of bodies never seen: read and its standard deviation, the nearer foot's, and the truth."""
    reading = read_feet(held_out.view())
    rows = []
    for i, xy_px in enumerate(held_out.landmarks_px()):
        camera = held_out.camera(i)
        feet = FootSight(reading.height_m[i : i + 1], reading.sd_m[i : i + 1])
        sight = Sight.of(np.zeros(1), camera, xy_px[None], np.ones((1, 33)), feet)
        plain = (camera.centre_m[2] - SOLE_M) / sight.dip.max()
        truth = sight.reach(held_out.pictures()["ground_m"][i : i + 1])[0]
        rows.append((*(each[0] for each in sight.by_feet()), plain, truth))
    return np.array(rows).T


def test_the_range_from_a_single_picture_is_this_good(ranges):
    read, _, plain, truth = ranges
    off = read - truth
    assert np.abs(off).mean() <= 0.13
    assert abs(off.mean()) <= 0.03
    assert np.abs(off).mean() <= 0.75 * np.abs(plain - truth).mean()


def test_stated_errors_are_those_found(ranges):
    read, sd, _, truth = ranges
    assert 0.85 <= np.mean(np.abs(read - truth) <= 1.645 * sd) <= 0.97
    narrow, wide = np.quantile(sd, [0.2, 0.8])
    off = np.abs(read - truth)
    assert off[sd >= wide].mean() >= 3 * off[sd <= narrow].mean()
