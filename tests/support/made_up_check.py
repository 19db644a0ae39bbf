"""The command as a program of its own, with made-up measures that take their time."""

from __future__ import annotations

import functools
import sys
import time
from pathlib import Path

from factories import KINDS, make_clip_result

from posecheck.measures.result import ClipResult
from posecheck.pipeline.provenance import provenance
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice
from posecheck.video.clip import open_clip


def command(*words: str) -> list[str]:
    """What to run; with tests/support in PYTHONPATH."""
    return [sys.executable, "-c", f"import made_up_check; made_up_check.main(*{words!r})"]


def main(*words: str) -> None:
    """The command itself: the page is written often, and clips are waited for briefly."""
    from posecheck.cli import along, commands, run
    from posecheck.cli import watch as watching
    from posecheck.pipeline import batch

    run.check_clips = functools.partial(
        batch.check_clips, measure=slow_measure, open_reader=no_reader
    )
    run.pose_model_path = lambda *_, **__: Path("pose.task")
    along.PAGE_EVERY_S = 0.0
    along.PAGE_SHARE = 0.5
    watching.QUIET_S = 1.0
    watching.LOOK_EVERY_S = 0.2
    sys.argv = ["posecheck", *words]
    commands.main()


def slow_measure(path: Path, practice: Practice, settings: Settings, reader: None) -> ClipResult:
    """Made-up measures that take their time."""
    clip = open_clip(path)
    time.sleep(0.2)
    made = provenance(settings, practice, path)
    kind = list(KINDS)[int(path.stem[-1]) % len(KINDS)]
    return make_clip_result(path, kind, clip_digest=clip.digest, provenance=made)


def no_reader(settings: Settings) -> None:
    return None
