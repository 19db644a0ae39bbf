"""The usual lens of a phone."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.camera.phone import log_focal, usual_focal_px
from posecheck.camera.tuning import HFOV_DEG


@pytest.mark.parametrize("size_px", [(1920, 1080), (1080, 1920)])
def test_the_field_of_view_spans_the_longer_side(size_px: tuple[int, int]) -> None:
    half_deg = np.degrees(np.arctan(1920 / 2 / usual_focal_px(size_px)))
    assert 2 * half_deg == pytest.approx(HFOV_DEG)


def test_ninety_degrees_is_half_the_side() -> None:
    assert np.exp(log_focal(90.0)) == pytest.approx(0.5)
