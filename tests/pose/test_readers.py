"""Readers that are kept from clip to clip."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from posecheck.pose import reader as pose
from posecheck.pose.readers import Readers

FULL, HEAVY = Path("full"), Path("heavy")


class Model:
    """Counts what is done with it."""

    def __init__(self, path: Path, *_: Any, **__: Any) -> None:
        self.path = path
        self.forgot = 0
        self.closed = 0

    def forget(self) -> None:
        self.forgot += 1

    def close(self) -> None:
        self.closed += 1


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[Model]:
    """The models opened, in order."""
    models: list[Model] = []

    def opens(path: Path, *_: object, **__: object) -> Model:
        models.append(Model(path))
        return models[-1]

    monkeypatch.setattr(pose, "_Landmarker", opens)
    return models


def test_readers_are_opened_once_and_forget_whom_they_read(opened: list[Model]) -> None:
    with Readers(FULL) as readers:
        for _ in range(3):  # clips
            with (
                readers.player(FULL) as one,
                readers.player(FULL) as other,
                readers.player(HEAVY) as close,
            ):
                assert len({id(each) for each in (one, other, close)}) == 3
        assert [model.path for model in opened] == [FULL, FULL, FULL, HEAVY]
        assert [model.forgot for model in opened] == [0, 3, 3, 3]
        assert not any(model.closed for model in opened)
    assert [model.closed for model in opened] == [1, 1, 1, 1]


def test_reader_is_given_back_when_a_clip_fails(opened: list[Model]) -> None:
    with Readers(FULL) as readers:
        with pytest.raises(ValueError), readers.player(FULL):
            raise ValueError("damaged")
        with readers.player(FULL):
            pass
    assert len(opened) == 2
