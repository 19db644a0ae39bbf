"""The focal length that a phone writes into its film."""

from __future__ import annotations

from pathlib import Path

import pytest
from films import write_film

from posecheck.video.clip import open_clip
from posecheck.video.lens_tag import tagged_focal_35mm

KEY = "com.apple.quicktime.camera.focal_length.35mm_equivalent"


@pytest.mark.parametrize("text", ["26", "26.00mm", " 26 mm "])
def test_a_tag_is_read_from_the_film(tmp_path: Path, text: str) -> None:
    """As Apple documents it, "50.00mm", and as phones have been seen to write it, 26."""
    clip = open_clip(write_film(tmp_path / "a.mov", tags={KEY: text}))
    assert clip.focal_35mm == 26


def test_film_without_a_tag(tmp_path: Path) -> None:
    assert open_clip(write_film(tmp_path / "a.mp4")).focal_35mm is None


@pytest.mark.parametrize(
    "tags",
    [
        {KEY: "wide"},
        {KEY: "0"},
        {KEY: "26 to 77"},
        # The lens itself, which says nothing without the size of the sensor.
        {"com.apple.quicktime.camera.lens_model": "back camera 6.765mm f/1.78"},
    ],
)
def test_what_is_no_focal_length(tags: dict[str, str]) -> None:
    assert tagged_focal_35mm(tags) is None
