"""A player's stance over time, as it is put together from what the net reads."""

import numpy as np
import pytest
from bodies import camera_at, seen_by, squat, steady

from posecheck.body.fuse import fused
from posecheck.body.kinematic import KinematicStance
from posecheck.body.net import BodyNet, Perceptron, Reading
from posecheck.body.stance_net import OUTPUTS, base_net, default_net
from posecheck.body.stance_track import FITTED, stance_readings, stance_track
from posecheck.body.tuning import FIT_BEND_SDS
from posecheck.body.view import BodyView, body_view
from posecheck.pose.skeleton import SKELETON

T_S = np.arange(3) / 30
SIDELINE = camera_at((12.0, 9.0, 1.8), (0.0, 9.0, 1.0))


def pose(**stance):
    body = squat(**stance) + np.array([0.0, 9.0, 0.0])
    return seen_by(SIDELINE, np.tile(body, (len(T_S), 1, 1)), T_S)


def viewed(seen):
    return body_view(seen, SIDELINE, steady(len(T_S)))


def always(*values):
    """A net that reads the same of every body, with hardly any margin."""
    width = viewed(pose()).features().shape[1]
    says = Perceptron(
        (np.zeros((width, 3 * len(OUTPUTS))),), (np.array([*values, *[-9.0] * 16], dtype=float),)
    )
    unit = np.ones(len(OUTPUTS))
    return BodyNet(OUTPUTS, BodyView.features, (says,), np.zeros(width), np.ones(width), unit)


def test_the_track_holds_what_the_net_reads():
    track = stance_track(pose(), viewed(pose()))
    read = default_net().read(viewed(pose()))
    assert track.knee_bend_deg == pytest.approx(read["knee_bend_deg"].value)
    assert track.hip_drop == pytest.approx(read["hip_drop"].value)
    assert track.below["knee_bend_deg"] == pytest.approx(read["knee_bend_deg"].below)
    assert track.above["hip_drop"] == pytest.approx(read["hip_drop"].above)
    base = base_net().read(viewed(pose()))["base_width"]
    assert track.base_width == pytest.approx(base.value)
    assert track.above["base_width"] == pytest.approx(base.above)
    assert track.view_deg == pytest.approx(90.0, abs=0.6)


def test_angles_and_widths_do_not_go_below_nothing_but_the_hips_may_rise():
    track = stance_track(pose(), viewed(pose()), net=always(0, 0, -3, -2, -0.01, -0.1, -0.2, -1))
    assert not track.knee_bend_deg.any() and not track.trunk_lean_deg.any()
    assert not track.base_width.any()
    assert track.hip_drop == pytest.approx(-0.01)
    assert track.hand_reach == pytest.approx(-0.1)


def test_height_is_that_of_the_landmarks_and_score_that_of_the_legs():
    seen = pose()
    seen.score[:] = 0.5
    seen.score[:, SKELETON.indices("left_hip", "left_knee", "left_ankle")] = 1.0
    track = stance_track(seen, viewed(seen))
    assert track.score == pytest.approx(0.75)
    assert track.height_px == pytest.approx(np.ptp(seen.xy_px[0, :, 1]))


def test_a_frame_not_seen_reads_nothing():
    seen = pose()
    seen.xy_px[1] = seen.world_m[1] = np.nan
    track = stance_track(seen, viewed(seen))
    assert np.isnan(track.knee_bend_deg[1])
    assert np.isfinite(track.knee_bend_deg[[0, 2]]).all()


def test_the_fit_counts_as_its_sd_says_but_for_the_straighter_leg():
    """Of two uncertain knees the smaller angle comes out too small."""
    view, value, sd = viewed(pose()), np.full(len(T_S), 10.0), np.full(len(T_S), 6.0)
    fit = KinematicStance(
        T_S, **dict.fromkeys((*FITTED, "hand_reach", "hand_height", "base_width"), value),
        sd=dict.fromkeys(FITTED, sd), misfit=0.01, body_m=np.zeros((len(T_S), 1, 3)),
    )  # fmt: skip
    alone, (found, _) = default_net().read(view), stance_readings(view, fit=fit)
    for key in FITTED:
        half = 1.645 * sd * (FIT_BEND_SDS if key == "knee_bend_deg" else 1.0)
        wanted, _ = fused(alone[key], Reading(value, half, half))
        assert found[key].value == pytest.approx(wanted.value, abs=0.01)
        assert found[key].below == pytest.approx(wanted.below, abs=0.01)
