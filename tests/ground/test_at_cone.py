"""An attacker's place from his feet and his cone."""

from __future__ import annotations

import numpy as np
import pytest
from runner import camera_at

from posecheck.ground.at_cone import at_cone
from posecheck.ground.tracks import GroundTrack

CAMERA = camera_at((0.0, -6.0, 1.5), (0.0, 9.0, 0.8))
N = 60


def waiting(y_m: float, sd_m: float) -> GroundTrack:
    """One who stands straight ahead of the camera, then leaves to its right at 3 m/s."""
    t_s = np.arange(N) / 30
    going = np.maximum(t_s - 1.0, 0.0)
    xy = np.column_stack([3.0 * going, np.full(N, y_m)])
    velocity = np.column_stack([3.0 * (t_s > 1.0), np.zeros(N)])
    return GroundTrack(t_s, xy, velocity, np.full(N, sd_m), np.full(N, 0.1))


def test_a_cone_as_vague_as_his_feet_takes_him_nearly_half_way() -> None:
    # 15 m off, with the camera 1.5 m up, a sole read 1.8 cm too high is 0.18 m of his place.
    track = waiting(9.0, np.sqrt(0.25**2 - 0.18**2))
    placed = at_cone(track, CAMERA, np.array([0.0, 9.2]), 0.25)
    shift = placed.xy_m - track.xy_m
    assert shift[:, 1] == pytest.approx(np.full(N, 0.1), abs=0.02)
    assert np.ptp(shift, axis=0) == pytest.approx([0.0, 0.0], abs=1e-12)  # and so no speed changes
    assert placed.sd_m == pytest.approx(np.full(N, 0.25 / np.sqrt(2)), rel=0.05)


def test_feet_that_are_well_seen_stay_where_they_are() -> None:
    """From above a sole that is read too high changes little."""
    track = waiting(9.0, 0.05)
    above = camera_at((0.0, 4.0, 8.0), (0.0, 9.0, 0.8))
    placed = at_cone(track, above, np.array([0.0, 9.3]), 0.25)
    assert np.abs(placed.xy_m - track.xy_m).max() < 0.02


def test_the_lower_the_camera_the_more_the_cone_counts() -> None:
    track, cone = waiting(9.0, 0.1), np.array([0.0, 9.2])
    high, low = (
        at_cone(track, camera_at((0.0, -6.0, up_m), (0.0, 9.0, 0.8)), cone, 0.25)
        for up_m in (3.0, 0.75)
    )
    assert low.xy_m[0, 1] - 9.0 > 2 * (high.xy_m[0, 1] - 9.0) > 0
    assert low.sd_m[0] > high.sd_m[0]


def test_across_the_view_nothing_is_taken_from_the_cone() -> None:
    track = waiting(9.0, 0.25)
    placed = at_cone(track, CAMERA, np.array([0.4, 9.0]), 0.25)
    assert placed.xy_m == pytest.approx(track.xy_m, abs=1e-9)


def test_one_who_waits_far_from_the_cone_is_left_nearly_there() -> None:
    """Half of a small distance, but a twentieth at most of one that cannot be an error."""
    track = waiting(9.0, np.sqrt(0.25**2 - 0.18**2))
    placed = at_cone(track, CAMERA, np.array([0.0, 13.0]), 0.25)
    assert 0 < placed.xy_m[0, 1] - track.xy_m[0, 1] < 4.0 / 20


def test_one_who_is_never_seen_has_no_place() -> None:
    nothing = np.full((N, 2), np.nan)
    track = GroundTrack(np.arange(N) / 30, nothing, nothing, nothing[:, 0], nothing[:, 0])
    assert at_cone(track, CAMERA, np.array([0.0, 9.0]), 0.25) is track
