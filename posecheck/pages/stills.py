"""What was drawn of a rep: its cells and thumbnail, and where things lie in its annotated clip.

The drawing step writes pictures, then clip, then one JSON file that names them all and says what
code made them. Pages read that file alone: nothing is decoded here.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from posecheck.files.names import CLIPS_FOLDER, STILLS_FOLDER
from posecheck.files.whole_file import write_whole
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.annotated import ClipTimes as ClipTimes
from posecheck.pages.annotated import annotated_name


@dataclass(frozen=True)
class Still:
    """A small picture of a rep, a file of its own.

    Attributes:
        file: relative to the output folder, POSIX form.
        offset_s: the moment it shows, seconds after arrival, negative before; of a thumbnail
            without arrival seconds after the start.
        width_px, height_px: of the picture.
    """

    file: str
    offset_s: float
    width_px: int
    height_px: int


@dataclass(frozen=True)
class Stills:
    """The small pictures of a rep.

    Attributes:
        cells: the defender around his arrival in order of time, all at one scale and of one size;
            five unless the film begins or ends too near, none when arrival was not seen.
        thumb: both players at arrival, in the middle of the rep when arrival was not seen.
    """

    cells: tuple[Still, ...] = ()
    thumb: Still | None = None


@dataclass(frozen=True)
class Drawn:
    """Everything that was drawn of a rep.

    Attributes:
        made_by: digest of code and settings that drew it.
        clip_bytes: size of the annotated clip.
        times: of that clip.
        stills: as written.
    """

    made_by: str
    clip_bytes: int
    times: ClipTimes
    stills: Stills


def stills_of(folder: Path, result: ClipResult, rep: RepResult) -> Stills:
    """The small pictures of a rep that lie in an output folder; none of those that are gone."""
    drawn = read_drawn(folder, result, rep)
    if drawn is None:
        return Stills()
    cells = tuple(cell for cell in drawn.stills.cells if (folder / cell.file).is_file())
    thumb = drawn.stills.thumb
    return Stills(cells, thumb if thumb and (folder / thumb.file).is_file() else None)


def clip_times(folder: Path, result: ClipResult, rep: RepResult) -> ClipTimes | None:
    """Where things lie in the annotated clip of a rep; None when it is gone or broken."""
    drawn = read_drawn(folder, result, rep)
    return drawn.times if drawn and is_whole(folder, result, rep, drawn) else None


def is_whole(folder: Path, result: ClipResult, rep: RepResult, drawn: Drawn) -> bool:
    """Whether an annotated clip is there as it was written, judged by its size."""
    path = folder / CLIPS_FOLDER / annotated_name(result, rep)
    return path.is_file() and path.stat().st_size == drawn.clip_bytes


def still_name(result: ClipResult, rep: RepResult, which: str, ending: str = ".jpg") -> str:
    """A small picture's path relative to the output folder, POSIX form."""
    stem = PurePosixPath(annotated_name(result, rep)).stem
    return str(PurePosixPath(STILLS_FOLDER) / f"{stem}{which}{ending}")


def drawn_path(folder: Path, result: ClipResult, rep: RepResult) -> Path:
    """The file that says what was drawn of a rep."""
    return folder / still_name(result, rep, "", ".json")


def write_drawn(folder: Path, result: ClipResult, rep: RepResult, drawn: Drawn) -> None:
    """Say what was drawn of a rep, after all of it lies in its place.

    Raises:
        RecordError: the folder cannot be written to.
    """
    text = json.dumps(asdict(drawn))
    write_whole(drawn_path(folder, result, rep), lambda file: file.write(text.encode()))


def read_drawn(folder: Path, result: ClipResult, rep: RepResult) -> Drawn | None:
    """What was drawn of a rep; None when nothing was, or the file that says so is damaged."""
    try:
        stored: dict[str, Any] = json.loads(drawn_path(folder, result, rep).read_bytes())
        stills, times = stored["stills"], stored["times"]
        return Drawn(
            made_by=stored["made_by"],
            clip_bytes=stored["clip_bytes"],
            times=ClipTimes(
                start_s=times["start_s"],
                arrival_s=times["arrival_s"],
                slow_from_s=times["slow_from_s"],
                duration_s=times["duration_s"],
                frame_times_s=tuple(times["frame_times_s"]),
                film_times_s=tuple(times["film_times_s"]),
            ),
            stills=Stills(
                cells=tuple(Still(**each) for each in stills["cells"]),
                thumb=Still(**stills["thumb"]) if stills["thumb"] else None,
            ),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None
