"""A check that is killed again and again comes to the record of one that was not.

Measures are made up, films small; drawing and pages are the real ones.
"""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest
from films import write_film
from kill_check import Killing, differences
from made_up_check import command

N_CLIPS = 4


@pytest.fixture
def killing(tmp_path: Path) -> Killing:
    practice = tmp_path / "practice"
    practice.mkdir()
    for number in range(N_CLIPS):
        write_film(practice / f"rep-{number}.mp4", [*range(0, 4000, 100), 4000 + number])
    words = ["check", str(practice), "--jobs", "2"]
    return Killing(
        command(*words), practice / "checked", random.Random(int(os.environ.get("SEED", "1")))
    )


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
