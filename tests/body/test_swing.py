"""A run or a walk, by how many degrees the knee bends while the leg swings forward.

Hip and knee through a step are made from the published ranges: a knee that bends to 60° in the
swing of a walk, to 90 or 105° in that of a run or sprint, a thigh that goes from 10 to 15° behind
the trunk to 30 to 50° before it (Novacheck, The biomechanics of running, Gait and Posture 7, 1998;
from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.body.swing import swings_as_in_a_run
from posecheck.pose.skeleton import SKELETON

RATE_HZ = 30.0
WALK, RUN, SPRINT = (60.0, 1.9, 30.0), (90.0, 2.7, 40.0), (105.0, 3.2, 50.0)
"""Bend of the knee in swing, degrees; steps a second; swing of the thigh forward, degrees."""


def seen(
    gait: tuple[float, float, float], comes: bool, dip_deg: float, lasts_s: float, seed: int = 0
) -> tuple[np.ndarray, np.ndarray]:
    """Times, and landmarks with the pose model's noise, of a player 120 px tall."""
    bend_deg, steps_hz, forward_deg = gait
    t_s = np.arange(0, lasts_s, 1 / RATE_HZ)
    xyz = np.zeros((len(t_s), 33, 3))  # across, towards the camera if he comes, up; metres
    for side, behind in (("left", 0.0), ("right", 0.5)):
        phase = (t_s * steps_hz / 2 + behind) % 1.0
        thigh = np.radians(12.0 + forward_deg) / 2 * np.sin(2 * np.pi * phase)
        thigh += np.radians(forward_deg - 12.0) / 2
        # The knee bends while the thigh comes forward, from a quarter before to a quarter after.
        swing = np.clip(np.cos(2 * np.pi * phase), 0.0, None)
        bend = np.radians(10.0 + (bend_deg - 10.0) * swing)
        hip = np.array([0.1 if side == "left" else -0.1, 0.0, 0.9])
        knee = hip + 0.43 * np.stack([0 * t_s, np.sin(thigh), -np.cos(thigh)], axis=1)
        shank = thigh - bend
        ankle = knee + 0.42 * np.stack([0 * t_s, np.sin(shank), -np.cos(shank)], axis=1)
        for part, at in (("hip", hip), ("knee", knee), ("ankle", ankle)):
            xyz[:, SKELETON.indices(f"{side}_{part}")[0]] = at
        xyz[:, SKELETON.indices(f"{side}_shoulder")[0]] = [2 * hip[0], 0.05, 1.4]
    px_per_m = 70.0 * np.linspace(1.0, 1.15 if comes else 0.87, len(t_s))[:, None, None]
    dip = np.radians(dip_deg)
    toward = xyz[..., 1] if comes else -xyz[..., 1]
    down = -xyz[..., 2] * np.cos(dip) + toward * np.sin(dip)
    noise = np.random.default_rng(seed).normal(0, 0.8, (len(t_s), 33, 2))
    return t_s, px_per_m * np.stack([xyz[..., 0], down], axis=-1) + noise


@pytest.mark.parametrize("comes", [True, False])
@pytest.mark.parametrize("dip_deg", [1.0, 8.0])
@pytest.mark.parametrize("lasts_s", [0.4, 1.0])
@pytest.mark.parametrize("seed", range(3))
def test_a_run_bends_the_knee_further_than_a_walk(
    comes: bool, dip_deg: float, lasts_s: float, seed: int
) -> None:
    for gait, runs in ((WALK, False), (RUN, True), (SPRINT, True)):
        t_s, steady_px = seen(gait, comes, dip_deg, lasts_s, seed)
        assert swings_as_in_a_run(t_s, steady_px, (0.0, lasts_s)) is runs, gait


def test_one_who_is_hardly_seen_is_not_said_to_run() -> None:
    t_s, steady_px = seen(SPRINT, True, 3.0, 1.0)
    assert not swings_as_in_a_run(t_s, steady_px, (0.0, 0.1))
    steady_px[4:] = np.nan
    assert not swings_as_in_a_run(t_s, steady_px, (0.0, 1.0))
