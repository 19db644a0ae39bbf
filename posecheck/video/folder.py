"""Which files of a folder are clips."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from posecheck.errors import UsageError
from posecheck.files.names import in_order
from posecheck.files.places import is_folder
from posecheck.files.results_folder import holds_results
from posecheck.video.own_film import is_own_film

CLIP_SUFFIXES = frozenset(
    {".mp4", ".mov", ".m4v", ".qt", ".3gp", ".3g2", ".mkv", ".webm", ".avi", ".ts", ".mts", ".m2ts"}
    | {".mpg", ".mpeg", ".vob", ".wmv", ".asf", ".flv", ".f4v", ".ogv", ".mxf", ".dv"}
)
"""File name endings that a folder search takes for clips."""

OTHER_FILM = frozenset(
    {".h264", ".264", ".h265", ".265", ".hevc", ".m2v", ".yuv", ".y4m", ".gif", ".rm", ".rmvb"}
    | {".swf", ".braw", ".r3d", ".crm"}
)
"""Endings of film that is not read: pictures without times, animations, a camera's raw data."""


def find_clips(
    paths: Iterable[Path], on_remark: Callable[[str], object] = lambda sentence: None
) -> list[Path]:
    """List the clips that the paths name: files as given, folders searched by file ending.

    Hidden files, folders of results and films that posecheck made are left out. Order: as given,
    folders sorted by name, each file once.

    Args:
        paths: files and folders.
        on_remark: called with a sentence on what was passed over and might be missed.

    Raises:
        UsageError: a folder that was named cannot be looked into.
    """
    found: dict[Path, Path] = {}
    own: set[Path] = set()
    for path in paths:
        for clip in _clips_in(path, on_remark) if is_folder(path) else [path]:
            if is_own_film(clip):
                own.add(clip.absolute())
            else:
                found.setdefault(clip.absolute(), clip)
    if own:
        many = "film made by posecheck was" if len(own) == 1 else "films made by posecheck were"
        on_remark(f"{len(own)} {many} passed over.")
    return list(found.values())


def _clips_in(folder: Path, on_remark: Callable[[str], object]) -> Iterator[Path]:
    """The clips of a folder that was named."""
    if holds_results(folder):
        on_remark(f"{folder}: results of posecheck are no film; name the practice's folder.")
        return
    try:
        yield from _searched(folder, on_remark)
    except OSError as error:
        raise UsageError(
            f"{folder}: the folder cannot be looked into ({error.strerror}); change its "
            "permissions or name the clips themselves."
        ) from None


def _searched(folder: Path, on_remark: Callable[[str], object]) -> Iterator[Path]:
    for path in sorted(folder.iterdir(), key=lambda path: in_order(path.name)):
        if path.name.startswith("."):
            continue
        if path.is_dir():
            if holds_results(path):
                continue
            if path.is_symlink():  # it may lead back up here
                on_remark(
                    f"{path}: this link to a folder was passed over; put the folder itself here."
                )
                continue
            try:
                yield from _searched(path, on_remark)
            except OSError as error:
                on_remark(
                    f"{path}: this folder was passed over, it cannot be looked into "
                    f"({error.strerror}); change its permissions."
                )
        elif path.suffix.lower() in CLIP_SUFFIXES:
            yield path
        elif path.suffix.lower() in OTHER_FILM:
            on_remark(
                f"{path}: this was passed over, it is no film that posecheck reads; export it as "
                "an MP4."
            )
