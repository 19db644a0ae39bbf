"""A rep slowed in part, as phones write slow motion into a film, is known by its steps; reps at the
speed of life never are.

Truth of the sample practice's players, as film would show it that is slowed around a moment.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from true_steps import REPS, on_ground, rep
from walker import walker

from posecheck.filming.slow_part import SlowPart, slow_part
from posecheck.ground.tracks import GroundTrack
from posecheck.maths.arrays import FloatArray
from posecheck.pose.track import PoseTrack

RATE_HZ = 30.0
RAMP_S = 0.3


def plays(
    real_s: float, part_s: tuple[float, float], times: float
) -> tuple[FloatArray, FloatArray]:
    """Times of the frames of a film, and the moments of life that they show.

    Args:
        real_s: how much of life.
        part_s: start and end, in life, of what plays slowly; a ramp leads into it and out again.
        times: how many times slower.
    """
    shown, film, speed = [0.0], [0.0], 1.0
    while True:
        aim = 1 / times if part_s[0] <= shown[-1] < part_s[1] else 1.0
        most = (1 - 1 / times) / (RATE_HZ * RAMP_S)
        speed += float(np.clip(aim - speed, -most, most))
        if shown[-1] + speed / RATE_HZ > real_s:
            return np.array(film), np.array(shown)
        shown.append(shown[-1] + speed / RATE_HZ)
        film.append(film[-1] + 1 / RATE_HZ)


def seen_at(
    pose: PoseTrack, place: GroundTrack, film_s: FloatArray, shown_s: FloatArray
) -> tuple[PoseTrack, GroundTrack]:
    """The same in a film that shows other moments."""

    def then(values: FloatArray) -> FloatArray:
        flat = values.reshape(len(values), -1)
        columns = [np.interp(shown_s, pose.t_s, column) for column in flat.T]
        return np.stack(columns, axis=1).reshape(-1, *values.shape[1:])

    slowed = PoseTrack(film_s, then(pose.xy_px), then(pose.world_m), then(pose.score))
    return slowed, on_ground(film_s, then(place.xy_m))


@pytest.mark.parametrize("name", REPS)
def test_no_sample_rep_has_a_slow_part(name: str) -> None:
    pose, place, _ = rep(name, 1)
    assert slow_part(pose, place, (0.0, float(pose.t_s[-1]))) is None


def in_part(
    name: str, before_s: tuple[float, float], times: float
) -> tuple[SlowPart | None, tuple[float, float]]:
    """What is noticed of a rep that plays slowly from and to some seconds before arrival, and when
    in life, in seconds from arrival, the part noticed begins and ends."""
    pose, place, run = rep(name, 1)
    arrival_s = float(pose.t_s[run][-1])
    part_s = arrival_s - before_s[0], arrival_s - before_s[1]
    film_s, shown_s = plays(float(pose.t_s[-1]), part_s, times)
    part = slow_part(*seen_at(pose, place, film_s, shown_s), (0.0, float(film_s[-1])))
    if part is None:
        return None, (np.nan, np.nan)
    from_s, to_s = np.interp([part.from_s, part.to_s], film_s, shown_s) - arrival_s
    return part, (float(from_s), float(to_s))


@pytest.mark.parametrize(
    ("before_s", "times", "least"),
    [
        ((1.1, 0.3), 4, 13),
        ((1.1, 0.3), 8, 13),
        ((0.6, -0.6), 4, 13),
        ((0.6, -0.6), 8, 12),
        # At half the speed of life it is one or two steps.
        ((1.1, 0.3), 2, 8),
        ((0.6, -0.6), 2, 8),
    ],
)
def test_a_slowed_run_or_arrival_is_noticed(
    before_s: tuple[float, float], times: float, least: int
) -> None:
    noticed = 0
    for name in REPS:
        part, (from_s, to_s) = in_part(name, before_s, times)
        noticed += part is not None
        if part is not None:
            assert from_s > -before_s[0] - 0.3
            assert to_s < -before_s[1] + 0.3
    assert noticed >= least


def test_a_speed_that_the_ground_leaves_open_shows_no_slow_part() -> None:
    """Along the line of sight of a low camera metres may be half as many."""
    pose, place, run = rep("rep-05", 1)
    arrival_s = float(pose.t_s[run][-1])
    film_s, shown_s = plays(float(pose.t_s[-1]), (arrival_s - 1.1, arrival_s - 0.3), 4)
    slowed, there = seen_at(pose, place, film_s, shown_s)
    during_s = 0.0, float(film_s[-1])
    assert slow_part(slowed, there, during_s) is not None
    unsure = replace(there, speed_sd_mps=0.8 * there.speed_mps)
    assert slow_part(slowed, unsure, during_s) is None


@pytest.mark.parametrize("hz", [1.0, 1.4, 1.9, 2.3])
def test_who_walks_on_after_a_run_is_not_slow(hz: float) -> None:
    """Two seconds at 5 m/s, then a walk: steps of 0.25 m s times the steps a second."""
    t_s = np.arange(0, 6, 1 / RATE_HZ)
    mps = np.where(t_s < 2, 5.0, 0.25 * hz**2)
    phase = np.cumsum(np.where(t_s < 2, 2.8, hz)) / RATE_HZ / 2.8
    legs = walker(phase, 80.0)
    pose = PoseTrack(t_s, legs.xy_px, legs.world_m, legs.score)
    place = on_ground(t_s, np.stack([np.cumsum(mps) / RATE_HZ, 0 * t_s], axis=1))
    assert slow_part(pose, place, (0.0, 6.0)) is None


def test_who_brakes_from_a_trot_is_not_slow() -> None:
    """From 2.8 m/s to 0.7 in 1.5 s, in steps that look few, as they do from the front."""
    t_s = np.arange(0, 4, 1 / RATE_HZ)
    mps = np.interp(t_s, [1.4, 2.9], [2.8, 0.7])
    legs = walker(t_s * 1.45 / 2.8, 80.0)
    pose = PoseTrack(t_s, legs.xy_px, legs.world_m, legs.score)
    place = on_ground(t_s, np.stack([np.cumsum(mps) / RATE_HZ, 0 * t_s], axis=1))
    assert slow_part(pose, place, (0.0, 3.0)) is None


def test_nobody_seen_has_no_slow_part() -> None:
    t_s = np.arange(0, 3, 1 / RATE_HZ)
    nowhere = on_ground(t_s, np.full((len(t_s), 2), np.nan))
    assert slow_part(walker(t_s, 80.0), nowhere, (0.0, 3.0)) is None


def test_what_is_said_of_it() -> None:
    part = SlowPart(2.0, 3.4, 1.3, 0.9, 5.1)
    assert part.described == (
        "after 5.1 m/s he goes on at 1.3 m/s around 2.7 s, with 0.9 steps a second"
    )
