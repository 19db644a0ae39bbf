"""Arrays that travel between stages: names of their types, checks of their shapes, medians."""

from __future__ import annotations

from typing import Protocol

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]
Image = npt.NDArray[np.uint8]
"""``(height, width, 3)`` RGB or ``(height, width)`` grey."""


class Pixels(Protocol):
    """An RGB picture of which parts can be taken: an :data:`Image`, or one that makes its parts
    when they are asked for."""

    @property
    def shape(self) -> tuple[int, ...]:
        """Height, width, 3."""
        ...

    def __getitem__(self, part: tuple[slice, slice], /) -> Image:
        """Rows and columns."""
        ...


def check_shapes(value: object, **want: tuple[int | str, ...]) -> None:
    """Check the shapes of an object's arrays.

    Args:
        value: whose attributes the arrays are.
        want: by attribute, the length of each axis. A word such as ``"n_frames"`` stands for any
            length, the same wherever the word occurs.

    Raises:
        ValueError: an array has another shape; names the first one, the shape wanted and its own.
    """
    lengths: dict[str, int] = {}
    for name, shape in want.items():
        got = getattr(value, name).shape
        wanted = [lengths.get(size, size) if isinstance(size, str) else size for size in shape]
        if len(got) != len(wanted) or any(
            isinstance(size, int) and length != size
            for length, size in zip(got, wanted, strict=True)
        ):
            shown = ", ".join(map(str, wanted)) + ("," if len(wanted) == 1 else "")
            raise ValueError(f"{name}: want ({shown}), got {got}")
        lengths |= {
            word: length for word, length in zip(shape, got, strict=True) if isinstance(word, str)
        }


def finite_median(values: npt.ArrayLike) -> float:
    """Median of the finite values, NaN when there are none."""
    numbers = np.asarray(values, dtype=np.float64)
    finite = numbers[np.isfinite(numbers)]
    return float(np.median(finite)) if finite.size else float("nan")
