"""Where the models package keeps what it reads and writes, and what a file's content comes to."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

from models import recipe

FOLDER = recipe.FOLDER
ROWS = FOLDER / "rows"
POSECHECK = FOLDER.parent / "posecheck"
STANCE_NET = POSECHECK / "body" / "stance_net.npz"
BASE_NET = POSECHECK / "body" / "base_net.npz"
FEET_NET = POSECHECK / "body" / "feet_net.npz"
INTERVALS = POSECHECK / "measures" / "intervals.toml"

STILLS = "stills-*.parquet"
"""Rows that nets are fitted on."""
HELD_OUT = ROWS / "held-out.parquet"
HELD_OUT_WIDE = ROWS / "held-out-wide.parquet"
CAPTURED = ROWS / "captured.parquet"


def digest(path: Path) -> str:
    """SHA-256 of a file's content, hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def digest_of(paths: Iterable[Path]) -> str:
    """SHA-256 over several files' digests, in the order of their names."""
    digests = [digest(path) for path in sorted(paths, key=lambda path: path.name)]
    return hashlib.sha256("".join(digests).encode()).hexdigest()


def nets_digest() -> str:
    """Of both nets in the tree: what readings of film depend on besides the film."""
    return digest_of([STANCE_NET, FEET_NET])


def stills_rows(folder: Path = ROWS) -> list[Path]:
    """Files of rows that nets are fitted on.

    Raises:
        FileNotFoundError: there are none.
    """
    found = sorted(folder.glob(STILLS))
    if not found:
        raise FileNotFoundError(f"no {STILLS} in {folder}: run `python -m models gather` first")
    return found


def check_rows(rows: Mapping[str, str], folder: Path = ROWS) -> None:
    """Make sure that the rows are those the recipe names.

    Raises:
        ValueError: a file is missing, differs, or is not named.
    """
    there = {path.name: digest(path) for path in sorted(folder.glob("*.parquet")) if _source(path)}
    for name in sorted(rows.keys() | there.keys()):
        if rows.get(name) != there.get(name):
            fault = "differs from" if name in rows and name in there else "is missing beside"
            raise ValueError(
                f"{name} {fault} what recipe.toml names under [rows]: take both from one commit, "
                "or run `python -m models gather` again"
            )


def _source(path: Path) -> bool:
    """Whether rows come from rendered pictures rather than from other rows and the nets."""
    return path.match(STILLS) or path.name in (HELD_OUT.name, HELD_OUT_WIDE.name, CAPTURED.name)


def write_digests(folder: Path = ROWS, file: Path = recipe.FILE) -> None:
    """Put the digests of all rows into the recipe's last table, ``[rows]``."""
    there = [path for path in sorted(folder.glob("*.parquet")) if _source(path)]
    lines = [f'"{path.name}" = "{digest(path)}"' for path in there]
    before = re.split(r"^\[rows\]\n", file.read_text("utf-8"), flags=re.MULTILINE)[0]
    file.write_text(f"{before}[rows]\n" + "".join(f"{line}\n" for line in lines), "utf-8")
