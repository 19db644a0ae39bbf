"""Two readings of one quantity, held against weighted means worked by hand and by numpy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from posecheck.body.fuse import fused, mean_reading
from posecheck.body.net import Reading


def reading(value, half):
    value, half = np.atleast_1d(np.asarray(value, float)), np.atleast_1d(np.asarray(half, float))
    return Reading(value, half, half)


def test_two_equal_intervals_give_the_middle_and_a_width_smaller_by_the_root_of_two():
    both, apart = fused(reading(40, 8), reading(44, 8))
    assert both.value == pytest.approx([42])
    assert both.below == pytest.approx([8 / np.sqrt(2)])
    assert apart == pytest.approx([4 / np.hypot(8, 8)])


@given(st.floats(0, 90), st.floats(1, 30), st.floats(-5, 5), st.floats(1, 30))
def test_weights_are_the_inverse_variances(value, half, off, other_half):
    both, _ = fused(reading(value, half), reading(value + off, other_half))
    wanted = np.average([value, value + off], weights=[half**-2, other_half**-2])
    assert both.value == pytest.approx([wanted])


def test_readings_that_contradict_each_other_have_an_interval_that_says_so():
    """20 and 55 degrees, each good to 5: the bars hold both."""
    both, apart = fused(reading(20, 5), reading(55, 5))
    assert both.value == pytest.approx([37.5])
    assert both.below == pytest.approx([5 / np.sqrt(2) * 35 / np.hypot(5, 5)])
    assert 37.5 - both.below[0] <= 20
    assert apart == pytest.approx([35 / np.hypot(5, 5)])


def test_where_there_is_one_it_stands_alone():
    both, apart = fused(reading([40, 40], 8), reading([np.nan, 44], 8))
    assert (both.value[0], both.below[0]) == (40, 8)
    assert np.isnan(apart[0]) and np.isfinite(apart[1])


def test_readings_that_err_together_are_averaged_and_no_narrower():
    mean = mean_reading(reading([40, np.nan, 10], 8), reading([44, 30, np.nan], 4))
    assert mean.value == pytest.approx([42, 30, 10])
    assert mean.below[0] == pytest.approx(6)
