"""Numbers kept as whole multiples of a step: small files, and an error that is known.

A value comes back within half a step. NaN is kept as such, as the least number of a signed type.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import prod
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from posecheck.maths.arrays import FloatArray


@dataclass(frozen=True)
class Quantised:
    """A column of numbers kept as whole multiples of a step.

    Attributes:
        name: of the column, unit included.
        step: of the last place, in that unit.
        shape: of each row.
        dtype: what is kept.
    """

    name: str
    step: float
    shape: tuple[int, ...] = ()
    dtype: str = "int16"

    @property
    def arrow_type(self) -> pa.DataType:
        """Of the column."""
        kind = pa.from_numpy_dtype(np.dtype(self.dtype))
        return pa.list_(kind, prod(self.shape)) if self.shape else kind

    @property
    def field(self) -> pa.Field:
        """The column's name and type, and its step for whoever reads the file without this."""
        about = {"step": repr(self.step), "shape": repr(self.shape)}
        return pa.field(self.name, self.arrow_type, metadata=about)

    def as_kept(self, field: pa.Field) -> Quantised:
        """The same with the step that a file's field names."""
        kept = (field.metadata or {}).get(b"step")
        return self if kept is None else replace(self, step=float(kept))

    def encoded(self, values: npt.ArrayLike) -> pa.Array:
        """A column of ``(n, *shape)`` values.

        Raises:
            ValueError: a value is too large for the type, or NaN where it has no room for that.
        """
        rows = np.asarray(values, dtype=float)
        limits = np.iinfo(self.dtype)
        missing = limits.min if limits.min < 0 else None
        whole = np.rint(rows / self.step)
        known = np.isfinite(rows)
        least = limits.min + (missing is not None)
        outside = known & ((whole < least) | (whole > limits.max))
        if outside.any() or (missing is None and not known.all()):
            worst = rows[outside][0] if outside.any() else np.nan
            raise ValueError(
                f"{self.name}: {worst:g} cannot be kept as {self.dtype} in steps of {self.step:g}"
            )
        kept = np.where(known, whole, 0 if missing is None else missing).astype(self.dtype)
        flat = pa.array(kept.ravel())
        if not self.shape:
            return flat
        return pa.FixedSizeListArray.from_arrays(flat, prod(self.shape))

    def decoded(self, column: pa.ChunkedArray) -> FloatArray:
        """``(n, *shape)`` values."""
        whole = numpy_of(column).reshape(-1, *self.shape)
        limits = np.iinfo(self.dtype)
        values = whole * self.step
        if limits.min < 0:
            values[whole == limits.min] = np.nan
        return np.asarray(values)


def numpy_of(column: pa.ChunkedArray) -> npt.NDArray[Any]:
    """A column as a flat array, lists laid end to end."""
    whole = column.combine_chunks()
    if isinstance(whole, pa.ChunkedArray):
        whole = pa.concat_arrays(whole.chunks)
    if pa.types.is_fixed_size_list(whole.type):
        whole = whole.flatten()
    return np.asarray(whole.to_numpy(zero_copy_only=False))
