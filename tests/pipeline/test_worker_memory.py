"""How much memory a worker takes, on real film."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from posecheck.pipeline.limits import WORKER_BYTES
from posecheck.pipeline.tasks import Task
from posecheck.pipeline.workers import worker_processes

SAMPLE = Path(__file__).parents[2] / "sample_clips"


@dataclass(frozen=True)
class ReadsFilm(Task):
    """Finds, follows and reads the players of a clip on two threads; says how much memory its
    process has taken at most."""

    def run(self, reader: object) -> int | None:
        from posecheck.pipeline.read import open_reader, read_clip
        from posecheck.pipeline.settings import Settings
        from posecheck.practice.reading import read_practice
        from posecheck.scoring.worker_log import peak_bytes
        from posecheck.video.clip import open_clip
        from posecheck.video.kept_frames import KeptFrames

        settings = Settings(threads=2)
        with open_reader(settings) as readers:
            clip, frames = open_clip(self.path), KeptFrames()
            read_clip(clip, read_practice(self.path.parents[1]), settings, readers, frames)
        return peak_bytes()


def nothing() -> None:
    """No reader: the task opens its own."""


@pytest.mark.skipif(sys.platform != "linux", reason="of the C library's own memory")
def test_frames_that_come_and_go_leave_no_room_taken_behind_them() -> None:
    # Of 138 frames of 3 MB each, few are in memory at a time. Kept in a heap their room would stay
    # taken, some 300 MB of it.
    film = SAMPLE / "clips" / "rep-01.mp4"
    with worker_processes(1, nothing) as workers:
        ((_, peak),) = workers.outcomes(iter([ReadsFilm("rep-01", film, 300.0)]))
    assert isinstance(peak, int)
    assert peak < 0.75 * WORKER_BYTES
