"""Small pictures of long films, in files beside the page: rows of a strip, and single stretches.

They are taken from the pictures that the film stores by themselves, which costs seconds for an
hour of film. They go by the film's content, so what is there need not be made again.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import partial
from itertools import islice
from pathlib import Path, PurePosixPath
from typing import BinaryIO

import cv2
import numpy as np

from posecheck.errors import RecordError
from posecheck.files.names import FILM_STRIPS_FOLDER
from posecheck.files.whole_file import write_whole
from posecheck.maths.arrays import Image
from posecheck.pages.tuning import (
    PICTURE_EVERY_S,
    ROW_S,
    STRETCH_PICTURE_PX,
    STRIP_PICTURE_PX,
    STRIP_QUALITY,
)
from posecheck.practice.cuts import FilmCuts, Stretch, StretchKind
from posecheck.video.seeking import pictures_at

PICTURES_IN_ROW = round(ROW_S / PICTURE_EVERY_S)
"""How many there are side by side.

Source: definition
"""


def draw_strips(film: Path, cuts: FilmCuts, stretches: Iterable[Stretch], folder: Path) -> None:
    """Make the pictures of a film that are not there yet.

    Args:
        film: the file.
        cuts: what was found in it.
        stretches: of the film. Those that are not sure get a picture of their own.
        folder: of the results.

    Raises:
        UnreadableClip: the film cannot be read.
        RecordError: the folder cannot be written to.
    """
    rows = [at for at in range(n_rows(cuts)) if not (folder / row_name(cuts, at)).is_file()]
    times_s = [row * ROW_S + i * PICTURE_EVERY_S for row in rows for i in range(PICTURES_IN_ROW)]
    shown = [min(time_s, cuts.duration_s) for time_s in times_s]
    pictures = pictures_at(film, shown, STRIP_PICTURE_PX, key_frames=True)
    for row in rows:
        own = list(islice(pictures, PICTURES_IN_ROW))
        left = cuts.duration_s - row * ROW_S
        _write(folder / row_name(cuts, row), side_by_side(own, math.ceil(left / PICTURE_EVERY_S)))
    wanted = [
        each
        for each in stretches
        if each.kind is StretchKind.UNSURE and not (folder / stretch_name(cuts, each)).is_file()
    ]
    middles_s = [(each.from_s + each.to_s) / 2 for each in wanted]
    for each, picture in zip(wanted, pictures_at(film, middles_s, STRETCH_PICTURE_PX), strict=True):
        _write(folder / stretch_name(cuts, each), picture)


def n_rows(cuts: FilmCuts) -> int:
    """How many rows a film's strip has."""
    return max(1, math.ceil(cuts.duration_s / ROW_S))


def row_name(cuts: FilmCuts, row: int) -> str:
    """A row's file relative to the output folder, POSIX form."""
    return str(PurePosixPath(FILM_STRIPS_FOLDER) / f"{cuts.digest[:16]}-row-{row:03d}.jpg")


def stretch_name(cuts: FilmCuts, stretch: Stretch) -> str:
    """The same of the picture of one stretch."""
    at = round((stretch.from_s + stretch.to_s) * 500)
    return str(PurePosixPath(FILM_STRIPS_FOLDER) / f"{cuts.digest[:16]}-at-{at:08d}.jpg")


def side_by_side(pictures: Sequence[Image], n_seen: int) -> Image:
    """A row: its pictures in boxes of one size, the first ``n_seen`` of them, then nothing."""
    wide, high = STRIP_PICTURE_PX
    row = np.zeros((high, wide * PICTURES_IN_ROW, 3), np.uint8)
    for at, picture in enumerate(pictures[:n_seen]):
        top, left = (high - picture.shape[0]) // 2, (wide - picture.shape[1]) // 2
        box = row[top : top + picture.shape[0], at * wide + left :]
        box[:, : picture.shape[1]] = picture
    return row


def take_away(folder: Path, films: Iterable[FilmCuts]) -> None:
    """Remove pictures of films that are no more.

    Raises:
        RecordError: the folder cannot be written to.
    """
    there = {cuts.digest[:16] for cuts in films}
    try:
        for path in (folder / FILM_STRIPS_FOLDER).glob("*.jpg"):
            if path.name.partition("-")[0] not in there:
                path.unlink(missing_ok=True)
    except OSError as error:
        raise RecordError(
            f"{folder / FILM_STRIPS_FOLDER}: pictures of films that are no more cannot be taken "
            f"away ({error.strerror or error}); change the folder's permissions."
        ) from error


def _write(path: Path, rgb: Image) -> None:
    bgr = cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR)
    _, data = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, STRIP_QUALITY])
    write_whole(path, partial(_put, data.tobytes()), lasting=False)


def _put(data: bytes, file: BinaryIO) -> None:
    file.write(data)
