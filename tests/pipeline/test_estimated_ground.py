"""What the ground is estimated from when no point of the field is known."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from runner import camera_at, closeout, still

from posecheck.body.foot_sight import read_feet
from posecheck.body.view import body_view
from posecheck.ground.from_players import SOLE_M, UNKNOWN_STATURE_M, Standing
from posecheck.ground.ground import Ground
from posecheck.pipeline import estimated_ground as module
from posecheck.pipeline.estimated_ground import estimated_ground
from posecheck.pipeline.tuning import STATED_HEIGHT_SD_M
from posecheck.practice.roster import Player
from posecheck.practice.stature import AGE_GROUPS

SIZE = (1920, 1080)
CAMERA = camera_at((14.0, 8.0, 2.5), (0.0, 9.0, 0.8))
RUN = closeout((0.0, 3.5), (0.0, 13.6))
POSE = RUN.pose(CAMERA)
MOTION = still(len(RUN.t_s))


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Sequence[Standing], Ground | None]]:
    """What each pass is fitted to, and what it gives."""
    made: list[tuple[Sequence[Standing], Ground | None]] = []
    fit = module.ground_from_players

    def fitting(standing: Sequence[Standing], *args: object) -> Ground | None:
        made.append((standing, fit(standing, *args)))
        return made[-1][1]

    monkeypatch.setattr(module, "ground_from_players", fitting)
    return made


def test_feet_are_read_with_the_camera_of_the_first_pass(
    passes: list[tuple[Sequence[Standing], Ground | None]],
) -> None:
    ground = estimated_ground([(POSE, None)], MOTION, SIZE)
    (below, first), (read, second) = passes
    assert {each.sight_m for each in below} == {SOLE_M}
    assert first is not None
    feet = read_feet(body_view(POSE, first.camera, MOTION))
    assert {each.sight_m for each in read} <= set(feet.height_m.ravel())
    assert len({each.sight_m for each in read}) > 50
    assert ground is second


def test_heights_are_those_of_the_roster(
    passes: list[tuple[Sequence[Standing], Ground | None]],
) -> None:
    unknown, known = Player(1, "Sam Birch"), Player(2, "Robin Vale", height_m=1.93)
    estimated_ground([(POSE, None), (POSE, unknown), (POSE, known)], MOTION, SIZE)
    for standing, _ in passes:
        heights = {(each.who, each.stature_m, each.stature_sd_m) for each in standing}
        assert heights == {
            (0, *UNKNOWN_STATURE_M),
            (1, *UNKNOWN_STATURE_M),
            (2, 1.93, STATED_HEIGHT_SD_M),
        }


def test_of_others_height_is_what_is_usual(
    passes: list[tuple[Sequence[Standing], Ground | None]],
) -> None:
    known, usual = Player(2, "Robin Vale", height_m=1.93), AGE_GROUPS["under-12"]
    ground = estimated_ground([(POSE, None), (POSE, known)], MOTION, SIZE, usual=usual)
    for standing, _ in passes:
        heights = {(each.who, each.stature_m, each.stature_sd_m) for each in standing}
        assert heights == {(0, usual.mean_m, usual.sd_m), (1, 1.93, STATED_HEIGHT_SD_M)}
    assert ground is not None
    assert "2 players (as is usual for under-12, stated on the roster)" in ground.described


def test_children_who_are_said_to_be_children_run_slower() -> None:
    """Lengths shrink with the people, if less: a rep has a usual speed and distance too."""
    anybody, small = (
        estimated_ground([(POSE, None)], MOTION, SIZE, usual=usual)
        for usual in (None, AGE_GROUPS["under-12"])
    )
    assert anybody is not None
    assert small is not None
    assert "(" not in anybody.described.split(",")[0]
    share = small.camera.centre_m[2] / anybody.camera.centre_m[2]
    assert AGE_GROUPS["under-12"].mean_m / UNKNOWN_STATURE_M[0] < share < 0.96


def test_nobody_seen_is_no_ground(
    passes: list[tuple[Sequence[Standing], Ground | None]],
) -> None:
    assert estimated_ground([], MOTION, SIZE) is None
    unseen = type(POSE)(POSE.t_s, np.full_like(POSE.xy_px, np.nan), POSE.world_m, POSE.score)
    assert estimated_ground([(unseen, None)], MOTION, SIZE) is None
    assert len(passes) == 2  # the second pass has no camera to read feet with
