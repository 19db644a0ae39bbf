"""A part of a film as a film of its own, copied without decoding it: the same pictures and sound.

A copy must begin with a key frame, a stretch need not: what lies between the two is in the file,
and its edit list tells players and decoders to leave it out. So the first picture of the part is
the film's picture at its start, wherever the film's key frames are, and every picture keeps its
time less that of the first. The bytes depend on film and stretch alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from posecheck.errors import UnreadableClip
from posecheck.files.whole_file import whole_file
from posecheck.video.decoding import opened
from posecheck.video.tuning import OUT_OF_ORDER_PACKETS, SEEK_BACK_S

if TYPE_CHECKING:
    import av.container

_MP4_PICTURES = frozenset({"h264", "hevc", "av1", "vp9", "mpeg4"})
_MP4_SOUND = frozenset({"aac", "mp3", "alac", "ac3", "eac3", "opus", "flac"})


@dataclass(frozen=True)
class _Extent:
    """Which packets of the picture a part is made of, in ticks of their stream.

    Attributes:
        seek: where to seek to; the first key frame read after that is the part's first packet.
        pts: presentation time of each packet, in the order in which they are stored.
        first: presentation time of the first picture shown.
        after: presentation time from which on nothing is in it.
    """

    seek: int
    pts: tuple[int, ...]
    first: int
    after: int

    @property
    def dts(self) -> list[int]:
        """When each packet is decoded, in order, none after it is shown; some files do not say."""
        in_order = sorted(self.pts)
        late = max(one - other for one, other in zip(in_order, self.pts, strict=True))
        return [each - late for each in in_order]


def suffix_of_parts(film: Path) -> str:
    """The file name ending of a film's parts: ``.mp4``, or ``.mkv`` where an MP4 cannot hold them.

    Raises:
        UnreadableClip: this is no film.
    """
    with opened(film) as container:
        in_mp4 = container.streams.video[0].codec_context.name in _MP4_PICTURES
    return ".mp4" if in_mp4 else ".mkv"


def copy_part(film: Path, from_s: float, to_s: float, part: Path) -> tuple[float, float]:
    """Write a stretch of a film as a file.

    Its first picture is the film's first one from ``from_s`` on; in a Matroska file, which has no
    edit list, it is the key frame before. Its last one is the last before ``to_s``, or one of the
    next few where pictures are not stored in the order in which they are shown.

    Args:
        film: the file.
        from_s, to_s: start and end, seconds of the film as it plays, 0 at its first picture.
        part: the file to write, with the ending that :func:`suffix_of_parts` gives.

    Returns:
        When the part begins and ends, seconds of the film.

    Raises:
        UnreadableClip: the film cannot be read there.
        RecordError: the part cannot be written.
    """
    import av.error

    try:
        with whole_file(part) as unfinished, opened(film) as container:
            return _copy(container, from_s, to_s, unfinished, as_mp4=part.suffix == ".mp4")
    except (av.error.FFmpegError, _NothingThere):
        raise UnreadableClip(
            film,
            f"the stretch from {from_s:.1f} to {to_s:.1f} s cannot be copied out of it",
            "copy it from the phone again, or export it as an ordinary MP4",
        ) from None


class _NothingThere(Exception):
    """No picture is stored in the stretch, or none with a time."""


def _copy(
    container: av.container.InputContainer, from_s: float, to_s: float, part: Path, *, as_mp4: bool
) -> tuple[float, float]:
    import av

    picture = container.streams.video[0]
    base = picture.time_base
    assert base is not None  # of every stream that is read
    zero = _first_shown(container, picture)
    ticks = [zero + round(moment / float(base)) for moment in (from_s, to_s)]
    extent = _extent(container, picture, *ticks, hides=as_mp4)
    sound = next((s for s in container.streams.audio if _fits(s, as_mp4)), None)
    # "+bitexact": the file does not name the version of the library that wrote it.
    options = {"fflags": "+bitexact"}
    if as_mp4:
        options |= {"movflags": "use_metadata_tags+faststart", "avoid_negative_ts": "disabled"}
    form = "mp4" if as_mp4 else "matroska"
    with av.open(f"file:{part}", "w", format=form, options=options) as out:
        # What a phone says of its lens may stand with the track that the camera made; an MP4 keeps
        # it with the file.
        out.metadata.update({**picture.metadata, **container.metadata})
        copied = {each.index: _begun(out, each) for each in (picture, sound) if each is not None}
        for packet in _packets(container, picture, sound, extent):
            shift = round(extent.first * base / packet.time_base)
            packet.pts -= shift
            packet.dts -= shift
            packet.stream = copied[packet.stream.index]
            out.mux(packet)
    return float((extent.first - zero) * base), float((extent.after - zero) * base)


def _fits(sound: Any, as_mp4: bool) -> bool:
    return not as_mp4 or sound.codec_context.name in _MP4_SOUND


def _begun(out: av.container.OutputContainer, like: Any) -> Any:
    stream = out.add_stream_from_template(like)
    stream.time_base = like.time_base
    if like.type == "video" and like.codec_context.name == "hevc" and out.format.name == "mp4":
        stream.codec_context.codec_tag = "hvc1"  # the kind of HEVC that every player takes
    return stream


def _first_shown(container: av.container.InputContainer, picture: Any) -> int:
    """Presentation time of the film's first picture."""
    for frame in container.decode(picture):
        if frame.pts is not None:
            return int(frame.pts)
    raise _NothingThere


def _extent(
    container: av.container.InputContainer, picture: Any, from_pts: int, to_pts: int, *, hides: bool
) -> _Extent:
    """Which packets hold the pictures shown within ``[from_pts, to_pts)``.

    Args:
        container: the film.
        picture: its stream.
        from_pts, to_pts: the stretch.
        hides: whether pictures before the stretch can be hidden; else they are a part of it.
    """
    for back_s in SEEK_BACK_S:
        seek = from_pts - round(back_s / picture.time_base)
        times: list[int] = []
        n_wanted = 0
        for packet in _from_key(container, picture, None, seek):
            if not times and packet.pts > from_pts:
                break  # this key frame is too late
            times.append(int(packet.pts))
            if packet.pts < to_pts:
                n_wanted = len(times)
            elif len(times) - n_wanted > OUT_OF_ORDER_PACKETS:
                break
        taken = times[: _whole(times, n_wanted)]
        shown = sorted(pts for pts in taken if pts >= (from_pts if hides else taken[0]))
        if shown:
            step = shown[-1] - shown[-2] if len(shown) > 1 else 1
            return _Extent(seek, tuple(taken), shown[0], shown[-1] + step)
    raise _NothingThere


def _whole(times: list[int], n: int) -> int:
    """How many packets to take, ``n`` at least, so that no later one is shown among them."""
    while n and any(pts < max(times[:n]) for pts in times[n:]):
        n += 1
    return n


def _from_key(
    container: av.container.InputContainer, picture: Any, sound: Any, seek: int
) -> Iterator[Any]:
    """Packets with a time, in the order in which they are stored; pictures from the first key
    frame on."""
    container.seek(seek, stream=picture, backward=True)
    begun = False
    for packet in container.demux([picture] if sound is None else [picture, sound]):
        if packet.pts is None:
            if packet.size:
                raise _NothingThere
            continue
        is_picture = packet.stream.index == picture.index
        begun = begun or (is_picture and packet.is_keyframe)
        if begun or not is_picture:
            yield packet


def _packets(
    container: av.container.InputContainer, picture: Any, sound: Any, extent: _Extent
) -> Iterator[Any]:
    """The packets of a part, its sound too."""
    first_s, after_s = (float(at * picture.time_base) for at in (extent.first, extent.after))
    dts = iter(extent.dts)
    n_left = len(extent.pts)
    for packet in _from_key(container, picture, sound, extent.seek):
        if packet.stream.index == picture.index:
            if n_left > 0:
                packet.dts = next(dts)
                yield packet
            n_left -= 1
        else:
            at_s = float(packet.pts * packet.time_base)
            if first_s < at_s + float((packet.duration or 0) * packet.time_base) < after_s:
                yield packet
            elif at_s > after_s and n_left <= 0:
                return
        # Sound may be stored a little after the picture it is heard with.
        if n_left <= 0 and (sound is None or n_left < -OUT_OF_ORDER_PACKETS):
            return
