"""The joined body against a made-up one seen through a pinhole, worked with plain projection."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from posecheck.keypoints.body import body_m

FloatArray = npt.NDArray[np.float64]

T_S = np.arange(60) / 30.0
HIPS = [23, 24]


def moving_body() -> FloatArray:
    """``(60, 33, 3)`` a body whose limbs swing, metres from the middle of the hips."""
    rng = np.random.default_rng(2)
    rest, swing = rng.uniform(-0.8, 0.8, (33, 3)), rng.uniform(-0.2, 0.2, (33, 3))
    body = rest + np.sin(2 * np.pi * 1.5 * T_S)[:, None, None] * swing
    return body - body[:, HIPS].mean(axis=1, keepdims=True)


def sighted(body: FloatArray, distance_m: FloatArray) -> FloatArray:
    """Pinhole projection with the hips on the axis."""
    return body[..., :2] / (body[..., 2:] + distance_m[:, None, None])


def test_a_right_model_is_left_as_it_is() -> None:
    body = moving_body()
    distance_m = 12.0 - 2.0 * T_S  # running at the camera
    np.testing.assert_allclose(body_m(T_S, sighted(body, distance_m), body), body, atol=1e-6)


def test_a_leg_the_model_straightens_is_bent_as_seen() -> None:
    """The model has the knee 0.1 m too far back across the view; the picture puts it right."""
    body = moving_body()
    model = body.copy()
    model[:, 25, 0] += 0.1
    joined = body_m(T_S, sighted(body, np.full(60, 9.0)), model)
    # The scale comes from all landmarks together, which one wrong knee moves by about a percent.
    assert np.abs(joined[:, 25] - body[:, 25]).max() < 0.02


def test_scale_is_the_models() -> None:
    """A smaller player than the model believes comes out at the model's size."""
    body = moving_body()
    joined = body_m(T_S, sighted(0.9 * body, np.full(60, 9.0)), body)
    np.testing.assert_allclose(joined, body, rtol=0.02, atol=0.01)


@pytest.mark.parametrize("unseen", ["picture", "model"])
def test_frames_without_a_body_stay_without(unseen: str) -> None:
    body = moving_body()
    seen = sighted(body, np.full(60, 9.0))
    model = body.copy()
    (seen if unseen == "picture" else model)[20:40] = np.nan
    joined = body_m(T_S, seen, model)
    np.testing.assert_array_equal(
        np.flatnonzero(np.isnan(joined).any(axis=(1, 2))), np.arange(20, 40)
    )


@pytest.mark.parametrize("unseen", ["picture", "model"])
def test_a_missing_ankle_is_missing_alone(unseen: str) -> None:
    body = moving_body()
    seen = sighted(body, np.full(60, 9.0))
    model = body.copy()
    (seen if unseen == "picture" else model)[7, 27] = np.nan
    joined = body_m(T_S, seen, model)
    lost = np.isnan(joined).any(axis=2)
    assert np.argwhere(lost).tolist() == [[7, 27]]
    np.testing.assert_allclose(joined[~lost], body[~lost], atol=1e-6)
