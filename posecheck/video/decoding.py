"""Open a film's file and decode it, past damage where the decoder can.

A broken picture spoils those that are built on it, up to the next key frame. Some decoders conceal
that with what was there before, which looks like film and is none, so none of them is delivered.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from posecheck.errors import UnreadableClip
from posecheck.files.digest import refuse_what_is_no_file

if TYPE_CHECKING:
    import av.container


@contextmanager
def opened(path: Path) -> Iterator[av.container.InputContainer]:
    """The container of a film's file, for the block.

    Raises:
        UnreadableClip: not a video, or no picture in it.
    """
    import av
    import av.error

    try:
        refuse_what_is_no_file(path)
        # "file:" because a name may hold a colon; nothing but files because a playlist with a
        # clip's name must not reach a network. Tags may be in any encoding.
        container = av.open(
            f"file:{path}", options={"protocol_whitelist": "file"}, metadata_errors="replace"
        )
    except (av.error.FFmpegError, OSError):
        raise UnreadableClip(
            path, "this is not a video, or it is damaged", "copy it from the phone again"
        ) from None
    with container:
        if not container.streams.video:
            raise UnreadableClip(path, "there is sound but no picture in it", "film it again")
        yield container


def pictures(container: av.container.InputContainer) -> Iterator[tuple[Any, bool]]:
    """The pictures that decode whole, in the order in which they are shown.

    Yields:
        A picture, and whether others just before it are lost to damage.
    """
    import av.error

    stream = container.streams.video[0]
    # Frames are decoded ahead on a thread; more of FFmpeg's own would hold a frame each, and take
    # the cores that other workers measure on.
    stream.codec_context.thread_count = 1
    spoilt = lost = False
    for packet in _packets(container):
        try:
            decoded = packet.decode() if packet is not None else stream.decode(None)
        except av.error.FFmpegError:
            spoilt = lost = True
            continue
        for picture in decoded:
            if picture.is_corrupt:
                spoilt = lost = True
                continue
            spoilt = spoilt and not picture.key_frame
            if not spoilt:
                yield picture, lost
                lost = False


def _packets(container: av.container.InputContainer) -> Iterator[Any]:
    """Packets to the end, past damage between them; None last where the end was not reached."""
    import av.error

    stream = container.streams.video[0]
    goes_on = True
    while goes_on:
        goes_on = False
        try:
            for packet in container.demux(stream):
                goes_on = packet.size > 0
                yield packet
            return
        except av.error.FFmpegError:
            continue  # on to what follows, unless nothing was read since the last damage
    yield None


def time_s(picture: Any) -> float | None:
    """When a picture is shown, seconds of the file's clock, None when the file does not say.

    Some containers, AVI for one, give the times at which pictures are to be decoded alone; in the
    order in which pictures are shown these times are as good.
    """
    stamp = picture.dts if picture.pts is None else picture.pts
    return None if stamp is None else float(stamp * picture.time_base)


def stated_length_s(container: av.container.InputContainer) -> float | None:
    """How long the pictures go on as the file says; its sound may go on longer."""
    import av

    stream = container.streams.video[0]
    if container.format.name == "avi" and stream.frames and stream.average_rate:
        # The decoder shortens what the file says to what is left of it.
        return float(stream.frames / stream.average_rate)
    stated = []
    if stream.duration is not None and stream.time_base is not None:
        stated.append(float(stream.duration * stream.time_base))
    if container.duration is not None:
        stated.append(container.duration / av.time_base)
    return min(stated, default=None)
