"""Whether a defender comes within reach: places and errors worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import camera_at

from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.reps.reach import out_of_reach

T_S = np.arange(0, 3, 1 / 30)
N = len(T_S)
GROUND = Ground(camera_at((9.0, 9.0, 1.8), (0.0, 9.0, 0.8)), "marks", "", 0.0, 0.0, on_field=True)


def track(xy_m: np.ndarray, sd_m: float) -> GroundTrack:
    still = np.zeros((N, 2))
    return GroundTrack(T_S, xy_m, still, np.full(N, sd_m), np.full(N, 0.1))


def runs_to(end_m: float, sd_m: float = 0.1) -> GroundTrack:
    """5 m/s up the field, stopping dead."""
    return track(np.column_stack([0 * T_S, np.minimum(5 * T_S, end_m)]), sd_m)


def stands(y_m: float, sd_m: float = 0.1) -> GroundTrack:
    return track(np.tile([0.0, y_m], (N, 1)), sd_m)


def test_who_stops_three_metres_short_is_out_of_reach() -> None:
    away = out_of_reach(runs_to(8.0), stands(11.0), GROUND, 1.8)
    assert away is not None
    assert away.nearest_m == pytest.approx(3.0)
    assert away.because == (
        "the player taken for the attacker is never within 1.8 m of the defender, at the nearest "
        "3.0 m"
    )
    assert out_of_reach(runs_to(8.0), stands(11.0), GROUND, 3.2) is None


@pytest.mark.parametrize(("sd_m", "sure"), [(0.3, True), (0.6, False)])
def test_an_error_that_may_bring_them_together_leaves_it_open(sd_m: float, sure: bool) -> None:
    # 1.2 m are missing: 1.645 times 0.42 m are not enough, 1.645 times 0.85 m are.
    away = out_of_reach(runs_to(8.0, sd_m), stands(11.0, sd_m), GROUND, 1.8)
    assert (away is not None) is sure


def test_so_does_a_scale_that_is_off() -> None:
    vague = Ground(GROUND.camera, "players", "", 0.3, 0.3, on_field=False)
    assert out_of_reach(runs_to(8.0), stands(11.0), vague, 1.8) is None


def test_only_the_time_asked_for_counts() -> None:
    # In reach from 9.2 m on, at 1.84 s.
    assert out_of_reach(runs_to(10.0), stands(11.0), GROUND, 1.8) is None
    assert out_of_reach(runs_to(10.0), stands(11.0), GROUND, 1.8, to_s=1.5) is not None


def test_who_is_not_seen_any_more_may_have_come() -> None:
    stood = stands(11.0)
    lost_s = {}
    for seen_until_s in (2.9, 0.5):
        xy_m = np.where((seen_until_s >= T_S)[:, None], stood.xy_m, np.nan)
        attacker = GroundTrack(T_S, xy_m, stood.velocity_mps, stood.sd_m, stood.speed_sd_mps)
        lost_s[seen_until_s] = out_of_reach(runs_to(8.0), attacker, GROUND, 1.8)
    assert lost_s[2.9] is not None
    assert lost_s[0.5] is None


def test_a_defender_who_is_hidden_while_he_still_runs_may_have_come() -> None:
    """Last seen 3 m away, at 5 m/s, 0.4 s before the end of what is looked at."""
    run = runs_to(9.5)
    lost = T_S > 1.6
    hidden = GroundTrack(
        T_S,
        np.where(lost[:, None], np.nan, run.xy_m),
        np.where(lost[:, None], np.nan, np.tile([0.0, 5.0], (N, 1))),
        run.sd_m,
        run.speed_sd_mps,
    )
    assert out_of_reach(hidden, stands(11.0), GROUND, 1.8, to_s=1.6) is not None
    assert out_of_reach(hidden, stands(11.0), GROUND, 1.8, to_s=2.0) is None


def test_nobody_seen_is_nothing_known() -> None:
    gone = track(np.full((N, 2), np.nan), np.nan)
    assert out_of_reach(runs_to(8.0), gone, GROUND, 1.8) is None
    assert out_of_reach(gone, stands(11.0), GROUND, 1.8) is None
