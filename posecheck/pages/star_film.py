"""The starred reps as one film for the team's meeting, and as a list.

The film plays the annotated clips one after the other, each with its slow part, and a title card
before each. It is made of what was published; the practice's own film is not needed.
"""

from __future__ import annotations

import csv
import io
import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from posecheck.errors import UnreadableClip
from posecheck.files.names import CLIPS_FOLDER
from posecheck.files.whole_file import refuse_to_overwrite, whole_file, write_whole
from posecheck.pages.mp4 import write_mp4
from posecheck.pages.overlay import DEFENDER, GUIDE, SHADE, Picture, Rgb
from posecheck.pages.tuning import (
    CARD_LINE,
    CARD_S,
    KEY_FRAME_EVERY_S,
    STAR_FILM_PX,
)
from posecheck.video.clip import Clip, open_clip
from posecheck.video.own_film import is_own_film

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of a formula."""

# The film room in the page gives the same columns.
_COLUMNS = ("rep", "player", "spot", "call", "fault", "note", "clip")
_LINE = re.compile(r"Rep \d+(, .*)?: .*")


@dataclass(frozen=True)
class Starred:
    """A rep of the film.

    Attributes:
        number: of the rep on the practice's page.
        player: the defender as written, None when not named.
        spot: None when not stated.
        call: of the rep as a whole, in a word.
        fault: the most serious one in words, "" without one.
        sentence: what was seen.
        clip: its annotated clip.
    """

    number: int
    player: str | None
    spot: str | None
    call: str
    fault: str
    sentence: str
    clip: Path

    @property
    def title(self) -> str:
        """Number and name."""
        return f"Rep {self.number}" + (f", {self.player}" if self.player else "")


def write_star_film(reps: Sequence[Starred], path: Path) -> None:
    """Write one MP4 of several reps' annotated clips, a title card before each.

    Every frame has its own time. The file appears only when complete, and takes the place of no
    film but one that posecheck made.

    Args:
        reps: at least one, in the order of the film.
        path: of the MP4.

    Raises:
        UsageError: there is another film of this name.
        UnreadableClip: an annotated clip is gone or broken.
        RecordError: the folder cannot be written to.
    """
    refuse_to_overwrite(path, is_own_film)
    with whole_file(path) as part:
        write_mp4(part, STAR_FILM_PX, _pictures(reps))


def write_star_list(reps: Sequence[Starred], path: Path) -> None:
    """Write reps as a list: a table when the name ends in ``.csv``, else a line for each.

    No cell of the table is taken for a formula by a spreadsheet. Only such a list is replaced.

    Raises:
        UsageError: there is another file of this name.
        RecordError: the folder cannot be written to.
    """
    refuse_to_overwrite(path, _is_star_list)
    if path.suffix.lower() == ".csv":
        text = io.StringIO()
        table = csv.writer(text)
        table.writerow(_COLUMNS)
        for rep in reps:
            cells = rep.player or "", rep.spot or "", rep.call, rep.fault, rep.sentence
            table.writerow([rep.number, *map(_cell, (*cells, f"{CLIPS_FOLDER}/{rep.clip.name}"))])
        # Spreadsheets take a file without this mark for another encoding.
        data = text.getvalue().encode("utf-8-sig")
    else:
        data = "".join(f"{rep.title}: {rep.sentence}\n" for rep in reps).encode()
    write_whole(path, lambda file: file.write(data))


def _is_star_list(path: Path) -> bool:
    try:
        lines = path.read_text("utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError):
        return False
    table = lines[:1] == [",".join(_COLUMNS)]
    return table or (bool(lines) and all(map(_LINE.fullmatch, lines)))


def _cell(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) else text


def _pictures(reps: Sequence[Starred]) -> Iterator[tuple[float, Picture]]:
    """Pictures of the film with their times from 0."""
    begin_s = 0.0
    for rep in reps:
        clip = _opened(rep.clip)
        card = title_card(rep)
        # More than one picture of it: going to a moment within it is quick.
        for t_s in np.arange(0.0, CARD_S, KEY_FRAME_EVERY_S):
            yield begin_s + float(t_s), card
        begin_s += CARD_S
        for frame in clip.frames():
            yield begin_s + frame.t_s, _fitted(frame.rgb)
        begin_s += float(2 * clip.t_s[-1] - clip.t_s[-2])


def _opened(path: Path) -> Clip:
    try:
        return open_clip(path)
    except UnreadableClip:
        raise UnreadableClip(
            path, "this annotated clip is gone or broken", "run posecheck check to draw it again"
        ) from None


def _fitted(picture: Picture) -> Picture:
    """The whole picture as large as fits, on a dark ground."""
    wide, tall = STAR_FILM_PX
    height, width = picture.shape[:2]
    scale = min(wide / width, tall / height)
    size = round(width * scale), round(height * scale)
    ground = np.full((tall, wide, 3), SHADE, np.uint8)
    left, top = (wide - size[0]) // 2, (tall - size[1]) // 2
    ground[top : top + size[1], left : left + size[0]] = cv2.resize(
        picture, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    )
    return ground


def title_card(rep: Starred) -> Picture:
    """Number, name and what was seen, ``(720, 1280, 3)``."""
    wide, tall = STAR_FILM_PX
    card = Image.new("RGB", (wide, tall), SHADE)
    draw = ImageDraw.Draw(card)
    left, top = wide // 12, tall // 3
    for text, size, colour in _lines(rep):
        draw.text((left, top), text, fill=colour, font=ImageFont.load_default(size))
        top += round(1.35 * size)
    return np.asarray(card, dtype=np.uint8)


def _lines(rep: Starred) -> Iterator[tuple[str, int, Rgb]]:
    tall = STAR_FILM_PX[1]
    for text in textwrap.wrap(rep.title, CARD_LINE):
        yield text, tall // 11, DEFENDER
    for text in textwrap.wrap(rep.sentence, round(1.8 * CARD_LINE)):
        yield text, tall // 18, GUIDE
