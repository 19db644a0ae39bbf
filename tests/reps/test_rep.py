"""Reps found in ground tracks whose moments can be worked out by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter1d

from posecheck.reps.rep import ArrivalSource
from posecheck.reps.splitting import find_reps

START_M = np.array([0.0, 3.5])


def upfield(distance_m):
    return START_M + np.array([0.0, distance_m])


def trapezoid(t_s, leaves_s=0.5, accel=5.0, peak=5.0, braking=4.0, length_m=9.0):
    """Distance run and speed: up at ``accel``, held at ``peak``, down at ``braking`` to a stop."""
    up_s, down_s = peak / accel, peak / braking
    hold_s = (length_m - peak * (up_s + down_s) / 2) / peak
    s = np.clip(t_s - leaves_s, 0, up_s + hold_s + down_s)
    early, held = np.minimum(s, up_s), np.clip(s - up_s, 0, hold_s)
    late = np.clip(s - up_s - hold_s, 0, down_s)
    gone = accel * early**2 / 2 + peak * held + peak * late - braking * late**2 / 2
    moving = (t_s > leaves_s) & (t_s < leaves_s + up_s + hold_s + down_s)
    return gone, np.where(moving, accel * early - braking * late, 0.0)


def straight(gone_m, speed_mps, way=(0.0, 1.0)):
    """Places and velocities of a run along a straight line."""
    return START_M + gone_m[:, None] * np.array(way), speed_mps[:, None] * np.array(way)


def standing(place, n):
    return np.tile(np.asarray(place, dtype=float), (n, 1))


def test_constant_speed_is_worked_by_hand():
    # 5 m/s from the first frame, attacker 10.4 m up: within 1.8 m after 8.6 m, at 1.72 s.
    t_s = np.arange(0, 3, 1 / 30)
    xy, velocity = straight(5.0 * t_s, np.full(len(t_s), 5.0))
    (rep,) = find_reps(xy, standing(upfield(10.4), len(t_s)), t_s, velocity)
    assert rep.start_s == 0.0
    assert rep.arrival_s == pytest.approx(1.72)
    assert rep.braking_s is None
    assert rep.end_s == pytest.approx(2.72)
    assert rep.source is ArrivalSource.ATTACKER


@pytest.mark.parametrize("rate_hz", [24, 30, 60, 240])
def test_trapezoid_is_worked_by_hand(rate_hz):
    # Sets off at 0.5 and passes 0.5 m/s a tenth of a second later; peak from 1.5 to 2.175, stops
    # at 3.425 after 9 m. The speed is down to 95 % at 2.175 + 0.25 / 4 = 2.2375. Attacker 10.4 m
    # up: 8.6 m are covered 0.4 m before the stop, at 3.425 - sqrt(2 * 0.4 / 4) = 2.9778.
    t_s = np.arange(0, 5, 1 / rate_hz)
    xy, velocity = straight(*trapezoid(t_s))
    (rep,) = find_reps(xy, standing(upfield(10.4), len(t_s)), t_s, velocity)
    assert rep.start_s == pytest.approx(0.6)
    assert rep.braking_s == pytest.approx(2.2375, abs=0.001)
    assert rep.arrival_s == pytest.approx(3.425 - np.sqrt(0.2), abs=0.002)


def test_without_attacker_arrival_is_at_the_cone():
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    (rep,) = find_reps(xy, None, t_s, velocity, cone_xy_m=upfield(10.4))
    assert rep.source is ArrivalSource.CONE
    assert rep.arrival_s == pytest.approx(3.425 - np.sqrt(0.2), abs=0.002)


def test_with_nobody_there_arrival_is_the_end_of_braking():
    # Down to 1.2 m/s, 1.2 / 4 s before the stop at 3.425.
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    (rep,) = find_reps(xy, None, t_s, velocity)
    assert rep.source is ArrivalSource.BRAKING
    assert rep.arrival_s == pytest.approx(3.125)


def test_stopping_short_of_the_attacker_arrives_at_the_end_of_braking():
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    (rep,) = find_reps(xy, standing(upfield(11.5), len(t_s)), t_s, velocity)
    assert rep.source is ArrivalSource.BRAKING
    assert rep.arrival_s == pytest.approx(3.125)


def test_film_that_ends_on_the_way_has_no_arrival():
    t_s = np.arange(0, 2, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    (rep,) = find_reps(xy, standing(upfield(10.4), len(t_s)), t_s, velocity)
    assert rep.arrival_s is None
    assert rep.source is None


def stops_short_then_goes_on_at(creep_mps):
    """Stops 2.0 m short at 3.425 s, reach is 1.8; then a second at so many metres per second."""
    t_s = np.arange(0, 5, 1 / 60)
    gone, speed = trapezoid(t_s)
    creep = np.clip(t_s - 3.425, 0, 1)
    xy, velocity = straight(
        gone + creep_mps * creep, speed + creep_mps * ((creep > 0) & (creep < 1))
    )
    (rep,) = find_reps(xy, standing(upfield(11.0), len(t_s)), t_s, velocity)
    return rep


def test_creeping_into_reach_after_the_stop_is_the_arrival():
    # At 0.6 m/s the 0.2 m take a third of a second.
    rep = stops_short_then_goes_on_at(0.6)
    assert rep.source is ArrivalSource.ATTACKER
    assert rep.arrival_s == pytest.approx(3.425 + 1 / 3, abs=0.01)


def test_who_stands_just_out_of_reach_does_not_arrive_by_small_errors_of_his_place():
    rep = stops_short_then_goes_on_at(0.3)
    assert rep.source is ArrivalSource.BRAKING
    assert rep.arrival_s < 3.425


@pytest.mark.parametrize(
    ("attacker_m", "peak_mps", "why"),
    [
        (upfield(10.4), 2.2, "a walk"),
        (upfield(-10.4), 5.0, "running away from everybody"),
        (upfield(2.5), 5.0, "footwork around the attacker"),
    ],
)
def test_no_rep(attacker_m, peak_mps, why):
    t_s = np.arange(0, 8, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s, peak=peak_mps))
    assert find_reps(xy, standing(attacker_m, len(t_s)), t_s, velocity) == (), why


@pytest.mark.parametrize(
    ("mps", "apart_m", "found"),
    [(5.0, 2.5, True), (4.8, 1.9, False), (2.6, 3.2, False), (0.0, 3.7, False)],
)
def test_who_comes_into_sight_running_has_closed_on_his_man_before(mps, apart_m, found):
    """To be at v from a stand takes v squared over twice 6.5 m/s²: 1.9 m at 5 m/s, 1.8 m at 4.8 and
    0.5 m at 2.6. With what is seen until he is in reach, at 1.8 m, it is a rep from 2 m on."""
    t_s = np.arange(0, 2, 1 / 30)
    xy, velocity = straight(mps * t_s, np.full(len(t_s), mps))
    reps = find_reps(xy, standing(upfield(apart_m), len(t_s)), t_s, velocity)
    assert [rep.arrival_s for rep in reps] == (
        [pytest.approx((apart_m - 1.8) / mps)] if found else []
    )


def test_nobody_moves_and_nobody_is_seen():
    t_s = np.arange(0, 2, 1 / 30)
    still = standing(START_M, len(t_s))
    assert find_reps(still, None, t_s, np.zeros_like(still)) == ()
    assert find_reps(still * np.nan, None, t_s, still * np.nan) == ()


def long_film(turns_without_rest, rate_hz=30):
    """Three run-outs of 9 m, each jogged back at 3 m/s; rests of 2 s unless turning at once."""
    rest_s = 0.0 if turns_without_rest else 2.0
    t_s = np.arange(0, 32 if rest_s else 22, 1 / rate_hz)
    gone, speed = np.zeros(len(t_s)), np.zeros(len(t_s))
    leaves, at = [], 0.5
    for _ in range(3):
        out_m, out_mps = trapezoid(t_s, leaves_s=at)
        back_s = at + 2.925 + rest_s
        back_m, back_mps = trapezoid(t_s, leaves_s=back_s, accel=3.0, peak=3.0, braking=3.0)
        gone, speed = gone + out_m - back_m, speed + out_mps - back_mps
        leaves.append(at)
        at = back_s + 4.0 + rest_s
    return t_s, gone, speed, leaves


@pytest.mark.parametrize("turns_without_rest", [False, True])
def test_long_film_is_cut_into_its_reps(turns_without_rest):
    t_s, gone, speed, leaves = long_film(turns_without_rest)
    xy, velocity = straight(gone, speed)
    reps = find_reps(xy, standing(upfield(10.4), len(t_s)), t_s, velocity)
    # At 5 m/s² a run is no longer near still a tenth of a second after it began.
    assert [rep.start_s for rep in reps] == pytest.approx([s + 0.1 for s in leaves], abs=0.04)
    assert [rep.arrival_s for rep in reps] == pytest.approx([s + 2.4778 for s in leaves], abs=0.01)


def test_turning_without_ever_being_still_is_cut_where_he_turns():
    # Back and out again on a circle of 6 m radius about a point beside the way, 4 m/s throughout:
    # farthest from the attacker, who stands on the circle, once a lap.
    t_s = np.arange(0, 19, 1 / 30)
    angle = 4.0 / 6.0 * t_s
    xy = 6.0 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    velocity = np.gradient(xy, t_s, axis=0)
    reps = find_reps(xy, standing([-7.0, 0.0], len(t_s)), t_s, velocity)
    lap_s = 2 * np.pi * 6 / 4
    assert len(reps) == 2
    assert reps[1].arrival_s - reps[0].arrival_s == pytest.approx(lap_s, abs=0.01)
    assert reps[1].start_s == pytest.approx(lap_s, abs=0.5)


@pytest.mark.parametrize(
    ("grows_m", "attacker_m", "laps"), [(0.6, -7.6, 2), (0.2, -7.0, 2), (-0.2, -6.9, 3)]
)
def test_each_approach_of_a_spiral_begins_where_he_turns(grows_m, attacker_m, laps):
    # As before, but every lap is wider or narrower than the last: in one approach he comes nearer
    # than in the other, and sets off farther out.
    lap_s = 2 * np.pi * 6 / 4
    t_s = np.arange(0, (laps + 0.1) * lap_s, 1 / 30)
    angle = 4.0 / 6.0 * t_s
    radius = 6 + grows_m * t_s / lap_s
    xy = radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    velocity = np.gradient(xy, t_s, axis=0)
    reps = find_reps(xy, standing([attacker_m, 0.0], len(t_s)), t_s, velocity)
    assert [rep.start_s for rep in reps] == pytest.approx(
        [lap_s * lap for lap in range(laps)], abs=1.0
    )
    for rep in reps:
        assert rep.arrival_s - rep.start_s == pytest.approx(lap_s / 2, abs=1.0)


def test_with_nobody_there_the_way_back_is_no_rep():
    t_s, gone, speed, leaves = long_film(turns_without_rest=False)
    reps = find_reps(*straight(gone, speed)[:1], None, t_s, straight(gone, speed)[1])
    # At 5 m/s² a run is no longer near still a tenth of a second after it began.
    assert [rep.start_s for rep in reps] == pytest.approx([s + 0.1 for s in leaves], abs=0.04)


def test_a_short_gap_is_bridged_and_a_long_one_stays_open():
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    attacker = standing(upfield(10.4), len(t_s))
    (whole,) = find_reps(xy, attacker, t_s, velocity)
    short = np.where((np.abs(t_s - 2.8) < 0.15)[:, None], np.nan, xy)
    (rep,) = find_reps(short, attacker, t_s, velocity)
    assert rep.arrival_s == pytest.approx(whole.arrival_s, abs=0.03)
    long = np.where((np.abs(t_s - 3.0) < 0.6)[:, None], np.nan, xy)
    (rep,) = find_reps(long, attacker, t_s, velocity)
    assert rep.arrival_s is None


def test_a_run_in_which_he_was_out_of_sight_for_a_while_is_one():
    # He is at his fastest when he goes out of sight for 0.6 s, and slows down after.
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    attacker = standing(upfield(10.4), len(t_s))
    (whole,) = find_reps(xy, attacker, t_s, velocity)
    hidden = np.where((np.abs(t_s - 1.9) < 0.3)[:, None], np.nan, xy)
    (rep,) = find_reps(hidden, attacker, t_s, velocity)
    assert rep == whole
    assert rep.arrival_s == pytest.approx(3.425 - np.sqrt(0.2), abs=0.002)


def test_of_a_run_in_which_he_brakes_out_of_sight_the_rest_is_the_rep():
    # He slows down from 5 m/s at 2 m/s² from 1.875 s on; back at 2.3 s he has 4.15 m/s and 4.3 m to
    # go until he stops, 1.4 m before the attacker.
    t_s = np.arange(0, 6, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s, braking=2.0, length_m=10.625))
    attacker = standing(upfield(12.025), len(t_s))
    (whole,) = find_reps(xy, attacker, t_s, velocity)
    hidden = np.where((np.abs(t_s - 1.95) < 0.34)[:, None], np.nan, xy)
    (rep,) = find_reps(hidden, attacker, t_s, velocity)
    assert rep.start_s == pytest.approx(2.3, abs=0.04)
    assert rep.arrival_s == pytest.approx(whole.arrival_s)


def test_where_too_little_is_seen_after_the_run_before_stays_without_an_arrival():
    # As before, but he is back at 2.87 s only, with 3 m/s and 3.7 m from the attacker.
    t_s = np.arange(0, 6, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s, braking=2.0, length_m=10.625))
    attacker = standing(upfield(12.025), len(t_s))
    hidden = np.where((np.abs(t_s - 2.25) < 0.61)[:, None], np.nan, xy)
    (rep,) = find_reps(hidden, attacker, t_s, velocity)
    assert rep.start_s == pytest.approx(0.6)
    assert rep.end_s == pytest.approx(1.63, abs=0.04)
    assert rep.arrival_s is None


@pytest.mark.parametrize(
    ("off_m", "lost_s"),
    [((0.0, 1.2), 0.7), ((0.0, -1.2), 0.7), ((1.2, 0.0), 0.7), ((0.0, 0.0), 1.7)],
)
def test_who_comes_back_elsewhere_or_late_need_not_be_on_the_same_run(off_m, lost_s):
    # 5 m/s throughout: in 0.7 s he covers 3.5 m.
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(5.0 * t_s, np.full(len(t_s), 5.0))
    attacker = standing(upfield(23.0), len(t_s))
    xy[t_s > 2.0] += off_m
    xy[np.abs(t_s - 2.0) < lost_s / 2] = np.nan
    first, second = find_reps(xy, attacker, t_s, velocity)
    assert first.end_s == pytest.approx(2.0 - lost_s / 2, abs=0.04)
    assert (first.arrival_s, first.source) == (None, None)
    assert second.arrival_s is not None


def test_attacker_hidden_behind_the_defender_at_arrival():
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    attacker = standing(upfield(10.4), len(t_s))
    attacker[np.abs(t_s - 2.98) < 0.2] = np.nan
    (rep,) = find_reps(xy, attacker, t_s, velocity)
    assert rep.source is ArrivalSource.ATTACKER
    assert rep.arrival_s == pytest.approx(2.978, abs=0.002)


@pytest.mark.parametrize(
    ("first_seen_s", "source"), [(2.5, ArrivalSource.ATTACKER), (3.2, ArrivalSource.CONE)]
)
def test_attacker_noticed_late_is_on_his_cone_till_then(first_seen_s, source):
    # He stands half a metre beyond the cone: arrival at the cone is 0.5 m of braking earlier.
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    attacker = standing(upfield(10.4), len(t_s))
    attacker[t_s < first_seen_s] = np.nan
    cone = upfield(10.4 if source is ArrivalSource.ATTACKER else 9.9)
    (rep,) = find_reps(xy, attacker, t_s, velocity, cone_xy_m=cone)
    left_m = 0.4 if source is ArrivalSource.ATTACKER else 0.9
    assert rep.source is source
    assert rep.arrival_s == pytest.approx(3.425 - np.sqrt(2 * left_m / 4), abs=0.003)


@pytest.mark.parametrize("first_seen_s", [2.5, 3.2])
def test_attacker_noticed_late_stood_there_where_no_cone_is_known(first_seen_s):
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    attacker = standing(upfield(10.4), len(t_s))
    attacker[t_s < first_seen_s] = np.nan
    (rep,) = find_reps(xy, attacker, t_s, velocity)
    assert rep.source is ArrivalSource.ATTACKER
    assert rep.arrival_s == pytest.approx(2.978, abs=0.002)


@pytest.mark.parametrize("seed", range(5))
def test_unsteady_tracks_give_the_same_reps(seed):
    # Noise with the memory of a smoothed track: 8 cm, and 0.12 m/s to either axis.
    t_s, gone, speed, leaves = long_film(turns_without_rest=False)
    rng = np.random.default_rng(seed)

    def wobble(sd):
        slow = gaussian_filter1d(rng.normal(size=(len(t_s), 2)), 4.0, axis=0)
        return sd * slow / slow.std()

    xy, velocity = straight(gone, speed)
    attacker = standing(upfield(10.4), len(t_s)) + wobble(0.08)
    reps = find_reps(xy + wobble(0.08), attacker, t_s, velocity + wobble(0.12))
    assert len(reps) == 3
    assert [rep.start_s for rep in reps] == pytest.approx([s + 0.1 for s in leaves], abs=0.15)
    assert [rep.arrival_s for rep in reps] == pytest.approx([s + 2.4778 for s in leaves], abs=0.2)


turns = st.floats(-np.pi, np.pi)
shifts = st.floats(-50, 50)


@given(angle=turns, east=shifts, north=shifts, later=st.floats(-5, 1000), mirrored=st.booleans())
def test_moments_do_not_depend_on_where_the_field_lies(angle, east, north, later, mirrored):
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s), way=(0.6, 0.8))
    attacker = standing(START_M + np.array([6.54, 8.32]), len(t_s))
    (rep,) = find_reps(xy, attacker, t_s, velocity)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    if mirrored:
        turn = turn @ np.diag([-1.0, 1.0])
    moved = find_reps(
        xy @ turn.T + [east, north],
        attacker @ turn.T + [east, north],
        t_s + later,
        velocity @ turn.T,
    )
    assert len(moved) == 1
    for name in ("start_s", "braking_s", "arrival_s", "end_s"):
        assert getattr(moved[0], name) - later == pytest.approx(getattr(rep, name), abs=1e-6)


# -- arrivals that the coach has stated ------------------------------------------------------------


def test_a_stated_arrival_takes_the_place_of_the_one_found():
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    attacker = standing(upfield(10.4), len(t_s))
    (found,) = find_reps(xy, attacker, t_s, velocity)
    (rep,) = find_reps(xy, attacker, t_s, velocity, stated_s=2.5)
    assert (rep.arrival_s, rep.source) == (2.5, ArrivalSource.STATED)
    assert (rep.start_s, rep.braking_s) == (found.start_s, found.braking_s)
    assert rep.end_s == pytest.approx(3.5)


def test_a_stated_arrival_makes_a_rep_where_nobody_comes_within_reach():
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    away = standing(upfield(-20.0), len(t_s))
    assert find_reps(xy, away, t_s, velocity) == ()
    (rep,) = find_reps(xy, away, t_s, velocity, stated_s=3.0)
    assert (rep.arrival_s, rep.source) == (3.0, ArrivalSource.STATED)
    assert rep.start_s == pytest.approx(0.6)


def test_a_stated_arrival_belongs_to_the_last_run_begun_by_then():
    t_s = np.arange(0, 12, 1 / 30)
    out, speed = trapezoid(t_s)
    back, back_speed = trapezoid(t_s, leaves_s=4.0)
    again, again_speed = trapezoid(t_s, leaves_s=8.0)
    xy, velocity = straight(out - back + again, speed - back_speed + again_speed)
    attacker = standing(upfield(10.4), len(t_s))
    first, second = find_reps(xy, attacker, t_s, velocity)
    one, other = find_reps(xy, attacker, t_s, velocity, stated_s=3.2)
    assert (one.arrival_s, one.source, other) == (3.2, ArrivalSource.STATED, second)
    one, other = find_reps(xy, attacker, t_s, velocity, stated_s=10.7)
    assert (one, other.arrival_s, other.source) == (first, 10.7, ArrivalSource.STATED)


def test_a_stated_arrival_before_anybody_sets_out_changes_nothing():
    t_s = np.arange(0, 5, 1 / 30)
    xy, velocity = straight(*trapezoid(t_s))
    attacker = standing(upfield(10.4), len(t_s))
    found = find_reps(xy, attacker, t_s, velocity)
    assert find_reps(xy, attacker, t_s, velocity, stated_s=0.2) == found
