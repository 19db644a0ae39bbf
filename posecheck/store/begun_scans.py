"""Scans of long films that are not finished, so that a check that was killed goes on with them:
``cuts/`` holds a file of JSON lines for each, which grows with every part that is followed.

The first line says of which film, the second what was seen of it, every further one which runs are
in a part of it. A last line that was not written to its end counts for nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from posecheck.errors import RecordError
from posecheck.files.names import CUTS_FOLDER
from posecheck.files.whole_file import write_whole
from posecheck.scan.runs import Run
from posecheck.scan.scan_film import PartRuns
from posecheck.scan.watch import Watched

_SUFFIX = ".scan.jsonl"


@dataclass(frozen=True)
class BegunScan:
    """A scan as far as it came.

    Attributes:
        seen: what was seen of the film.
        parts: by start and end, the runs in each part that was followed.
    """

    seen: Watched
    parts: Mapping[tuple[float, float], PartRuns]


def begin_scan(folder: Path, film: str, digest: str, key: str, seen: Watched) -> None:
    """Keep what was seen of a film, in place of what was kept of its scan before.

    Args:
        folder: of the results.
        film: by which the practice knows it.
        digest: SHA-256 of its content.
        key: over everything else that could change the scan.
        seen: of the film.

    Raises:
        RecordError: it cannot be written.
    """
    lines = _line({"film": film, "digest": digest, "key": key}) + _line(asdict(seen))
    write_whole(_path(folder, digest), lambda file: file.write(lines))


def add_part(folder: Path, digest: str, part_s: tuple[float, float], runs: PartRuns) -> None:
    """Keep what was found in a part of a film whose scan has begun.

    Args:
        folder: of the results.
        digest: of the film.
        part_s: start and end of the part, seconds.
        runs: in it.

    Raises:
        RecordError: it cannot be written.
    """
    path = _path(folder, digest)
    try:
        with path.open("ab") as file:
            # Begins with a line break, in case the last line was not written to its end.
            file.write(b"\n" + _line({"part_s": part_s, **asdict(runs)}))
    except OSError as error:
        raise RecordError(
            f"{path}: it cannot be written ({error.strerror}); free some space or change the "
            "folder's permissions, then run the same command again."
        ) from error


def begun_scan(folder: Path, digest: str, key: str) -> BegunScan | None:
    """How far the scan of a film came; None when none has begun by this key, or it is damaged.

    Args:
        folder: of the results.
        digest: of the film.
        key: as given to :func:`begin_scan`.
    """
    try:
        lines = _path(folder, digest).read_bytes().splitlines()
        of = json.loads(lines[0])
        if (of["digest"], of["key"]) != (digest, key):
            return None
        seen = _watched(json.loads(lines[1]))
    except (OSError, ValueError, KeyError, TypeError, IndexError):
        return None
    parts: dict[tuple[float, float], PartRuns] = {}
    for line in lines[2:]:
        with suppress(ValueError, KeyError, TypeError):
            stored = json.loads(line)
            parts[tuple(stored["part_s"])] = _part_runs(stored)
    return BegunScan(seen, parts)


def end_scan(folder: Path, digest: str) -> None:
    """Remove what was kept of a scan: it is finished, or given up."""
    with suppress(OSError):  # it does no harm
        _path(folder, digest).unlink(missing_ok=True)


def end_scans_without_film(folder: Path, is_there: Callable[[str], bool]) -> None:
    """Remove what was kept of scans of films that are gone.

    Args:
        folder: of the results.
        is_there: whether the film of a name, as given to :func:`begin_scan`, still is.
    """
    _end_scans(folder, lambda film, digest: not is_there(film))


def end_scans_of_replaced(folder: Path, film: str, digest: str) -> None:
    """Remove what was kept of scans of other films that had this one's name.

    Args:
        folder: of the results.
        film: its name, as given to :func:`begin_scan`.
        digest: SHA-256 of its content.
    """
    _end_scans(folder, lambda name, scanned: name == film and scanned != digest)


def _end_scans(folder: Path, is_over: Callable[[str, str], bool]) -> None:
    for path in (folder / CUTS_FOLDER).glob(f"*{_SUFFIX}"):
        with suppress(OSError, ValueError, KeyError, TypeError):
            with path.open("rb") as file:
                of = json.loads(file.readline())
            if is_over(of["film"], of["digest"]):
                path.unlink()


def _path(folder: Path, digest: str) -> Path:
    return folder / CUTS_FOLDER / f"{digest[:32]}{_SUFFIX}"


def _line(facts: Mapping[str, Any]) -> bytes:
    return json.dumps(facts, default=lambda value: value.tolist()).encode("ascii") + b"\n"


def _watched(stored: dict[str, Any]) -> Watched:
    return Watched(
        t_s=np.array(stored["t_s"], np.float64),
        moves=np.array(stored["moves"], np.float64),
        to_place=np.array(stored["to_place"], np.float64).reshape(-1, 3, 3),
        jumps_s=tuple(stored["jumps_s"]),
        places_s=tuple(stored["places_s"]),
        size_px=(int(stored["size_px"][0]), int(stored["size_px"][1])),
        end_s=float(stored["end_s"]),
        lost_within_s=float(stored["lost_within_s"]),
        breaks_off=bool(stored["breaks_off"]),
    )


def _part_runs(stored: dict[str, Any]) -> PartRuns:
    width_px, height_px = stored["size_px"]
    return PartRuns(stored["begins_s"], (width_px, height_px), tuple(map(_run, stored["runs"])))


def _run(stored: dict[str, Any]) -> Run:
    at_s, middle_px = stored["seen_at"]
    arrays = {name: np.array(stored[name], np.float64) for name in ("from_px", "to_px")}
    return Run(**{**stored, **arrays, "seen_at": (at_s, np.array(middle_px, np.float64))})
