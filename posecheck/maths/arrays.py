"""Names for the arrays that travel between stages."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]
Image = npt.NDArray[np.uint8]
"""``(height, width, 3)`` RGB or ``(height, width)`` grey."""
