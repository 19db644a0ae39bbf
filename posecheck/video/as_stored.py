"""When a film's pictures are shown as its packets say, without decoding them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from posecheck.errors import UnreadableClip


class NotAsStored(UnreadableClip):
    """A film decodes otherwise than its packets say; it is to be opened by decoding it."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, "its pictures are others than it says", "copy it from the phone")


def stored_times(container: Any) -> tuple[list[float], float] | None:
    """The time of every picture in the order shown, and how long the last one is; seconds.

    None where packets do not tell: only of an MP4 or MOV film, all of whose packets are sound and
    have a time of their own, is it known which pictures decoding will give. Pictures that an edit
    list leaves out are none.

    Args:
        container: PyAV's, open at its beginning; left at its end.
    """
    import av.error

    if "mp4" not in container.format.name.split(","):
        return None
    lasts, time_base = {}, container.streams.video[0].time_base
    try:
        for packet in container.demux(container.streams.video[0]):
            if not packet.size:
                continue  # the last one, which says that no more will come
            if packet.pts is None or packet.is_corrupt or packet.pts in lasts:
                return None
            if packet.is_discard:
                continue
            lasts[packet.pts] = packet.duration or 0
    except av.error.FFmpegError:
        return None
    if not lasts:
        return None
    return [float(stamp * time_base) for stamp in sorted(lasts)], float(
        lasts[max(lasts)] * time_base
    )
