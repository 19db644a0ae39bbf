"""Single pictures of a film: which one, how large, which way up."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from films import marked_picture, write_film, write_sound

from posecheck.errors import UnreadableClip
from posecheck.video.seeking import pictures_at

EVERY_MS = 40


def level(picture: np.ndarray) -> float:
    """Which of the marked pictures this is: its grey part is lighter each time."""
    quarter = picture[4 : picture.shape[0] // 2 - 4, picture.shape[1] // 2 + 4 : -4]
    return (float(quarter.mean()) - 40) / 4


@pytest.fixture
def film(tmp_path: Path) -> Path:
    return write_film(tmp_path / "film.mp4", range(0, 2000, EVERY_MS))


def test_the_picture_on_show_at_a_moment_is_given(film: Path) -> None:
    # In any order; a picture is on show until the next one.
    moments = [1.0, 0.0, 0.079, 0.081, 1.999]
    levels = [level(each) for each in pictures_at(film, moments, (128, 96))]
    assert levels == pytest.approx([25, 0, 1, 2, 49], abs=0.4)


def test_beyond_its_ends_a_film_shows_its_ends(film: Path) -> None:
    levels = [level(each) for each in pictures_at(film, [-3.0, 60.0], (128, 96))]
    assert levels == pytest.approx([0, 49], abs=0.4)


def test_key_frames_are_enough_for_a_glance(tmp_path: Path) -> None:
    # x264 puts the key frames of so short a film at its beginning alone.
    film = write_film(tmp_path / "film.mp4", range(0, 2000, EVERY_MS))
    given = pictures_at(film, [0.5, 1.9], (128, 96), key_frames=True)
    assert [level(each) for each in given] == pytest.approx([0, 0], abs=0.4)


@pytest.mark.parametrize("turned", [0, 90, 180, 270])
def test_pictures_are_small_and_upright(tmp_path: Path, turned: int) -> None:
    film = write_film(tmp_path / "film.mp4", size=(256, 128), rotation_deg=turned)
    (picture,) = pictures_at(film, [0.0], (64, 64))
    upright = np.rot90(marked_picture(0, 256, 128), k=-turned // 90)
    assert picture.shape == ((64, 32, 3) if turned % 180 else (32, 64, 3))
    assert np.abs(picture[5, 5].astype(int) - upright[20, 20]).max() < 30
    assert np.abs(picture[-5, -5].astype(int) - upright[-20, -20]).max() < 30


def test_small_pictures_are_not_enlarged(film: Path) -> None:
    (picture,) = pictures_at(film, [0.0], (1920, 1080))
    assert picture.shape == (96, 128, 3)


def test_what_is_no_film_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnreadableClip, match="sound but no picture"):
        list(pictures_at(write_sound(tmp_path / "sound.mp4"), [0.0], (64, 64)))
    with pytest.raises(UnreadableClip, match="not a video"):
        list(pictures_at(tmp_path / "none.mp4", [0.0], (64, 64)))
