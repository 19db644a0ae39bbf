"""Small films with known content, so that opening clips is tested without any sample."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path

import numpy as np

MATRIX_16_16_2_30 = {
    # Display matrix of an MP4 track for a clockwise turn, rows a b u, c d v, x y w: ISO/IEC
    # 14496-12, track header box; a, b, c, d as 16.16 fixed point and w as 2.30 (from memory).
    0: (1, 0, 0, 1),
    90: (0, 1, -1, 0),
    180: (-1, 0, 0, -1),
    270: (0, -1, 1, 0),
}


def marked_picture(index: int, width: int, height: int) -> np.ndarray:
    """Grey, lighter with each ``index`` up to 49; red top left and blue bottom right quarter."""
    picture = np.full((height, width, 3), 40 + 4 * (index % 50), np.uint8)
    picture[: height // 2, : width // 2] = (220, 30, 30)
    picture[height // 2 :, width // 2 :] = (30, 30, 220)
    return picture


def write_film(
    path: Path,
    times_ms: Iterable[int] = range(0, 1000, 40),
    size: tuple[int, int] = (128, 96),
    codec: str = "libx264",
    pix_fmt: str = "yuv420p",
    rotation_deg: int = 0,
    container_format: str | None = None,
    tags: Mapping[str, str] | None = None,
    pixel_shape: Fraction | None = None,
    options: Mapping[str, str] | None = None,
) -> Path:
    """Write :func:`marked_picture` at the given times; ``rotation_deg`` is clockwise, MP4 only.

    ``tags`` are the whole file's, of any key; MOV and MP4 only. ``pixel_shape`` is the width of a
    pixel over its height. ``options`` are the encoder's, in place of those usual here.
    """
    import av

    flags = {"movflags": "use_metadata_tags"} if tags else {}
    with av.open(f"file:{path}", "w", format=container_format, options=flags) as container:
        container.metadata.update(tags or {})
        stream = container.add_stream(codec, rate=1000)
        stream.width, stream.height = size
        stream.pix_fmt = pix_fmt
        stream.time_base = stream.codec_context.time_base = Fraction(1, 1000)
        if codec == "libx264":
            stream.options = {"crf": "10", "preset": "ultrafast"}
        if options is not None:
            stream.options = dict(options)
        if pixel_shape is not None:
            stream.codec_context.sample_aspect_ratio = pixel_shape
        for index, time_ms in enumerate(times_ms):
            frame = av.VideoFrame.from_ndarray(marked_picture(index, *size), format="rgb24")
            frame.pts, frame.time_base = time_ms, Fraction(1, 1000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    if rotation_deg:
        turn(path, rotation_deg)
    return path


def turn(path: Path, rotation_deg: int) -> None:
    """Write a clockwise turn into the track header of an MP4, as a phone held upright does."""
    data = bytearray(path.read_bytes())
    header = data.index(b"tkhd")
    a, b, c, d = MATRIX_16_16_2_30[rotation_deg]
    values = [a << 16, b << 16, 0, c << 16, d << 16, 0, 0, 0, 1 << 30]
    # type 4, version and flags 4, times and ids 20, reserved 8, layer to reserved 8
    start = header + 44
    data[start : start + 36] = b"".join(value.to_bytes(4, "big", signed=True) for value in values)
    path.write_bytes(data)


def write_sound(path: Path) -> Path:
    """Half a second of silence without a picture."""
    import av

    with av.open(f"file:{path}", "w") as container:
        stream = container.add_stream("aac", rate=44100)
        for index in range(20):
            frame = av.AudioFrame.from_ndarray(
                np.zeros((1, 1024), np.float32), format="fltp", layout="mono"
            )
            frame.sample_rate, frame.pts = 44100, 1024 * index
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def spoil(path: Path, first: float, last: float) -> None:
    """Put noughts in place of a part of a film's pictures, given as shares of their bytes."""
    data = bytearray(path.read_bytes())
    begin = data.index(b"mdat") + 4
    length = data.index(b"moov") - begin
    for at in range(begin + int(first * length), begin + int(last * length)):
        data[at] = 0
    path.write_bytes(data)
