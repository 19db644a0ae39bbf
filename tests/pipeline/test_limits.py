"""What work on a film may take."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from posecheck.pipeline.limits import duration_words, limit_s, quiet_s


def test_a_larger_film_may_take_longer(tmp_path: Path) -> None:
    small, large = tmp_path / "a.mp4", tmp_path / "b.mp4"
    small.touch()
    with large.open("wb") as file:
        os.truncate(file.fileno(), 50_000_000)
    assert limit_s(tmp_path / "gone.mp4") == limit_s(small) == 300.0
    assert limit_s(large) == 300.0 + 50 * 60.0


def test_a_stuck_film_is_given_up_long_before_its_limit(tmp_path: Path) -> None:
    film = tmp_path / "a.mp4"
    with film.open("wb") as file:
        os.truncate(file.fileno(), 4_000_000_000)
    assert limit_s(film) > 60 * 3600
    assert 600 <= quiet_s(film) < 30 * 60
    assert quiet_s(tmp_path / "gone.mp4") == 600


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (1.0, "1 second"),
        (40.4, "40 seconds"),
        (300.0, "5 minutes"),
        (5340.0, "89 minutes"),
        (7200.0, "2 hours"),
    ],
)
def test_durations_as_people_say_them(seconds: float, words: str) -> None:
    assert duration_words(seconds) == words
