"""From landmarks on, with a runner whose true place is known and no film at all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from runner import Run, camera_at, closeout, still

from posecheck.errors import NothingToMeasure
from posecheck.keypoints.clip_keypoints import ClipKeypoints, MaybeWalk
from posecheck.pipeline import estimated_ground, known_ground, observe
from posecheck.pipeline.observe import observe_keypoints
from posecheck.practice.field import closeout_layout
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes, View
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player
from posecheck.video.clip import Clip

LAYOUT = closeout_layout()
CAMERA = camera_at((14.0, 8.0, 2.5), (0.0, 9.0, 0.8))
RUN = closeout((0.0, 3.5), (0.0, 13.6))
CLIP = Clip(Path("/p/a.mp4"), "ab" * 32, 1920, 1080, RUN.t_s)


def waits() -> Run:
    """The defender's last stance, held all the time 1.5 m further out."""
    n = len(RUN.t_s)
    there = np.tile(RUN.ground_m[-1] + (0.0, 1.5), (n, 1))
    joints = np.tile(RUN.joints_m[-1] + (0.0, 1.5, 0.0), (n, 1, 1))
    return Run(RUN.t_s, there, np.zeros(n), joints)


KEYPOINTS = ClipKeypoints(RUN.pose(CAMERA), waits().pose(CAMERA), still(len(RUN.t_s)), "he runs")


def marks(*names: str) -> View:
    seen = {name: CAMERA.to_image(np.array([*LAYOUT.points[name], 0.0])) for name in names}
    pixels = {name: (float(x), float(y)) for name, (x, y) in seen.items()}
    return View("side", (1920, 1080), 0.0, pixels)


def practice(layout: Layout = LAYOUT, **notes: object) -> Practice:
    return Practice(Path("/p"), "p", layout=layout, notes={"a.mp4": ClipNotes(**notes)})


MARKED = practice(view=marks(*LAYOUT.cones), spot="top")


def test_marked_points_put_players_where_they_are() -> None:
    seen = observe_keypoints(CLIP, KEYPOINTS, MARKED)
    assert seen.ground.source == "marks"
    assert seen.faults == ()
    assert seen.roles == "he runs"
    off = np.linalg.norm(seen.defender_ground.xy_m - RUN.ground_m, axis=1)
    assert np.nanmedian(off) < 0.25
    assert seen.attacker_ground is not None
    there = np.nanmedian(seen.attacker_ground.xy_m, axis=0)
    assert there == pytest.approx([0.0, 15.1], abs=0.4)
    # 0.4 m behind his cone: where an attacker waits.
    assert seen.cone_xy_m == pytest.approx([0.0, 15.4])
    assert len(seen.stance.t_s) == CLIP.n_frames


@pytest.mark.parametrize(("steps_hz", "runs"), [(2.8, True), (1.9, False)])
def test_what_may_be_a_walk_is_one_unless_the_steps_are_those_of_a_run(
    steps_hz: float, runs: bool
) -> None:
    pose = RUN.pose(CAMERA)
    trunk_px = np.nanmedian(np.ptp(pose.xy_px[:, [11, 23], 1], axis=1))
    rises = 0.3 * trunk_px * np.sin(2 * np.pi * steps_hz * RUN.t_s)
    bouncing = replace(pose, xy_px=pose.xy_px + np.stack([0 * rises, rises], axis=-1)[:, None])
    walk = MaybeWalk((0.5, 2.0), "he walks", "let him run")
    keypoints = replace(KEYPOINTS, defender=bouncing, maybe_walk=walk)
    if runs:
        assert observe_keypoints(CLIP, keypoints, MARKED).roles == "he runs"
        return
    with pytest.raises(NothingToMeasure, match="he walks; let him run"):
        observe_keypoints(CLIP, keypoints, MARKED)


def test_without_known_points_the_players_give_the_scale() -> None:
    """Of stated height, and on axes of the camera's own, so that there is no cone."""
    tall = Player(1, "Robin Vale", height_m=1.75)
    seen = observe_keypoints(CLIP, KEYPOINTS, practice(Layout(), defender=tall, spot="top"))
    assert seen.ground.source == "players"
    assert seen.cone_xy_m is None
    assert seen.faults == ()
    gone = np.linalg.norm(np.diff(seen.defender_ground.xy_m[[5, -5]], axis=0))
    assert gone == pytest.approx(10.1, rel=0.25)


def test_marks_that_cannot_be_used_are_said_and_the_players_take_their_place() -> None:
    seen = observe_keypoints(CLIP, KEYPOINTS, practice(view=marks("top", "inside")))
    assert seen.ground.source == "players"
    (fault,) = seen.faults
    assert fault.startswith("The marked points were not used: view 'side': 2 marked points")


def test_nobody_else_need_be_there() -> None:
    seen = observe_keypoints(CLIP, replace(KEYPOINTS, attacker=None), MARKED)
    assert seen.attacker is None
    assert seen.attacker_ground is None


def test_feet_out_of_the_picture_are_no_ground() -> None:
    hidden = KEYPOINTS.defender.xy_px.copy()
    hidden[:, 25:] = np.nan
    unseen = replace(KEYPOINTS, defender=replace(KEYPOINTS.defender, xy_px=hidden), attacker=None)
    with pytest.raises(NothingToMeasure) as caught:
        observe_keypoints(CLIP, unseen, practice(Layout()))
    assert str(caught.value) == (
        "a.mp4: the defender's feet are nowhere seen on the ground; film so that the whole body "
        "is in the picture."
    )


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often each costly step is taken."""
    calls: Counter[str] = Counter()

    def count(module: object, name: str) -> None:
        step: Callable[..., object] = getattr(module, name)

        def counting(*args: object, **keywords: object) -> object:
            calls[name] += 1
            return step(*args, **keywords)

        monkeypatch.setattr(module, name, counting)

    for name in ("smooth_track", "body_view", "read_feet", "track_on_ground", "stance_track"):
        count(observe, name)
    count(known_ground, "ground_from_marks")
    count(estimated_ground, "ground_from_players")
    return calls


def test_nothing_is_computed_twice(counted: Counter[str]) -> None:
    observe_keypoints(CLIP, KEYPOINTS, MARKED)
    assert counted == {
        "smooth_track": 2,
        "body_view": 2,
        "read_feet": 2,
        "track_on_ground": 2,
        "stance_track": 1,
        "ground_from_marks": 1,
    }


def test_the_ground_is_estimated_in_two_passes(counted: Counter[str]) -> None:
    observe_keypoints(CLIP, KEYPOINTS, practice(Layout()))
    assert counted["ground_from_players"] == 2
