"""Film that plays slower than life is known by its steps, ordinary film never taken for it.

The steps of the sample practice's players are looked at as its truth has them: where their joints
are in the picture, and how fast they run.
"""

from __future__ import annotations

import numpy as np
import pytest
from true_steps import REPS, on_ground, rep
from walker import walker

from posecheck.filming.slow_motion import steps_of
from posecheck.filming.steps import Steps
from posecheck.pose.track import PoseTrack


@pytest.mark.parametrize("name", REPS)
def test_no_sample_clip_is_taken_for_slow_and_all_are_at_half_speed(name: str) -> None:
    steps = {times: steps_of(*rep(name, times)) for times in (1, 2, 4)}
    life = steps[1]
    assert life is not None
    assert 2.6 < life.hz < 3.5
    assert 1.0 < life.length_m < 2.0
    assert not life.slow
    for times in (2, 4):
        slow = steps[times]
        assert slow is not None
        assert slow.slow
        assert slow.hz == pytest.approx(life.hz / times, rel=0.03)
        assert slow.times_slower == times


def test_what_is_said_of_it() -> None:
    assert Steps(1.5, 1.4).described == "he takes 1.5 steps a second of 1.4 m each"
    # Film that is stated to play twice as slow and plays four times as slow.
    assert Steps(1.5, 1.4, slow_motion=2).times_slower == 4


@pytest.mark.parametrize("mps", [4.5, 2.6, 1.0])
def test_who_steps_as_people_do_is_not_slow(mps: float) -> None:
    """2.8 steps a second at a run, at a jog, and in short ones."""
    t_s = np.arange(0, 3, 1 / 30)
    goes = on_ground(t_s, np.stack([mps * t_s, 0 * t_s], axis=1))
    steps = steps_of(walker(t_s, 80.0), goes)
    assert steps is not None
    assert not steps.slow


def test_a_walk_is_not_slow_motion() -> None:
    """1.4 m/s with 1.9 steps a second of 0.74 m (Winter, Biomechanics and Motor Control of Human
    Movement, natural cadence 105 to 115 a minute; from memory)."""
    t_s = np.arange(0, 5, 1 / 30)
    walk = walker(t_s * 1.9 / 2.8, 80.0)
    pose = PoseTrack(t_s, walk.xy_px, walk.world_m, walk.score)
    steps = steps_of(pose, on_ground(t_s, np.stack([1.4 * t_s, 0 * t_s], axis=1)))
    assert steps is not None
    assert steps.hz == pytest.approx(1.9, abs=0.06)
    assert not steps.slow


def test_nobody_seen_has_no_steps() -> None:
    t_s = np.arange(0, 3, 1 / 30)
    nowhere = on_ground(t_s, np.full((len(t_s), 2), np.nan))
    assert steps_of(walker(t_s, 80.0), nowhere) is None
