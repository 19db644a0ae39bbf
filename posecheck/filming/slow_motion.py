"""Whether a film plays slower than life, seen from how its players move.

How long steps are does not depend on how fast a film plays, how many a second there are does.
People run with 2.4 to 3.5 steps a second whatever their speed (preferred step rates from 2.6 at
2.5 m/s to 3.1 at 5 m/s: Cavanagh and Kram, Stride length in distance running, Medicine and Science
in Sports and Exercise 21, 1989; from memory), and walk with steps of a metre at most. Long steps at
a low rate would have him in the air for a third of a second each time.
"""

from __future__ import annotations

import numpy as np

from posecheck.body.step_rate import step_rate
from posecheck.filming.steps import Steps
from posecheck.filming.tuning import RUNS_SHARE
from posecheck.ground.tracks import GroundTrack
from posecheck.maths.arrays import BoolArray
from posecheck.maths.timeline import stretches
from posecheck.pose.track import PoseTrack
from posecheck.reps.tuning import MAX_GAP_S


def steps_of(
    pose: PoseTrack,
    place: GroundTrack,
    where: BoolArray | None = None,
    slow_motion: float = 1.0,
) -> Steps | None:
    """The steps that a player takes where he is fast, None when they cannot be counted.

    Args:
        pose: his landmarks.
        place: where he is, over the same frames.
        where: ``(n,)`` True in the frames to look at; None for all.
        slow_motion: how many times slower than life the film is taken to play.
    """
    speed = place.speed_mps if where is None else np.where(where, place.speed_mps, np.nan)
    if not np.isfinite(speed).any():
        return None
    fast = np.nan_to_num(speed) > RUNS_SHARE * np.nanmax(speed)
    parts = stretches(place.t_s, fast, bridged_s=MAX_GAP_S)
    longest = max(parts, key=lambda part: place.t_s[part[-1]] - place.t_s[part[0]])
    found = step_rate(place.t_s[longest], pose.xy_px[longest])
    if found is None:
        return None
    return Steps(found.hz, float(np.mean(speed[longest])) / found.hz, slow_motion)
