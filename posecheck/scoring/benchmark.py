"""How long a check takes, against the plain method, on the same clips in one run.

The plain method runs the stock pose landmarker over every whole frame in one process, which finds
one player and measures nothing. A check follows everybody, reads two players and measures.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from posecheck.files.names import RECORD_FILE
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice
from posecheck.video.clip import open_clip


@dataclass(frozen=True)
class Timing:
    """Wall times of one benchmark run.

    Attributes:
        n_clips, n_frames, film_s: what was worked on.
        plain_s: the stock landmarker over every whole frame, one process.
        check_s: a check with one worker.
        check_two_s: a check with two workers.
    """

    n_clips: int
    n_frames: int
    film_s: float
    plain_s: float
    check_s: float
    check_two_s: float

    @property
    def against_plain(self) -> float:
        """Time of a check over time of the plain method; below 1 is faster."""
        return self.check_s / self.plain_s

    @property
    def gain_of_two(self) -> float:
        """Time with one worker over time with two."""
        return self.check_s / self.check_two_s


def run_benchmark(paths: Sequence[Path], practice: Practice, settings: Settings) -> Timing:
    """Time the plain method and checks with one and two workers, one after the other.

    Opening the model is part of every time, as it is part of every run.
    """
    clips = [open_clip(path) for path in paths]
    started = time.perf_counter()
    _plain_method(paths, settings)
    plain_s = time.perf_counter() - started
    check_s, check_two_s = (_time_check(paths, practice, settings, jobs) for jobs in (1, 2))
    return Timing(
        n_clips=len(clips),
        n_frames=sum(clip.n_frames for clip in clips),
        film_s=sum(float(clip.t_s[-1]) for clip in clips),
        plain_s=plain_s,
        check_s=check_s,
        check_two_s=check_two_s,
    )


def _plain_method(paths: Sequence[Path], settings: Settings) -> None:
    from posecheck.pose.model_files import pose_model_path
    from posecheck.pose.reader import read_whole_frames

    model = pose_model_path(settings.model, settings.models_folder)
    for path in paths:
        read_whole_frames(model, (frame.rgb for frame in open_clip(path).frames()))


def _time_check(paths: Sequence[Path], practice: Practice, settings: Settings, jobs: int) -> float:
    from posecheck.pipeline.batch import check_clips
    from posecheck.store.record import Record

    with tempfile.TemporaryDirectory() as folder:
        started = time.perf_counter()
        with Record(Path(folder) / RECORD_FILE) as record:
            check_clips(paths, practice, settings, record, jobs)
        return time.perf_counter() - started
