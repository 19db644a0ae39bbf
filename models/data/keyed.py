"""Rows that depend on nets: written with the nets' digest, read back only beside the same nets."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from posecheck import __version__

KEY = b"read_with"
VERSION = b"version"


class StaleRows(ValueError):
    """Rows were read with other nets than those in the tree."""


def write_keyed(path: Path, table: pa.Table, digest: str, version: str = __version__) -> None:
    """Write rows that were read with the nets of this digest, by this version of posecheck."""
    path.parent.mkdir(parents=True, exist_ok=True)
    keyed = table.replace_schema_metadata({KEY: digest.encode(), VERSION: version.encode()})
    pq.write_table(keyed, path, compression="zstd", compression_level=19, write_statistics=False)


def version_of(path: Path) -> str:
    """The version of posecheck that wrote rows."""
    return str((pq.read_schema(path).metadata or {})[VERSION].decode())


def read_keyed(path: Path, digest: str, step: str) -> pa.Table:
    """Read rows that the nets of this digest read.

    Args:
        path: of the file.
        digest: of the nets in the tree.
        step: of ``python -m models`` that writes them, for the message.

    Raises:
        FileNotFoundError: they are not there.
        StaleRows: other nets read them.
    """
    again = f"run `python -m models {step}`"
    if not path.exists():
        raise FileNotFoundError(f"{path.name} is not in {path.parent}: {again} first")
    table = pq.read_table(path)
    was = (table.schema.metadata or {}).get(KEY, b"").decode()
    if was != digest:
        raise StaleRows(
            f"{path.name} was read with other nets ({was[:12] or 'not known which'}) than those in "
            f"the tree ({digest[:12]}): {again} again"
        )
    return table
