"""Slow motion that the phone itself wrote into its film."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from films import write_film

from posecheck.video.capture_tag import tagged_slow_motion
from posecheck.video.clip import open_clip

KEY = "com.android.capture.fps"


def test_the_tag_is_believed_unless_the_coach_says_otherwise(tmp_path: Path) -> None:
    path = write_film(tmp_path / "a.mp4", range(0, 1600, 40), tags={KEY: "200.000000"})
    clip = open_clip(path)
    assert (clip.slow_motion, clip.slow_by_tag) == (8, True)
    assert np.diff(clip.t_s) == pytest.approx(1 / 200)
    stated = open_clip(path, slow_motion=1)
    assert (stated.slow_motion, stated.slow_by_tag) == (1, False)
    assert np.diff(stated.t_s) == pytest.approx(1 / 25)


@pytest.mark.parametrize(
    ("tags", "played_hz", "times"),
    [
        ({KEY: "240.000000"}, 30.0, 8.0),
        ({KEY: "240"}, 29.97, 8.0),
        ({KEY: "120"}, 24.0, 5.0),
        ({KEY: "960.5"}, 30.0, 32.0),
        # It plays at the rate at which it was taken, or nearly: little light.
        ({KEY: "240"}, 240.0, None),
        ({KEY: "30.0"}, 24.0, None),
        # Time lapse, nonsense, another key, no tag.
        ({KEY: "1.0"}, 30.0, None),
        ({KEY: "1e9"}, 30.0, None),
        ({KEY: "fast"}, 30.0, None),
        ({"com.example.capture.fps": "240"}, 30.0, None),
        ({}, 30.0, None),
    ],
)
def test_what_a_tag_says(tags: dict[str, str], played_hz: float, times: float | None) -> None:
    assert tagged_slow_motion(tags, played_hz) == times
