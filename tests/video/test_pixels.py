"""Parts of a frame in RGB, against the whole frame in RGB."""

from __future__ import annotations

import av
import numpy as np
import pytest

from posecheck.maths.arrays import Image
from posecheck.video.pixels import FilmPixels, turned


def picture(form: str, width: int = 96, height: int = 64) -> av.VideoFrame:
    """A frame of noise."""
    noise = np.random.default_rng(0).integers(0, 256, (height, width, 3), dtype=np.uint8)
    return av.VideoFrame.from_ndarray(noise, format="rgb24").reformat(format=form)


@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270])
@pytest.mark.parametrize("form", ["yuv420p", "yuvj420p", "yuv420p10le", "yuv444p", "rgb24"])
def test_part_is_what_the_whole_shows_there(form: str, rotation_deg: int) -> None:
    frame = picture(form)
    whole = turned(frame.to_ndarray(format="rgb24"), rotation_deg)
    pixels = FilmPixels(frame, rotation_deg)
    assert pixels.shape == whole.shape
    for rows, columns in (
        (slice(11, 42), slice(7, 50)),
        (slice(0, 64), slice(12, 13)),
        (slice(20, 20), slice(0, 5)),
        (slice(None), slice(None)),
        (slice(5, 60), slice(2, 61)),  # once the whole is there, of it
    ):
        part: Image = pixels[rows, columns]
        assert np.array_equal(part, whole[rows, columns])


def test_part_of_a_frame_of_odd_size() -> None:
    frame = picture("yuv420p", 95, 63)
    whole = frame.to_ndarray(format="rgb24")
    assert np.array_equal(FilmPixels(frame, 0)[40:63, 61:95], whole[40:63, 61:95])


def test_parts_of_frames_of_several_colour_spaces_one_after_another() -> None:
    """What was set up for one of them is not used for the next."""
    for _ in range(2):
        for space, spread in (("ITU709", "MPEG"), ("ITU601", "MPEG"), ("ITU709", "JPEG")):
            frame = picture("yuv420p", 320, 240)
            frame.colorspace = av.video.reformatter.Colorspace[space]
            frame.color_range = av.video.reformatter.ColorRange[spread]
            part = FilmPixels(frame, 0)[31:150, 90:221]
            assert np.array_equal(part, frame.to_ndarray(format="rgb24")[31:150, 90:221])
