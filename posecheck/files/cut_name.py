"""A cut's file name says which film it is from and which stretch, so that nothing else has to.

In the folder of cuts each film has a folder of its name, at its place in the practice, and each cut
is named by its start and end::

    checked/cuts/clips/film-01.mp4/0872.433-0880.900.mp4
    checked/cuts/clips/film-01.mp4/1204.000-1211.500-place-2.mp4     # the phone had been moved
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path, PurePath

from posecheck.files.names import CUTS_FOLDER, RECORD_FILE
from posecheck.printable import printable


@dataclass(frozen=True)
class CutName:
    """What the name of a cut says.

    Attributes:
        film: the film's key in its practice.
        from_s, to_s: start and end, seconds of the film as it plays.
        place: number of the place that the camera stood in, counted through the film from 1.
    """

    film: str
    from_s: float
    to_s: float
    place: int = 1

    def within(self, suffix: str) -> str:
        """The cut's path in the folder of cuts, POSIX form, with the ending given."""
        # A film that lies elsewhere has a whole path for its key.
        inside = PurePath(self.film)
        place = inside.relative_to(inside.anchor).as_posix() if inside.anchor else self.film
        moved = f"-place-{self.place}" if self.place > 1 else ""
        return f"{place}/{self.from_s:08.3f}-{self.to_s:08.3f}{moved}{suffix}"

    @property
    def shown(self) -> str:
        """As people read it: the film and the time in it."""
        return f"{self.film} at {clock(self.from_s)}"


_TIME = r"(\d+\.\d{3})"
_STRETCH = re.compile(rf"(.+)/{_TIME}-{_TIME}(?:-place-(\d+))?\.\w+", re.DOTALL)
_INSIDE = re.compile(rf"(?<![^/]){CUTS_FOLDER}/")


def cut_name(key: str) -> CutName | None:
    """What a clip's key says when it is a cut's, None for any other clip."""
    folders = list(_INSIDE.finditer(key))
    if len(folders) > 1 and PurePath(key).is_absolute():
        # Results elsewhere, by their whole path; other folders in it may have the same name.
        of_results = [at for at in folders if Path(key[: at.start()], RECORD_FILE).exists()]
        folders = of_results or folders
    found = _STRETCH.fullmatch(key, folders[0].end()) if folders else None
    return found and CutName(found[1], float(found[2]), float(found[3]), int(found[4] or 1))


def clock(at_s: float, decimals: int = 0) -> str:
    """A moment of a film as its player shows it, minutes and seconds, hours where there are any.

    Args:
        at_s: the moment; what is smaller than the last digit shown is cut off, as players do.
        decimals: of the seconds, 3 at most.
    """
    minutes, thousandths = divmod(round(at_s * 1000), 60_000)
    hours, minutes = divmod(minutes, 60)
    seconds = f"{thousandths // 1000:02d}"
    if decimals:
        seconds += f".{thousandths % 1000:03d}"[: decimals + 1]
    return f"{hours}:{minutes:02d}:{seconds}" if hours else f"{minutes}:{seconds}"


def span(from_s: float, to_s: float) -> str:
    """A stretch of film, its times with as many decimals as tell them apart: "14:32 to 14:41",
    "9:02.1 to 9:02.8"."""
    for decimals in range(4):
        start, end = clock(from_s, decimals), clock(to_s, decimals)
        if start != end:
            break
    return f"{start} to {end}"


def shown_file(path: PurePath) -> str:
    """A clip's file name as people read it; a cut's is that of its film, and the time in it."""
    cut = cut_name(path.as_posix())
    shown = path.name if cut is None else f"{PurePath(cut.film).name} at {clock(cut.from_s)}"
    return printable(shown)
