"""The sound of a clip, on the clock of its frames."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from posecheck.errors import UnreadableClip
from posecheck.maths.arrays import FloatArray
from posecheck.video.decoding import opened
from posecheck.video.tuning import SOUND_RATE_HZ

if TYPE_CHECKING:
    import av


@dataclass(frozen=True)
class Sound:
    """The sound of a clip.

    Attributes:
        samples: ``(n,)`` one channel, full scale is 1.
        rate_hz: samples a second.
        start_s: when the first one was heard, in seconds of clip time: 0 is the clip's first frame.
    """

    samples: FloatArray
    rate_hz: int
    start_s: float


def read_sound(path: Path) -> Sound | None:
    """The sound of a clip at a low rate, None where there is none that can be decoded."""
    import av
    import av.error

    parts: list[FloatArray] = []
    sound_start_s = picture_start_s = None
    try:
        with opened(path) as container:
            if not container.streams.audio:
                return None
            for picture in container.decode(video=0):
                picture_start_s = picture.time
                if picture_start_s is not None:
                    break
            container.seek(0)
            to_mono = av.AudioResampler(format="flt", layout="mono", rate=SOUND_RATE_HZ)
            for heard in container.decode(audio=0):
                if sound_start_s is None:
                    sound_start_s = heard.time
                parts += [_values(each) for each in to_mono.resample(heard)]
            parts += [_values(each) for each in to_mono.resample(None)]
    except (UnreadableClip, av.error.FFmpegError, OSError):
        return None
    if not parts or sound_start_s is None or picture_start_s is None:
        return None
    return Sound(np.concatenate(parts), SOUND_RATE_HZ, sound_start_s - picture_start_s)


def _values(heard: av.AudioFrame) -> FloatArray:
    return np.asarray(heard.to_ndarray(), dtype=np.float64).ravel()
