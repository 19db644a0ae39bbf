"""Checking a clip of which no points are marked: they are looked for, and how it went is said."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from films import write_film
from places import SAMPLES

from posecheck.camera.motion import CameraMotion
from posecheck.pipeline.check import _Scene
from posecheck.practice.field import closeout_layout
from posecheck.practice.notes import ClipNotes, View
from posecheck.practice.practice import Practice
from posecheck.video.clip import open_clip

LAYOUT = closeout_layout()


def still(n_frames: int) -> CameraMotion:
    return CameraMotion(np.tile(np.eye(3), (n_frames, 1, 1)), np.ones(n_frames, dtype=bool))


@pytest.mark.film
def test_points_are_found_when_none_are_marked() -> None:
    clip = open_clip(SAMPLES / "clips" / "rep-05.mp4")
    view = View("end-line", None, 0.0, {})
    practice = Practice(
        SAMPLES, "p", layout=LAYOUT, notes={"clips/rep-05.mp4": ClipNotes(view, "side-left")}
    )
    scene = _Scene(clip, practice)
    ground = scene.ground(still(clip.n_frames))
    assert ground is not None
    assert ground.described.startswith("4 cones found in the picture, fit to ")
    assert scene.faults == ()
    # Where the clip's truth says: 7.5 m to the left of the goal and 6.8 m behind it, 3.4 m up.
    assert ground.camera.centre_m == pytest.approx([-7.5, -6.8, 3.4], abs=0.15)


def test_what_was_not_found_is_said_once(tmp_path: Path) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4"))
    scene = _Scene(clip, Practice(tmp_path, "p", layout=LAYOUT))
    motion = still(clip.n_frames)
    assert scene.ground(motion) is None
    assert scene.in_picture("top", motion) is None
    (fault,) = scene.faults
    assert fault.startswith("Known points were looked for in the picture but not found: ")
    assert fault.endswith("; set them with posecheck points.")


def test_without_a_layout_nothing_is_looked_for(tmp_path: Path) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4"))
    scene = _Scene(clip, Practice(tmp_path, "p"))
    assert scene.ground(still(clip.n_frames)) is None
    assert scene.faults == ()


def test_marks_win_even_when_they_cannot_be_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*args: object) -> None:
        raise AssertionError("looked for points although some are marked")

    monkeypatch.setattr("posecheck.ground.find.points.find_points", never)
    clip = open_clip(write_film(tmp_path / "a.mp4"))
    view = View("side", (128, 96), 0.0, {"top": (3.0, 4.0)})
    practice = Practice(tmp_path, "p", layout=LAYOUT, notes={"a.mp4": ClipNotes(view)})
    scene = _Scene(clip, practice)
    assert scene.ground(still(clip.n_frames)) is None
    (fault,) = scene.faults
    assert fault.startswith("The marked points were not used: view 'side': 1 marked points")
