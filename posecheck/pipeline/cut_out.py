"""Stretches of long films as files of their own."""

from __future__ import annotations

from pathlib import Path

from posecheck.files.cut_name import CutName
from posecheck.files.names import CUTS_FOLDER
from posecheck.pipeline.film_limits import SAME_TIMES_S
from posecheck.practice.cuts import FilmCuts, Stretch
from posecheck.video.stream_copy import copy_part, suffix_of_parts


def cut_out(folder: Path, path: Path, cuts: FilmCuts, stretch: Stretch) -> str:
    """Cut a stretch out of a film, unless that was done before.

    Args:
        folder: of the results.
        path: the film.
        cuts: what was found in it.
        stretch: of it.

    Returns:
        The clip's name in the folder of cuts.

    Raises:
        ClipError: the film cannot be read there.
        RecordError: the cut cannot be written.
    """
    place = 1 + sum(at_s < stretch.to_s - SAME_TIMES_S for at_s in cuts.camera_changes_s)
    named = CutName(cuts.film, stretch.from_s, stretch.to_s, place)
    name = named.within(suffix_of_parts(path))
    file = folder / CUTS_FOLDER / name
    if not file.exists():
        copy_part(path, stretch.from_s, stretch.to_s, file)
    return name
