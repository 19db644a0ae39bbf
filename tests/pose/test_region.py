"""Regions: where they lie, what is seen in them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from posecheck.pose.region import WHOLE, Region

places = st.tuples(st.floats(0.2, 0.8), st.floats(0.2, 0.8)).map(np.array)


def test_a_person_upright() -> None:
    region = Region.of_person(np.array([0.5, 0.6]), np.array([0.5, 0.3]))
    np.testing.assert_allclose(region.centre, (0.5, 0.6))
    assert region.side == pytest.approx(2 * 0.3 * 1.25)
    assert region.angle == pytest.approx(0.0)
    np.testing.assert_allclose(region.box, (0.125, 0.225, 0.875, 0.975))


def test_about_the_region_of_whoever_fills_a_box() -> None:
    """Of an upright person the hips are near the middle, and the whole of him is inside."""
    box = np.array([0.4, 0.2, 0.6, 0.8])
    region = Region.of_box(box)
    np.testing.assert_allclose(region.centre, (0.5, 0.494))
    assert np.all(region.box[:2] < box[:2]) and np.all(region.box[2:] > box[2:])
    assert region.angle == 0.0


@pytest.mark.parametrize(
    ("above", "angle"), [((0.7, 0.5), 90), ((0.3, 0.5), -90), ((0.5, 0.7), -180), ((0.6, 0.4), 45)]
)
def test_turned_clockwise_is_positive(above: tuple[float, float], angle: float) -> None:
    region = Region.of_person(np.array([0.5, 0.5]), np.array(above))
    assert np.degrees(region.angle) == pytest.approx(angle)


@given(hips=places, above=places)
def test_the_region_s_own_points_lie_on_its_upright_axis(
    hips: np.ndarray, above: np.ndarray
) -> None:
    if np.linalg.norm(above - hips) < 0.01:
        return
    region = Region.of_person(hips, above)
    np.testing.assert_allclose(region.to_picture(np.array([0.5, 0.5])), hips)
    # Over 1.25 times the circle's diameter, the point above is 0.4 of the side over the middle.
    np.testing.assert_allclose(region.to_picture(np.array([0.5, 0.1])), above, atol=1e-12)


@given(vector=places, hips=places, above=places)
def test_turning_keeps_lengths(vector: np.ndarray, hips: np.ndarray, above: np.ndarray) -> None:
    turned = Region.of_person(hips, above).turned(vector)
    assert np.linalg.norm(turned) == pytest.approx(np.linalg.norm(vector))


@given(hips=places, above=places)
def test_what_is_seen_lies_where_it_is(hips: np.ndarray, above: np.ndarray) -> None:
    """Brightness that rises to the right and down tells for each pixel where it was read."""
    if np.linalg.norm(above - hips) < 0.05:
        return
    column, row = np.meshgrid(np.arange(200), np.arange(200))
    picture = np.stack([column, row, 0 * row], axis=2).astype(np.uint8)
    region = Region.of_person(hips, above)
    seen = region.pixels(picture, 64, black_beyond=False)
    at = np.stack(np.meshgrid(np.arange(64), np.arange(64)), axis=2) / 64
    # Beyond the picture its last pixels go on.
    expected = np.clip(region.to_picture(at) * 200, 0, 199)
    assert np.abs(seen[..., :2] - expected).max() <= 0.6


def test_beyond_the_picture_it_is_black_where_asked() -> None:
    picture = np.full((100, 100, 3), 200, np.uint8)
    region = Region(np.array([0.0, 0.5]), 1.0, 0.0)
    assert (region.pixels(picture, 50, black_beyond=True)[:, :24] == 0).all()
    assert (region.pixels(picture, 50, black_beyond=False) == 200).all()
    assert (WHOLE.pixels(picture, 50, black_beyond=True) == 200).all()
