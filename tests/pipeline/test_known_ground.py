"""What known points give of a clip's ground: marked, found, or a sentence that says why not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from films import write_film
from places import SAMPLES
from runner import camera_at, still
from scipy.spatial.transform import Rotation

from posecheck.camera.lens import stated_lens
from posecheck.camera.motion import CameraMotion
from posecheck.pipeline.known_ground import (
    KnownGround,
    known_ground,
    point_in_picture,
    waiting_place,
)
from posecheck.practice.field import BEHIND_CONE_M, closeout_layout
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes, View
from posecheck.practice.practice import Practice
from posecheck.video.clip import Clip, open_clip

LAYOUT = closeout_layout()
CAMERA = camera_at((26.0, 8.0, 3.0), (0.0, 8.0, 0.8), size_px=(128, 96))


@pytest.fixture
def clip(tmp_path: Path) -> Clip:
    return open_clip(write_film(tmp_path / "a.mp4"))


def noted(clip: Clip, notes: ClipNotes, layout: Layout = LAYOUT) -> Practice:
    return Practice(clip.path.parent, "p", layout=layout, notes={clip.path.name: notes})


@pytest.mark.film
def test_points_are_found_when_none_are_marked() -> None:
    clip = open_clip(SAMPLES / "clips" / "rep-05.mp4")
    view = View("end-line", None, 0.0, {})
    practice = Practice(
        SAMPLES, "p", layout=LAYOUT, notes={"clips/rep-05.mp4": ClipNotes(view, "side-left")}
    )
    known = known_ground(clip, practice, still(clip.n_frames))
    assert known.ground is not None
    assert known.ground.described.startswith("4 cones found in the picture, fit to ")
    assert known.faults == ()
    # Where the clip's truth says: 7.5 m to the left of the goal and 6.8 m behind it, 3.4 m up.
    assert known.ground.camera.centre_m == pytest.approx([-7.5, -6.8, 3.4], abs=0.15)


def test_what_was_not_found_is_said(clip: Clip) -> None:
    known = known_ground(clip, noted(clip, ClipNotes()), still(clip.n_frames))
    assert known.ground is None
    assert point_in_picture(known, LAYOUT, "top") is None
    (fault,) = known.faults
    assert fault.startswith("Known points were looked for in the picture but not found: ")
    assert fault.endswith("; set them with posecheck points.")


def test_without_a_layout_nothing_is_looked_for(clip: Clip) -> None:
    practice = noted(clip, ClipNotes(), Layout())
    assert known_ground(clip, practice, still(clip.n_frames)) == KnownGround()


def test_marks_win_even_when_they_cannot_be_used(
    clip: Clip, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*args: object) -> None:
        raise AssertionError("looked for points although some are marked")

    monkeypatch.setattr("posecheck.pipeline.known_ground.find_points", never)
    view = View("side", (128, 96), 0.0, {"top": (3.0, 4.0)})
    known = known_ground(clip, noted(clip, ClipNotes(view)), still(clip.n_frames))
    assert known.ground is None
    (fault,) = known.faults
    assert fault.startswith("The marked points were not used: view 'side': 1 marked points")


def test_marks_of_a_later_frame_are_carried_to_the_first(clip: Clip) -> None:
    """The camera turns by two degrees half-way through, and the marks are of its last frame."""
    turn = Rotation.from_euler("y", 2, degrees=True).as_matrix()
    to_first = CAMERA.matrix @ turn @ np.linalg.inv(CAMERA.matrix)
    to_reference = np.tile(np.eye(3), (clip.n_frames, 1, 1))
    to_reference[clip.n_frames // 2 :] = to_first
    motion = CameraMotion(to_reference, np.ones(clip.n_frames, dtype=bool))
    marks = {}
    for name in LAYOUT.cones:
        x, y = CAMERA.turned(to_first).to_image(np.array([*LAYOUT.points[name], 0.0]))
        marks[name] = (float(x), float(y))
    view = View("side", (clip.width_px, clip.height_px), float(clip.t_s[-1]), marks)
    known = known_ground(clip, noted(clip, ClipNotes(view)), motion)
    assert known.faults == ()
    for name, late in marks.items():
        first = CAMERA.to_image(np.array([*LAYOUT.points[name], 0.0]))
        assert np.linalg.norm(first - late) > 2
        assert point_in_picture(known, LAYOUT, name) == pytest.approx(first, abs=0.1)
    assert point_in_picture(known, LAYOUT, "no such cone") is None
    assert point_in_picture(known, LAYOUT, None) is None


def marked_all(clip: Clip) -> View:
    marks = {}
    for name, place in LAYOUT.points.items():
        x, y = CAMERA.to_image(np.array([*place, 0.0]))
        if 0 <= x < clip.width_px and 0 <= y < clip.height_px:
            marks[name] = (float(x), float(y))
    return View("side", (clip.width_px, clip.height_px), 0.0, marks)


@pytest.mark.parametrize(
    ("stated", "tagged_mm", "said"),
    [
        (None, None, None),
        (1.0, None, None),
        (None, 26.0, None),
        (3.0, None, "practice.toml states 3.0x; the points were used: correct the lens there"),
        (None, 77.0, "the phone's own tag gives 3.0x; the points were used: check the points"),
        (1.0, 77.0, None),  # a person's word counts more
    ],
)
def test_marks_and_what_is_known_of_the_lens(
    clip: Clip, stated: float | None, tagged_mm: float | None, said: str | None
) -> None:
    """Marks of a camera of 65 degrees across, 1x."""
    lens = None if stated is None else stated_lens(stated)
    practice = noted(clip, ClipNotes(marked_all(clip), lens=lens))
    known = known_ground(replace(clip, focal_35mm=tagged_mm), practice, still(clip.n_frames))
    assert known.ground is not None
    assert known.ground.camera.focal_px == pytest.approx(CAMERA.focal_px, rel=0.03)
    assert "lens 1.0x from these points" in known.ground.described
    if said is None:
        assert known.faults == ()
    else:
        (fault,) = known.faults
        assert fault.startswith("The marked points show a lens of 1.0x where ")
        assert said in fault


def test_an_attacker_waits_behind_his_cone_seen_from_the_goal(clip: Clip) -> None:
    # 8 m to the left and 12.5 m out: 14.84 m from the goal, along the same line.
    share = 1 + BEHIND_CONE_M / np.hypot(8.0, 12.5)
    named = noted(clip, ClipNotes(spot="top-left"))
    assert waiting_place(named, clip) == pytest.approx([-8.0 * share, 12.5 * share])
    assert waiting_place(noted(clip, ClipNotes()), clip) is None
    # Without a goal there is no telling which side of the cone that is.
    goalless = Layout({"top": (0.0, 15.0)}, cones=frozenset({"top"}))
    assert waiting_place(noted(clip, ClipNotes(spot="top"), goalless), clip) == pytest.approx(
        [0.0, 15.0]
    )
