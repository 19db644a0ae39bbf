"""The prior of a phone, in the numbers that people would give."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.camera.lens import Belief
from posecheck.camera.phone import PHONE
from posecheck.camera.tuning import ABSURD_SDS, SEARCH_SDS


def across_deg(log_focal: float) -> float:
    """Angle across the longer side of the picture."""
    return float(np.degrees(2 * np.arctan(0.5 / np.exp(log_focal))))


def test_a_belief_counts_in_standard_deviations() -> None:
    belief = Belief(10.0, 2.0)
    assert belief.misses(np.array([10.0, 13.0, 6.0])).tolist() == [0.0, 1.5, -2.0]
    assert belief.range(1.5) == (7.0, 13.0)
    assert belief.within(np.array([7.0, 6.9, 13.0, np.nan]), 1.5).tolist() == [
        True, False, True, False,
    ]  # fmt: skip


def test_the_main_camera_of_a_phone() -> None:
    assert across_deg(PHONE.lens.likely.median) == pytest.approx(65, abs=1)
    low, high = (across_deg(each) for each in reversed(PHONE.lens.likely.range(1.5)))
    assert (low, high) == pytest.approx((56, 76), abs=1)


def test_the_focal_length_in_pixels_is_of_the_longer_side() -> None:
    assert PHONE.focal_px((1920, 1080)) == PHONE.focal_px((1080, 1920)) == pytest.approx(1497.6)


def test_where_phones_are() -> None:
    assert np.exp(PHONE.log_height.range(2.0)) == pytest.approx([0.81, 5.98], abs=0.01)
    assert np.exp(PHONE.log_height.range(ABSURD_SDS)) == pytest.approx([0.11, 44.2], abs=0.1)


def test_searches_start_inside_what_is_searched() -> None:
    starts = np.array(PHONE.start_log_focals)
    assert (np.abs(PHONE.lens.misses(starts)) < SEARCH_SDS).all()
    assert (np.diff(starts) > 0).all()
    assert [round(across_deg(each)) for each in (starts[0], starts[-1])] == [103, 15]
    zooms = np.array(PHONE.zooms)
    assert np.log(zooms) == pytest.approx(starts - PHONE.lens.likely.median)
