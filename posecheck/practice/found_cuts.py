"""What was found in long films, kept in the output folder: ``cuts/`` with a JSON file for each."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from posecheck.files.names import CUTS_FOLDER, in_order
from posecheck.files.whole_file import write_whole
from posecheck.practice.cuts import FilmCuts, SetBy, Stretch, StretchKind


def cuts_path(folder: Path, digest: str) -> Path:
    """The file that says what was found in a film; names of films can be anything, so it goes by
    content.

    Args:
        folder: of the results.
        digest: of the film.
    """
    return folder / CUTS_FOLDER / f"{digest[:32]}.json"


def write_cuts(folder: Path, cuts: FilmCuts) -> Path:
    """Keep what was found in a film, in place of what was kept of it before.

    Args:
        folder: of the results.
        cuts: of the film.

    Returns:
        The file.

    Raises:
        RecordError: it cannot be written.
    """
    facts = asdict(cuts)
    stored = {
        "film": facts["film"],
        "digest": facts["digest"],
        "duration_s": facts["duration_s"],
        "settings": facts["settings_key"],
        "stretches": facts["stretches"],
        "cuts_between_s": facts["camera_changes_s"],
        "found": facts["found"],
        "damage": facts["damage"],
    }
    path = cuts_path(folder, cuts.digest)
    write_whole(path, lambda file: file.write(json.dumps(stored, indent=1).encode("utf-8")))
    return path


def read_cuts(folder: Path) -> tuple[FilmCuts, ...]:
    """What was found in each long film, in order of the films' names.

    A damaged file counts as none: the next check makes it again.

    Args:
        folder: of the results.
    """
    kept = map(_read, sorted((folder / CUTS_FOLDER).glob("*.json")))
    return tuple(sorted((each for each in kept if each), key=lambda each: in_order(each.film)))


def cuts_of(folder: Path, digest: str) -> FilmCuts | None:
    """What was found in one film; None when nothing is kept of it, or the file is damaged."""
    kept = _read(cuts_path(folder, digest))
    return kept if kept is not None and kept.digest == digest else None


def cut_files(folder: Path) -> list[Path]:
    """The clips that were cut out of long films as reps and are there, by film and time.

    Args:
        folder: of the results.
    """
    named = (
        folder / CUTS_FOLDER / each.cut
        for cuts in read_cuts(folder)
        for each in cuts.stretches
        if each.kind is StretchKind.REP and each.cut is not None
    )
    return [path for path in named if path.is_file()]


def _read(path: Path) -> FilmCuts | None:
    try:
        stored: dict[str, Any] = json.loads(path.read_bytes())
        return FilmCuts(
            film=str(stored["film"]),
            digest=str(stored["digest"]),
            duration_s=float(stored["duration_s"]),
            settings_key=str(stored["settings"]),
            stretches=tuple(map(_stretch, stored["stretches"])),
            camera_changes_s=tuple(map(float, stored["cuts_between_s"])),
            found=tuple(map(_stretch, stored["found"])),
            damage=str(stored.get("damage", "")),
        )
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def _stretch(stored: Mapping[str, Any]) -> Stretch:
    return Stretch(
        from_s=float(stored["from_s"]),
        to_s=float(stored["to_s"]),
        kind=StretchKind(stored["kind"]),
        why=str(stored["why"]),
        cut=None if stored["cut"] is None else str(stored["cut"]),
        set_by=SetBy(stored["set_by"]),
    )
