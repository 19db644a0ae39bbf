"""What is drawn along with a check."""

from __future__ import annotations

from pathlib import Path

from factories import make_clip_result
from films import write_film
from rich.console import Console

from posecheck.cli.along import Along
from posecheck.files.digest import file_digest
from posecheck.judging.thresholds import Thresholds
from posecheck.practice.practice import Practice
from posecheck.store.record import Record


def test_nothing_is_drawn_on_a_clip_that_is_gone(tmp_path: Path) -> None:
    clip = write_film(tmp_path / "rep.mp4", range(0, 1000, 100))
    practice = Practice(tmp_path, "practice")
    with Record(tmp_path / "checked/record.sqlite", make=True) as record:
        record.save(practice, make_clip_result(clip, clip_digest=file_digest(clip)))
        along = Along(record, practice, Thresholds(), Console())
        assert along.next_task(last=True) is not None
        clip.unlink()
        along = Along(record, practice, Thresholds(), Console())
        assert along.next_task(last=True) is None
