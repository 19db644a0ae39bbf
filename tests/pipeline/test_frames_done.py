"""How many frames a worker has gone through."""

from __future__ import annotations

from pathlib import Path

import pytest
from films import write_film

from posecheck.pipeline import frames_done as counting
from posecheck.pipeline.frames_done import counting_frames, frames_done
from posecheck.video.clip import open_clip


def test_frames_are_counted_while_they_are_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(counting, "TICK_S", 0.0)
    clip = open_clip(write_film(tmp_path / "a.mp4", range(0, 3000, 100)))
    place = tmp_path / "frames"
    assert frames_done(place) == 0
    seen = []
    with counting_frames(place):
        assert frames_done(place) == 0
        for _ in clip.frames():
            seen.append(frames_done(place))
    assert len(seen) == clip.n_frames
    assert seen == list(range(1, clip.n_frames + 1))
    with counting_frames(place):
        assert frames_done(place) == 0
