"""Films for the benchmark, made from a clip: of another size and rate, or as long as is wanted."""

from __future__ import annotations

import re
from enum import StrEnum
from fractions import Fraction
from pathlib import Path

from posecheck.scoring.tuning import BENCHMARK_QUALITY


class Form(StrEnum):
    """How phones film: the picture's shorter side and frames a second."""

    FULL_HD_30 = "1080p30"
    FULL_HD_60 = "1080p60"
    UHD_60 = "4k60"
    SLOW_MOTION = "1080p240"

    @property
    def shorter_px(self) -> int:
        """Pixels of the picture's shorter side."""
        return 2160 if self is Form.UHD_60 else 1080

    @property
    def rate_hz(self) -> int:
        """Frames a second."""
        return int(re.split("[pk]", self)[1])


def made_as(form: Form, path: Path, into: Path) -> Path:
    """Encode a clip again in another form; where it had fewer frames they are shown repeatedly.

    Args:
        form: size and rate of the new film.
        path: the clip.
        into: folder of the new film, which keeps the clip's name.

    Raises:
        UnreadableClip: it cannot be read.
    """
    import av

    from posecheck.video.clip import open_clip

    clip = open_clip(path)
    scale = form.shorter_px / min(clip.width_px, clip.height_px)
    width, height = (2 * round(side * scale / 2) for side in (clip.width_px, clip.height_px))
    target = into / f"{path.stem}.mp4"
    with av.open(str(target), "w") as film:
        stream = film.add_stream("libx264", rate=form.rate_hz)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.options = {"preset": "ultrafast", "crf": str(BENCHMARK_QUALITY)}
        number = 0
        for frame in clip.frames():
            picture = av.VideoFrame.from_ndarray(frame.rgb, format="rgb24")
            picture = picture.reformat(width=width, height=height, format="yuv420p")
            until_s = frame.t_s + 1 / clip.rate_hz
            while number / form.rate_hz < until_s - 1e-6:
                picture.pts, picture.time_base = number, Fraction(1, form.rate_hz)
                film.mux(stream.encode(picture))
                number += 1
        film.mux(stream.encode(None))
    return target


def repeated(path: Path, length_s: float, into: Path) -> Path:
    """A clip over and over until it is at least as long as wanted, its pictures not encoded again.

    Args:
        path: the clip.
        length_s: seconds.
        into: folder of the new film.
    """
    import av

    target = into / f"{path.stem}-{length_s:.0f}s.mp4"
    with av.open(str(target), "w") as film:
        stream, begin_s = None, 0.0
        while begin_s < length_s:
            with av.open(str(path)) as clip:
                source = clip.streams.video[0]
                stream = stream or film.add_stream_from_template(source)
                base = source.time_base or Fraction(1)
                shift, end = round(begin_s / base), 0
                for packet in clip.demux(source):
                    if packet.dts is None or packet.pts is None:
                        continue  # the last one, which is empty
                    end = max(end, packet.pts + (packet.duration or 0))
                    packet.pts, packet.dts = packet.pts + shift, packet.dts + shift
                    packet.stream = stream
                    film.mux(packet)
                begin_s += float(end * base)
    return target
