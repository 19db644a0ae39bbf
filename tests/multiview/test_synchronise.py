"""Clocks of two films, from movement and from sound."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest
from films import marked_picture, write_film
from two_phones import RATE_HZ, claps, corner, film, sideline

from posecheck.multiview.synchronise import shift_by_sound, shifts_by_movement
from posecheck.multiview.tuning import MOVEMENT_SD_S
from posecheck.video.sound import Sound, read_sound


@pytest.mark.parametrize("later_s", [0.0, 0.217, -0.6])
def test_movement_shows_the_shift(later_s: float) -> None:
    first = film(sideline(), seed=1)
    other = film(corner(), later_s, first_s=0.3 + later_s, last_s=3.4 + later_s, seed=2)
    best = shifts_by_movement(first, other)[0]
    # Where the fit of the cameras begins; MOVEMENT_SD_S is what it takes the shift to be good to.
    assert best.later_s == pytest.approx(later_s, abs=MOVEMENT_SD_S)
    assert best.likeness > 0.5


def test_films_that_hardly_overlap_have_no_shift() -> None:
    first, other = film(sideline(), last_s=0.9), film(corner(), first_s=2.6, last_s=3.2)
    assert shifts_by_movement(first, other) == []


def test_a_clap_shows_the_shift() -> None:
    first = Sound(claps([1.0], 0.5, 1), RATE_HZ, 0.0)
    # The other phone hears it ten times fainter, 0.437 s later by its clock.
    other = Sound(claps([1.387], 0.05, 2), RATE_HZ, 0.05)
    heard = shift_by_sound(first, other)
    assert heard is not None
    assert heard.later_s == pytest.approx(0.437, abs=0.004)


def test_noise_alone_shows_nothing() -> None:
    first, other = (Sound(claps([], 0.5, seed), RATE_HZ, 0.0) for seed in (3, 4))
    assert shift_by_sound(first, other) is None
    assert shift_by_sound(first, None) is None


def test_even_claps_do_not_show_which_is_which() -> None:
    first = Sound(claps([0.5, 1.0, 1.5, 2.0, 2.5], 0.5, 5), RATE_HZ, 0.0)
    other = Sound(claps([0.5, 1.0, 1.5, 2.0, 2.5, 3.0], 0.5, 6), RATE_HZ, 0.0)
    assert shift_by_sound(first, other) is None


def test_sound_is_on_the_clock_of_the_pictures(tmp_path: Path) -> None:
    path = tmp_path / "clap.mp4"
    sound = claps([0.8], 0.5, 7, long_s=2.0).astype(np.float32)
    with av.open(str(path), "w") as container:
        pictures = container.add_stream("libx264", rate=25)
        pictures.width, pictures.height, pictures.pix_fmt = 128, 96, "yuv420p"
        heard = container.add_stream("aac", rate=RATE_HZ)
        for index in range(50):
            picture = av.VideoFrame.from_ndarray(marked_picture(index, 128, 96), format="rgb24")
            container.mux(pictures.encode(picture))
        container.mux(pictures.encode(None))
        for start in range(0, len(sound) - 1024, 1024):
            part = av.AudioFrame.from_ndarray(
                sound[None, start : start + 1024], format="fltp", layout="mono"
            )
            part.sample_rate, part.pts = RATE_HZ, start
            container.mux(heard.encode(part))
        container.mux(heard.encode(None))
    found = read_sound(path)
    assert found is not None
    loudest_s = found.start_s + np.argmax(np.abs(found.samples)) / found.rate_hz
    assert loudest_s == pytest.approx(0.8, abs=0.01)


def test_a_silent_film_has_no_sound(tmp_path: Path) -> None:
    assert read_sound(write_film(tmp_path / "silent.mp4")) is None
