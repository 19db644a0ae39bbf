"""The learned reading of a stance: its arithmetic, its symmetry, and bodies it never saw."""

import numpy as np
import pytest
from bodies import camera_at, faces, seen_by, squat, steady
from hypothesis import given
from hypothesis import strategies as st
from sklearn.neural_network import MLPRegressor

from posecheck.body.net import BodyNet, Perceptron, arrays_of, from_arrays
from posecheck.body.stance_net import OUTPUTS, default_net
from posecheck.body.view import BodyView, body_view

T_S = np.arange(2) / 30
SIZE = -13
"""The height in the picture: before the ten scores and the two of how low the hips are."""
SIDELINE = camera_at((12.0, 9.0, 1.8), (0.0, 9.0, 1.0))


def viewed(yaw=0.0, **stance):
    body = faces(squat(**stance), yaw) + np.array([0.0, 9.0, 0.0])
    return body_view(seen_by(SIDELINE, np.tile(body, (2, 1, 1)), T_S), SIDELINE, steady(2))


def stance_net(*parts):
    return BodyNet(OUTPUTS, BodyView.features, *parts)


@pytest.mark.parametrize("hidden", [(5,), (8, 4)])
def test_a_perceptron_says_what_scikit_learn_s_own_says(hidden):
    rng = np.random.default_rng(3)
    inputs, wanted = rng.normal(size=(200, 6)), rng.normal(size=(200, 3))
    fitted = MLPRegressor(hidden_layer_sizes=hidden, max_iter=2000, random_state=0).fit(
        inputs, wanted
    )
    ours = Perceptron(tuple(fitted.coefs_), tuple(fitted.intercepts_))
    assert ours(inputs) == pytest.approx(fitted.predict(inputs), abs=1e-5)


def test_a_net_comes_back_from_its_arrays():
    net = default_net()
    again = stance_net(*from_arrays(arrays_of(net)))
    view = viewed()
    for name, reading in net.read(view).items():
        for part, values in vars(reading).items():
            assert getattr(again.read(view)[name], part) == pytest.approx(values)


@given(yaw=st.floats(-np.pi, np.pi), knee=st.floats(0, 90), lean=st.floats(0, 60))
def test_the_mirror_image_reads_the_same_with_left_and_right_changed(yaw, knee, lean):
    view = viewed(yaw, knee_bend_deg=knee, trunk_lean_deg=lean)
    here, there = default_net().read(view), default_net().read(view.mirrored)
    for name in OUTPUTS:
        side, _, part = name.partition("_")
        twin = {"left": "right", "right": "left"}.get(side)
        other = there[f"{twin}_{part}" if twin else name]
        for part, values in vars(here[name]).items():
            assert values == pytest.approx(getattr(other, part), abs=1e-9)


def test_frames_not_seen_read_nothing():
    view = viewed()
    view.sight_xy[1] = np.nan
    for reading in default_net().read(view).values():
        for values in vars(reading).values():
            assert np.isnan(values[1]) and np.isfinite(values[0])


@given(yaw=st.floats(-np.pi, np.pi), knee=st.floats(0, 120), lean=st.floats(-30, 90))
def test_every_reading_has_a_margin_on_both_sides(yaw, knee, lean):
    view = viewed(yaw, knee_bend_deg=knee, trunk_lean_deg=lean)
    for reading in default_net().read(view).values():
        assert (reading.below > 0).all() and (reading.above > 0).all()


@pytest.mark.parametrize(("beyond", "reading"), [(3.0, 3.0), (100.0, 4.0), (-100.0, -4.0)])
def test_features_beyond_what_was_learned_from_are_clipped(beyond, reading):
    """A net whose value is the height in the picture, in deviations from what it learned from."""
    view, width = viewed(), view_features()
    weights = np.zeros((width, 24))
    weights[SIZE, OUTPUTS.index("knee_bend_deg")] = 1.0
    centre = np.zeros(width)
    centre[SIZE] = np.log(view.height_px[0]) - beyond
    net = stance_net((Perceptron((weights,), (np.zeros(24),)),), centre, np.ones(width), np.ones(8))
    assert net.read(view)["knee_bend_deg"].value == pytest.approx(reading)


def test_members_are_averaged_and_their_dispute_widens_the_margins():
    width = view_features()
    flat = [
        Perceptron((np.zeros((width, 24)),), (np.repeat([value, 0.0, 1.0], 8),))
        for value in (1.0, 2.0)
    ]
    net = stance_net(tuple(flat), np.zeros(width), np.ones(width), np.arange(8.0))
    # Each output is 1.5 of its unit; the two knees are averaged with each other in the mirror.
    read = net.read(viewed())
    unit = [0.5, 0.5, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]
    for reading, one in zip(read.values(), unit, strict=True):
        assert reading.value[0] == pytest.approx(1.5 * one)
        # Members at 1 and 2 have a standard deviation of sqrt(1/2); 1.645 of them are 90 %.
        apart = 1.645 * np.sqrt(0.5)
        assert reading.below[0] == pytest.approx(np.hypot(np.log(2), apart) * one)  # log(1 + e^0)
        assert reading.above[0] == pytest.approx(np.hypot(np.log(1 + np.e), apart) * one)


def view_features():
    return viewed().features().shape[1]
