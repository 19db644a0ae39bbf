"""Draw a rep in one pass over its film: the annotated clip and the small pictures."""

from __future__ import annotations

from functools import cache, partial
from pathlib import Path
from typing import BinaryIO

from posecheck.files.digest import facts_digest
from posecheck.files.names import CLIPS_FOLDER
from posecheck.files.whole_file import write_whole
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.annotated import annotated_name, write_annotated_clip
from posecheck.pages.still_pictures import still_pictures
from posecheck.pages.stills import Drawn, Still, Stills, still_name, write_drawn
from posecheck.pipeline.fingerprint import sources_of
from posecheck.video.clip import Clip


def draw_rep(
    clip: Clip, result: ClipResult, rep: RepResult, folder: Path, *, whole: bool = False
) -> None:
    """Draw a rep's annotated clip and small pictures into an output folder.

    Each file appears whole; the one that names them all is written last, so that what was cut
    short is drawn again by the next run.

    Args:
        clip: the film.
        result: of the clip.
        rep: of the result.
        folder: of the results.
        whole: the annotated clip shows the whole picture instead of following the players.

    Raises:
        UnreadableClip: the clip has changed or vanished, or has no frame within the rep.
        RecordError: the folder cannot be written to.
    """
    small = still_pictures(clip, rep)
    path = folder / CLIPS_FOLDER / annotated_name(result, rep)
    times = write_annotated_clip(clip, rep, path, small.see, whole=whole)
    stills = {}
    for each in small.wanted:
        jpeg = small.jpegs[each.which]
        name = still_name(result, rep, f"-{each.which}")
        write_whole(folder / name, partial(_write, jpeg))
        stills[each.which] = Still(name, each.offset_s, each.cut.width_px, each.cut.height_px)
    thumb = stills.pop("thumb")
    drawn = Drawn(
        made_by=made_by(whole),
        clip_bytes=path.stat().st_size,
        times=times,
        stills=Stills(tuple(stills.values()), thumb),
    )
    write_drawn(folder, result, rep, drawn)


@cache
def made_by(whole: bool) -> str:
    """Digest of code and settings that draw.

    What others drew is drawn again when the film is there.
    """
    code = sources_of(__name__).fingerprint()
    return facts_digest({"code": code, "whole_picture": whole})


def _write(data: bytes, file: BinaryIO) -> None:
    file.write(data)
