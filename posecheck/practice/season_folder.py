"""Which practices some paths name, and which clips belong to each: one practice, or a season.

A folder holds a season when practices are described below it, or when it holds ``SEASON_FILE``,
which may be empty. Its practices are

- every folder below it with a ``PRACTICE_FILE``, however deep;
- every other folder right in it that holds clips, or right in a folder of practices.

A clip belongs to the nearest of these above it. One that lies beside practices, in none of them,
is *loose*: nobody can say whose it is, so it is named and not measured.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from posecheck.errors import UsageError
from posecheck.files.names import PRACTICE_FILE, SEASON_FILE, in_order
from posecheck.files.places import existing, is_folder, there
from posecheck.video.folder import CLIP_SUFFIXES, find_clips


@dataclass(frozen=True)
class PracticePaths:
    """What some paths name of one practice.

    Attributes:
        folder: of the practice, resolved.
        paths: as given, or of a season the practice's clips.
    """

    folder: Path
    paths: tuple[Path, ...]


@dataclass(frozen=True)
class Gathered:
    """What some paths name.

    Attributes:
        practices: in the order named, those of a season by name.
        loose: clips beside practices, in none of them.
        season: the season's folder, None where one practice, or several paths, were named.
    """

    practices: tuple[PracticePaths, ...]
    loose: tuple[Path, ...] = ()
    season: Path | None = None

    @property
    def common(self) -> Path:
        """The folder that holds all practices."""
        if self.season is not None:
            return self.season
        return Path(os.path.commonpath([each.folder.parent for each in self.practices]))


def gather(
    paths: Sequence[Path], on_remark: Callable[[str], object] = lambda sentence: None
) -> Gathered:
    """Find the practices that paths name, and of a season the clips of each.

    Args:
        paths: folders of practices or of a season, or clips.
        on_remark: called with a sentence on what of a season was passed over.

    Raises:
        UsageError: one is not there, cannot be looked into, or is a season without a practice. A
            missing clip among others is that clip's fault.
    """
    found = [path for path in paths if there(path)]
    for path in paths:
        if not (found and path.suffix.lower() in CLIP_SUFFIXES):
            existing(path, "folder or clip")
    meant: dict[Path, dict[Path, None]] = {}
    loose: dict[Path, None] = {}
    season = None
    for path in paths:
        below = _described_below(path) if is_folder(path) else []
        many = bool(below) or (is_folder(path) and there(path / SEASON_FILE))
        if not many:
            meant.setdefault(_home(path), {})[path] = None
            continue
        if len(paths) == 1:
            season = path.resolve()
        for folder, clip in _of_season(path, find_clips([path], on_remark), below, loose):
            meant.setdefault(folder, {}).update({} if clip is None else {clip: None})
    if not meant:
        raise UsageError(
            f"{', '.join(map(str, paths))}: there is no practice in it; put each practice into a "
            "folder of its own below."
        )
    practices = (PracticePaths(folder, tuple(own)) for folder, own in meant.items())
    return Gathered(tuple(practices), tuple(loose), season)


def practice_folder(paths: Sequence[Path]) -> Path:
    """The folder of the one practice that paths belong to.

    Raises:
        UsageError: as :func:`gather`, and where they belong to several.
    """
    found = gather(paths)
    if found.season is not None or len(found.practices) > 1:
        names = ", ".join(str(each.folder) for each in found.practices)
        raise UsageError(f"These are several practices ({names}); name one.")
    return found.practices[0].folder


# -- small steps ---------------------------------------------------------------------------------


def _home(path: Path) -> Path:
    """The practice that a path belongs to which holds no others."""
    folder = path.resolve() if is_folder(path) else path.parent.resolve()
    # Clips often lie in a folder of their own inside the practice's.
    described = (each for each in (folder, folder.parent) if there(each / PRACTICE_FILE))
    return next(described, folder)


def _described_below(top: Path) -> list[Path]:
    """Folders below one that describe a practice, by name, relative to it."""
    found: list[Path] = []
    for folder, inside, files in os.walk(top):
        inside[:] = [name for name in inside if not name.startswith(".")]
        if PRACTICE_FILE in files and Path(folder) != top:
            found.append(Path(folder).relative_to(top))
    return sorted(found, key=lambda folder: in_order(folder.as_posix()))


def _of_season(
    top: Path, clips: Iterable[Path], below: Sequence[Path], loose: dict[Path, None]
) -> list[tuple[Path, Path | None]]:
    """Practice and clip for each clip of a season, and each described practice with None."""
    described = [Path(), *below] if there(top / PRACTICE_FILE) else list(below)
    holds_practices = {Path(), *(above for each in below for above in each.parents)}
    placed: list[tuple[Path, Path | None]] = [(each, None) for each in described]
    for clip in clips:
        folder = clip.relative_to(top).parent
        owner = _owner(folder, described, holds_practices)
        if owner is None:
            loose[clip] = None
        else:
            placed.append((owner, clip))
    placed.sort(key=lambda one: in_order(one[0].as_posix()))
    return [(top.resolve() / owner, clip) for owner, clip in placed]


def _owner(folder: Path, described: Iterable[Path], holds_practices: set[Path]) -> Path | None:
    """The practice of clips in a folder, None when it lies among practices itself."""
    up = [folder, *folder.parents]
    nearest = next((each for each in up if each in described), None)
    if nearest is not None:
        return nearest
    undescribed = [each for each in up if each not in holds_practices]
    return undescribed[-1] if undescribed else None
