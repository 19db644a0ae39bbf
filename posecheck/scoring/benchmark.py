"""How long a check takes and how much memory, against the plain way, on the same clips in one run.

The plain way runs the stock pose landmarker over every whole frame in one process, which finds one
player and measures nothing. A check follows everybody, reads two players and measures. Both open
their model, and both read the film from its file.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from posecheck.files.names import RECORD_FILE
from posecheck.maths.stopwatch import Stage
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice
from posecheck.scoring.worker_log import Logged, LoggedMeasuring, read_logs
from posecheck.video.clip import open_clip


@dataclass(frozen=True)
class Timing:
    """Wall times of one benchmark run, seconds for all clips together.

    Attributes:
        n_clips, n_frames, film_s: what was worked on.
        plain_s: the stock landmarker over every whole frame, one process.
        decode_s: decoding every frame once, and nothing else.
        check_s: a check with one worker.
        check_two_s: a check with two workers.
        stages: by stage, of the check with one worker.
        peak_bytes: most memory that its worker has had, None when the system does not say.
    """

    n_clips: int
    n_frames: int
    film_s: float
    plain_s: float
    decode_s: float
    check_s: float
    check_two_s: float
    stages: dict[Stage, float] = field(default_factory=dict)
    peak_bytes: int | None = None

    @property
    def against_plain(self) -> float:
        """Time of a check over time of the plain way; below 1 is faster."""
        return self.check_s / self.plain_s

    @property
    def against_decoding(self) -> float:
        """Time of a check over that of decoding each frame once."""
        return self.check_s / self.decode_s

    @property
    def gain_of_two(self) -> float:
        """Time with one worker over time with two."""
        return self.check_s / self.check_two_s

    @property
    def between_s(self) -> float:
        """What of the check with one worker is in no stage: the worker is started, it opens its
        model, results are handed over and saved."""
        return self.check_s - sum(self.stages.values())


def run_benchmark(
    paths: Sequence[Path],
    practice: Practice,
    settings: Settings,
    on_step: Callable[[str], object] = lambda step: None,
) -> Timing:
    """Time decoding, the plain way, and checks with one and two workers, one after the other.

    Args:
        paths: the clips.
        practice: they belong to.
        settings: of the measuring; nothing is kept.
        on_step: called with what is timed next.
    """
    clips = [open_clip(path) for path in paths]
    on_step("decoding")
    decode_s = _timed(lambda: _decode(paths))
    on_step("the plain way")
    plain_s = _timed(lambda: _plain_way(paths, settings))
    on_step("a check with one worker")
    check_s, logs = check_once(paths, practice, settings, 1)
    on_step("a check with two workers")
    check_two_s, _ = check_once(paths, practice, settings, 2)
    return Timing(
        n_clips=len(clips),
        n_frames=sum(clip.n_frames for clip in clips),
        film_s=sum(float(clip.t_s[-1]) for clip in clips),
        plain_s=plain_s,
        decode_s=decode_s,
        check_s=check_s,
        check_two_s=check_two_s,
        stages=_summed(logs),
        peak_bytes=max((each.peak_bytes for each in logs if each.peak_bytes), default=None),
    )


def check_once(
    paths: Sequence[Path], practice: Practice, settings: Settings, jobs: int
) -> tuple[float, list[Logged]]:
    """Check clips into a record of its own; seconds it took, and what its workers logged."""
    from posecheck.pipeline.batch import check_clips
    from posecheck.store.record import Record

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        logs = folder / "logs"
        logs.mkdir()

        def check() -> None:
            with Record(folder / RECORD_FILE, make=True) as record:
                check_clips(paths, practice, settings, record, jobs, measure=LoggedMeasuring(logs))

        return _timed(check), read_logs(logs)


def _timed(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def _decode(paths: Sequence[Path]) -> None:
    for path in paths:
        for _ in open_clip(path, as_stored=True).frames():
            pass


def _plain_way(paths: Sequence[Path], settings: Settings) -> None:
    from posecheck.pose.library import read_whole_frames
    from posecheck.pose.model_files import pose_model_path
    from posecheck.pose.reader_choice import Reader

    model = pose_model_path(settings.model, settings.models_folder, Reader.LIBRARY)
    for path in paths:
        clip = open_clip(path, as_stored=True)
        read_whole_frames(model, (frame.rgb for frame in clip.frames()))


def _summed(logs: Sequence[Logged]) -> dict[Stage, float]:
    found = {stage: sum(each.seconds.get(stage, 0.0) for each in logs) for stage in Stage}
    return {stage: seconds for stage, seconds in found.items() if seconds}
