"""What is believed of a lens, in the numbers that people would give."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from posecheck.camera.lens import (
    USUAL_LENS,
    LensReading,
    lens_of_35mm,
    stated_lens,
)

STARTS = np.log(np.array([0.39, 0.78, 1.56, 2.34, 3.9]))
"""0.5x, 1x, 2x, 3x and 5x."""


def test_a_lens_is_the_likely_one_or_any_other() -> None:
    """Against scipy's densities, mixed by hand."""
    lens = USUAL_LENS
    theirs = (1 - lens.other_share) * norm.pdf(STARTS, lens.likely.median, lens.likely.sd)
    theirs += lens.other_share * norm.pdf(STARTS, lens.other.median, lens.other.sd)
    np.testing.assert_allclose(np.exp(lens.log_density(STARTS)), theirs)


def test_no_lens_of_a_phone_is_ruled_out_before_it_is_looked_at() -> None:
    misses = USUAL_LENS.misses(STARTS)
    assert np.abs(misses).max() < 3.2
    assert misses[1] == pytest.approx(0, abs=0.1)
    assert (np.diff(misses) > 0).all()


def test_misses_are_standard_deviations_near_the_likely_one() -> None:
    lens = stated_lens(2.0)
    one = lens.likely.median + lens.likely.sd
    assert lens.misses(one) == pytest.approx(1.0, abs=0.05)
    # The other twentieth: 2x was stated, and 1x cannot be ruled out.
    assert -4 < lens.misses(np.log(0.78)) < -2


def test_a_film_that_zooms_in_began_wider() -> None:
    """From 1 to 1.5 of the first frame's focal length, middle sqrt(1.5), uniform in the
    logarithm."""
    zoomed = USUAL_LENS.at_zoom((1.0, 1.5))
    shift = np.log(1.5) / 2
    assert zoomed.likely.median == pytest.approx(USUAL_LENS.likely.median - shift)
    spread = np.log(1.5) / np.sqrt(12)
    assert zoomed.likely.sd == pytest.approx(np.hypot(USUAL_LENS.likely.sd, spread))


def test_the_usual_main_cameras_in_millimetres() -> None:
    """24 to 28 mm are the main cameras of phones (common practice, no source)."""
    for focal_35mm in (24, 26, 28):
        lens = lens_of_35mm(focal_35mm, "tag")
        assert abs(USUAL_LENS.misses(lens.likely.median)) < 1.0
    assert lens_of_35mm(13, "tag").likely.median == pytest.approx(
        stated_lens(0.5).likely.median, abs=0.02
    )


def test_a_lens_found_in_words() -> None:
    assert LensReading(1.56, 0.01, "marks").described == "lens 2.0x from these points"
    wide = LensReading(0.86, 0.3, "players", (0.62, 1.4))
    assert wide.described == "lens 1.1x (0.8x to 1.8x) from the players"
    sure = LensReading(0.78, 0.03, "turning", (0.75, 0.81))
    assert sure.described == "lens 1.0x from how the camera turned"


def test_what_contradicts_a_stated_lens() -> None:
    assert LensReading(1.56, 0.02, "marks").contradicts(stated_lens(1.0), 3.0)
    assert not LensReading(0.86, 0.02, "marks").contradicts(stated_lens(1.0), 3.0)
    # Points that leave the lens open contradict nothing.
    assert not LensReading(1.56, 0.4, "marks").contradicts(stated_lens(1.0), 3.0)
