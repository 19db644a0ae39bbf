"""From the renderer's folder of casts to the rows that are kept in the tree."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import pyarrow as pa

from models.data.stills import rows_of, write_rows
from models.files import CAPTURED, HELD_OUT, HELD_OUT_WIDE, ROWS
from models.recipe import Stills

MOST_PICTURES = 12_000
"""In one file: some 4 MB."""


def gather(folders: list[Path], stills: Stills, into: Path = ROWS) -> list[Path]:
    """Write the rows of every cast in some folders, by purpose and movement.

    Files of a purpose and movement of which the folders hold casts are replaced, the others stay.

    Raises:
        ValueError: no casts, two of one number, or one that is in no set of the recipe.
    """
    paths = [path for folder in folders for path in sorted(folder.rglob("cast-????.npz"))]
    if not paths:
        raise ValueError(f"no cast-NNNN.npz in {', '.join(map(str, folders))}")
    numbers = [int(path.stem[-4:]) for path in paths]
    if len(set(numbers)) < len(numbers):
        raise ValueError("two casts of one number: name folders that share none")
    groups: dict[str, list[pa.Table]] = defaultdict(list)
    for number, path in sorted(zip(numbers, paths, strict=True)):
        table = rows_of(path)
        each = stills.set_of(number)
        if each.purpose == "fit":
            kind = "" if each.camera is None else f"{each.camera}-"
            groups[f"stills-{kind}{table['album'][0]}"].append(table)
        elif each.camera == "wide":
            groups[HELD_OUT_WIDE.stem].append(table)
        else:
            groups[(HELD_OUT if each.purpose == "held-out" else CAPTURED).stem].append(table)
    into.mkdir(exist_ok=True)
    written = []
    for stem, tables in groups.items():
        for old in [*into.glob(f"{stem}.parquet"), *into.glob(f"{stem}-*.parquet")]:
            old.unlink()
        parts = _parts(tables)
        for part, chosen in enumerate(parts, 1):
            name = f"{stem}-{part}.parquet" if stem.startswith("stills") else f"{stem}.parquet"
            write_rows(into / name, pa.concat_tables(chosen).unify_dictionaries().combine_chunks())
            written.append(into / name)
    return written


def _parts(tables: list[pa.Table]) -> list[list[pa.Table]]:
    """Casts dealt into as few files as hold them, about evenly; no cast is split."""
    pictures = sum(len(table) for table in tables)
    n_parts = -(-pictures // MOST_PICTURES)
    parts: list[list[pa.Table]] = [[] for _ in range(n_parts)]
    seen = 0
    for table in tables:
        parts[min(seen * n_parts // max(pictures, 1), n_parts - 1)].append(table)
        seen += len(table)
    return [part for part in parts if part]
