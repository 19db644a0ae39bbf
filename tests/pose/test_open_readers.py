"""Readers of one process."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from posecheck.pose import reader as pose
from posecheck.pose.open_readers import Readers

FULL, HEAVY = Path("full"), Path("heavy")


class Model:
    """Counts how often it is closed."""

    def __init__(self, path: Path, *_: Any, **__: Any) -> None:
        self.path = path
        self.closed = 0

    def close(self) -> None:
        self.closed += 1


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[Model]:
    """The models opened, in order."""
    models: list[Model] = []

    def opens(path: Path, *_: object, **__: object) -> Model:
        models.append(Model(path))
        return models[-1]

    monkeypatch.setattr(pose, "open_landmarker", opens)
    return models


def test_each_player_of_each_clip_has_a_reader_that_has_read_nobody(opened: list[Model]) -> None:
    with Readers(FULL) as readers:
        for _ in range(2):  # clips
            with readers.player(FULL), readers.player(HEAVY):
                pass
        assert [model.path for model in opened] == [FULL, FULL, HEAVY, FULL, HEAVY]
        assert [model.closed for model in opened] == [0, 1, 1, 1, 1]
    assert opened[0].closed == 1
