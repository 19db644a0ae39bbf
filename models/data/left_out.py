"""What nets of other folds read of each body: the readings that errors are worked out from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pyarrow as pa

from models.data.keyed import read_keyed, write_keyed
from models.data.stills import Cast
from models.files import ROWS, digest
from posecheck.maths.arrays import FloatArray

LeftOut = Mapping[int, FloatArray]
"""By number of the cast ``(n, n_columns)``, one row a picture in the order of the rows."""

STEP = "fit"


def left_out_file(name: str) -> Path:
    """Of the net called "stance" or "feet"."""
    return ROWS / f"left-out-{name}.parquet"


def write_left_out(name: str, read: LeftOut, columns: Sequence[str], net: Path) -> None:
    """Keep what was read, in half precision, with the digest of the net fitted on all bodies."""
    casts = sorted(read)
    rows = np.concatenate([read[cast] for cast in casts]).astype(np.float16)
    table = pa.table(
        {
            "cast": np.repeat(casts, [len(read[cast]) for cast in casts]).astype(np.int32),
            **{column: rows[:, i] for i, column in enumerate(columns)},
        }
    )
    write_keyed(left_out_file(name), table, digest(net))


def read_left_out(name: str, casts: Sequence[Cast], net: Path) -> dict[str, FloatArray]:
    """By column ``(n,)`` over all pictures of these casts.

    Raises:
        StaleRows: the net in the tree is another.
        ValueError: the rows are not of these casts.
    """
    table = read_keyed(left_out_file(name), digest(net), STEP)
    wanted = np.repeat([cast.number for cast in casts], [len(cast) for cast in casts])
    if not np.array_equal(table["cast"].to_numpy(), wanted):
        raise ValueError(f"{left_out_file(name).name} is of other bodies: fit again")
    return {
        column: table[column].to_numpy().astype(float)
        for column in table.column_names
        if column != "cast"
    }
