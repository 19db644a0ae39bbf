"""The reps of a clip over time, as one Parquet file per clip.

One row per frame of each rep: ``rep`` (its number), then what ``measures.result.Series`` holds,
points split into ``_x`` and ``_y``, landmarks as lists of 66 numbers (x, y of each of the 33 in
order). Not seen is NaN.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from posecheck.errors import RecordError
from posecheck.files.whole_file import write_whole
from posecheck.maths.arrays import FloatArray
from posecheck.measures.result import Series

_PLAIN = ("t_s", "knee_bend_deg", "trunk_lean_deg", "speed_mps")
_POINTS = ("defender_xy_m", "attacker_xy_m")
_LANDMARKS = ("defender_xy_px", "attacker_xy_px")
_N_NUMBERS = 66
"""Numbers in one frame's landmarks: 33 of two coordinates.

Source: definition
"""


def write_series(path: Path, series: Mapping[int, Series]) -> None:
    """Write the series of a clip's reps, by rep number.

    Raises:
        RecordError: the folder cannot be written to, or the disk is full.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    def joined(name: str, shape: tuple[int, ...]) -> FloatArray:
        parts = [getattr(each, name) for each in series.values()]
        return np.concatenate([np.empty((0, *shape)), *parts], dtype=np.float64)

    numbers = [np.full(len(each.t_s), number, np.int32) for number, each in series.items()]
    columns: dict[str, Any] = {"rep": np.concatenate([np.empty(0, np.int32), *numbers])}
    columns |= {name: joined(name, ()) for name in _PLAIN}
    for name in _POINTS:
        x, y = joined(name, (2,)).T
        columns |= {_split(name, "x"): x, _split(name, "y"): y}
    for name in _LANDMARKS:
        flat = pa.array(joined(name, (33, 2)).ravel())
        columns[name] = pa.FixedSizeListArray.from_arrays(flat, _N_NUMBERS)
    table = pa.table(columns)
    write_whole(path, lambda file: pq.write_table(table, file, compression="zstd"))


def read_series(path: Path, numbers: tuple[int, ...]) -> dict[int, Series]:
    """Read the series of the reps with these numbers; a rep without rows has an empty series.

    Raises:
        RecordError: the file is gone or damaged.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        table = pq.ParquetFile(pa.BufferReader(path.read_bytes())).read(use_threads=False)
        columns = {name: _column(table, name) for name in (*_PLAIN, *_LANDMARKS)}
        for name in _POINTS:
            sides = [_column(table, _split(name, side)) for side in "xy"]
            columns[name] = np.stack(sides, axis=1)
        rep = table["rep"].to_numpy()
    except (OSError, KeyError, pa.ArrowException) as error:
        fault = "is gone" if isinstance(error, FileNotFoundError) else "is damaged"
        raise RecordError(
            f"{path}: this part of the record {fault}; check the clips again with --afresh."
        ) from error
    return {
        number: Series(**{name: column[rep == number] for name, column in columns.items()})
        for number in numbers
    }


def _column(table: Any, name: str) -> FloatArray:
    column = table[name].combine_chunks()
    if name in _LANDMARKS:
        return np.asarray(column.flatten(), np.float64).reshape(-1, 33, 2)
    return np.asarray(column, np.float64)


def _split(name: str, side: str) -> str:
    return name.replace("_xy_", f"_{side}_")
