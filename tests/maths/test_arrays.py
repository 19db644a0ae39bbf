"""Shapes checked, medians of what is finite, directions."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from posecheck.maths.arrays import check_shapes, finite_median
from posecheck.maths.vectors import left_of, unit


@pytest.mark.parametrize(
    ("arrays", "complaint"),
    [
        ({"a": np.zeros((4, 3)), "b": np.zeros(4)}, None),
        ({"a": np.zeros((4, 2)), "b": np.zeros(4)}, "a: want (n, 3), got (4, 2)"),
        ({"a": np.zeros(3), "b": np.zeros(4)}, "a: want (n, 3), got (3,)"),
        ({"a": np.zeros((4, 3)), "b": np.zeros(5)}, "b: want (4,), got (5,)"),
        ({"a": np.zeros((4, 3)), "b": np.zeros((4, 1))}, "b: want (4,), got (4, 1)"),
    ],
)
def test_shapes(arrays: dict[str, np.ndarray], complaint: str | None) -> None:
    value = SimpleNamespace(**arrays)
    if complaint is None:
        check_shapes(value, a=("n", 3), b=("n",))
        return
    with pytest.raises(ValueError) as caught:
        check_shapes(value, a=("n", 3), b=("n",))
    assert str(caught.value) == complaint


@pytest.mark.parametrize(
    ("values", "median"),
    [([3.0, np.nan, 1.0, np.inf], 2.0), ([np.nan], np.nan), ([], np.nan), (np.array([7.0]), 7.0)],
)
def test_the_median_of_what_is_finite(values: object, median: float) -> None:
    assert finite_median(values) == pytest.approx(median, nan_ok=True)


def test_unit_vectors() -> None:
    vectors = np.array([[3.0, 4.0], [0.0, -0.5], [0.0, 0.0]])
    assert unit(vectors) == pytest.approx(
        np.array([[0.6, 0.8], [0.0, -1.0], [np.nan, np.nan]]), nan_ok=True
    )


def test_left_of_upfield_is_the_negative_x() -> None:
    assert left_of(np.array([[0.0, 1.0], [1.0, 0.0]])).tolist() == [[-1.0, 0.0], [0.0, 1.0]]
