"""How many frames a worker has gone through."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from films import write_film

from posecheck.pipeline import frames_done as counting
from posecheck.pipeline.frames_done import counting_frames, frames_done, written_at
from posecheck.video.clip import open_clip
from posecheck.video.film import glances
from posecheck.video.seeking import pictures_at


def test_frames_are_counted_while_they_are_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(counting, "TICK_S", 0.0)
    clip = open_clip(write_film(tmp_path / "a.mp4", range(0, 3000, 100)))
    place = tmp_path / "frames"
    assert frames_done(place) == 0
    seen = []
    with written_at(place) as write, counting_frames(write):
        assert frames_done(place) == 0
        for _ in clip.frames():
            seen.append(frames_done(place))
    assert len(seen) == clip.n_frames
    assert seen == list(range(1, clip.n_frames + 1))
    with written_at(place):
        assert frames_done(place) == 0


def opened_without_trust(film: Path) -> int:
    """As a damaged film is opened: by decoding all of it."""
    return open_clip(film).n_frames


def scanned(film: Path) -> int:
    return sum(1 for _ in glances(film, 320, 64, 0.1))


def on_a_strip(film: Path) -> int:
    return sum(1 for _ in pictures_at(film, [0.0, 1.0, 2.0], (80, 60)))


@pytest.mark.parametrize("way", [opened_without_trust, scanned, on_a_strip])
def test_whatever_decodes_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: Callable[[Path], int]
) -> None:
    """Or a worker that goes through a long film that way would be taken for stuck."""
    monkeypatch.setattr(counting, "TICK_S", 0.0)
    film = write_film(tmp_path / "a.mp4", range(0, 3000, 100))
    counts: list[int] = []
    with counting_frames(counts.append):
        frames = way(film)
    assert frames > 2
    assert frames <= len(counts) <= frames + 1  # to learn that there are no more is one
