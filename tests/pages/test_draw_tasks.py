"""Whose fault it is when nothing can be drawn: a rep's, or the folder's."""

from __future__ import annotations

from pathlib import Path

import pytest
from factories import make_clip_result
from films import write_film

from posecheck.errors import PosecheckError, RecordError, UnreadableClip
from posecheck.pages import draw_tasks
from posecheck.pages.draw_tasks import DrawClip
from posecheck.practice.practice import Practice


def task(folder: Path) -> DrawClip:
    path = write_film(folder / "a.mp4")
    result = make_clip_result(path)
    practice = Practice(folder, "Tuesday")
    return DrawClip("a.mp4", path, 60.0, result, result.reps, practice, folder / "checked")


def failing(monkeypatch: pytest.MonkeyPatch, error: PosecheckError) -> None:
    def draw_rep(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(draw_tasks, "draw_rep", draw_rep)


def test_a_disk_without_room_is_no_fault_of_the_rep(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    failing(monkeypatch, RecordError("a.mp4 cannot be written; free some space."))
    with pytest.raises(RecordError, match="free some space"):
        task(tmp_path).run()


def test_film_that_is_gone_costs_its_rep(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, UnreadableClip(tmp_path / "a.mp4", "its end is gone", "check it again"))
    assert task(tmp_path).run() == ["a.mp4: its end is gone; check it again."]
