"""A check that is killed again and again comes to the record of one that was not.

Measures are made up, films small; drawing and pages are the real ones.
"""

from __future__ import annotations

import functools
import os
import random
import sys
import time
from pathlib import Path

import pytest
from factories import KINDS, make_clip_result
from films import write_film
from kill_check import Killing, differences

from posecheck.measures.result import ClipResult
from posecheck.pipeline.provenance import provenance
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice
from posecheck.video.clip import open_clip

N_CLIPS = 4


def slow_measure(path: Path, practice: Practice, settings: Settings, reader: None) -> ClipResult:
    """Made-up measures that take their time."""
    clip = open_clip(path)
    time.sleep(0.2)
    made = provenance(settings, practice, path)
    kind = list(KINDS)[int(path.stem[-1]) % len(KINDS)]
    return make_clip_result(path, kind, clip_digest=clip.digest, provenance=made)


def no_reader(settings: Settings) -> None:
    return None


def check(*words: str) -> None:
    """The command with made-up measures; what the program below runs."""
    from posecheck.cli import along, commands, run
    from posecheck.pipeline import batch

    run.check_clips = functools.partial(
        batch.check_clips, measure=slow_measure, open_reader=no_reader
    )
    run.pose_model_path = lambda *_, **__: Path("pose.task")
    along.PAGE_EVERY_S = 0.0
    along.PAGE_SHARE = 0.5
    sys.argv = ["posecheck", *words]
    commands.main()


@pytest.fixture
def killing(tmp_path: Path) -> Killing:
    practice = tmp_path / "practice"
    practice.mkdir()
    for number in range(N_CLIPS):
        write_film(practice / f"rep-{number}.mp4", [*range(0, 4000, 100), 4000 + number])
    words = ["check", str(practice), "--jobs", "2"]
    program = f"import test_killed; test_killed.check(*{words!r})"
    path = os.pathsep.join([str(Path(__file__).parent), *sys.path])
    command = ["env", f"PYTHONPATH={path}", sys.executable, "-c", program]
    return Killing(command, practice / "checked", random.Random(int(os.environ.get("SEED", "1"))))


def test_the_record_of_a_killed_check(killing: Killing) -> None:
    """``KILLS=20`` in the environment kills twenty checks."""
    assert len(killing.undisturbed["clips"]) == N_CLIPS  # type: ignore[arg-type]
    assert "practice.html" in killing.undisturbed
    assert sum(name.startswith("clips/") for name in killing.undisturbed) == N_CLIPS
    for _ in range(int(os.environ.get("KILLS", "2"))):
        assert killing.once() == []
    assert killing.killed.total() >= 1


def test_a_difference_is_seen() -> None:
    one = {"practice.html": "1", "clipboard.html": "2", "clips": ["row"], "stars": []}
    other = {"practice.html": "other", "clips": [], "stars": []}
    assert differences(one, one) == []
    assert differences(one, other) == ["clipboard.html", "clips", "practice.html"]
