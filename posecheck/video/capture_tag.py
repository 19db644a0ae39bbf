"""How many pictures a second the phone took, where it wrote that into its film.

Android writes ``com.android.capture.fps`` (platform sources, MediaRecorder.setCaptureRate: the rate
at which frames are captured, whatever the rate at which the file plays). From memory; films of
phones that write no such tag do not say that they are slow.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from posecheck.video.tuning import CAPTURE_HZ_RANGE, LEAST_TAGGED_SLOW

_KEY = "com.android.capture.fps"


def tagged_slow_motion(tags: Mapping[str, str], played_hz: float) -> float | None:
    """How many times slower than life a film plays.

    Args:
        tags: of file and track, by key.
        played_hz: pictures a second at which it plays.

    Returns:
        None when no tag says so, or what it says is ordinary: a little over the rate at which the
        film plays is what a phone does that films in little light.
    """
    for key, value in tags.items():
        number = re.match(r"\s*(\d+(?:\.\d+)?)\s*$", value)
        if key.lower() == _KEY and number:
            captured_hz = float(number[1])
            times = captured_hz / played_hz
            if CAPTURE_HZ_RANGE[0] <= captured_hz <= CAPTURE_HZ_RANGE[1]:
                return round(times, 1) if times >= LEAST_TAGGED_SLOW else None
    return None
