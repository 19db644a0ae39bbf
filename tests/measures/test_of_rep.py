"""Whole reps put together from a body of known stance and a run worked by hand."""

import numpy as np
import pytest
from bodies import camera_at

from posecheck.body.stance_track import STANCE, StanceTrack
from posecheck.filming.look import Look, Looks
from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.measures.intervals import default_intervals
from posecheck.measures.of_rep import LOST_BEFORE, measure_rep
from posecheck.measures.quantities import QUANTITIES
from posecheck.measures.tuning import BY_SIDE, SURER_WITH_POINTS
from posecheck.practice.layout import Side
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.reps.splitting import find_reps

CAMERA = camera_at((9.0, 9.0, 1.8), (0.0, 9.0, 0.8))
T_S = np.arange(0, 5, 1 / 30)
ATTACKER = np.array([0.0, 13.9])
ARRIVAL_S = 1.8  # (13.9 - 1.8 - 3.1) m at 5 m/s


MARGIN = {
    "knee_bend_deg": 8.0, "trunk_lean_deg": 5.0, "hip_drop": 0.03, "hand_reach": 0.1,
    "hand_height": 0.1, "base_width": 0.5,
}  # fmt: skip
"""What the net leaves below a reading; above, here, twice that."""


def ground(**changed):
    known = {
        "camera": CAMERA,
        "source": "marks",
        "described": "6 marked points, fit to 4 cm",
        "scale_sd": 0.01,
        "depth_sd": 0.02,
        "on_field": True,
    }
    return Ground(**(known | changed))


def on_ground(xy_m, t_s=T_S, sd_m=0.05):
    velocity = np.gradient(xy_m, t_s, axis=0)
    n = len(t_s)
    return GroundTrack(t_s, xy_m, velocity, np.full(n, sd_m), np.full(n, 0.1))


def run(t_s=T_S, until_m=11.6):
    """5 m/s straight up the field from 3.1 m, stopping dead."""
    return np.stack([0 * t_s, np.minimum(3.1 + 5 * t_s, until_m + 0.0)], axis=1)


def stance(t_s=T_S, knee_bend_deg=60.0, score=0.9):
    """Held in every frame, or as given frame by frame."""
    held = {
        "knee_bend_deg": knee_bend_deg,
        "trunk_lean_deg": 30.0,
        "hip_drop": 0.12,
        "hand_reach": 0.6,
        "hand_height": 0.5,
        "base_width": 1.9,
        "view_deg": 90.0,
        "height_px": 300.0,
        "score": score,
    }
    below = {key: np.full(len(t_s), MARGIN[key]) for key in STANCE}
    return StanceTrack(
        t_s,
        **{key: np.broadcast_to(value, len(t_s)) for key, value in held.items()},
        below=below,
        above={key: 2 * values for key, values in below.items()},
    )


def measured(
    t_s=T_S, until_m=13.0, bends_at_s=0.0, attacker=True, score=0.9,
    lost_s=(9.0, 9.0), hidden_s=(9.0, 9.0), **options,
):  # fmt: skip
    xy = run(t_s, until_m)
    xy[(t_s > lost_s[0]) & (t_s < lost_s[1])] = np.nan
    there = np.tile(ATTACKER, (len(t_s), 1))
    there[(t_s > hidden_s[0]) & (t_s < hidden_s[1])] = np.nan
    other = on_ground(there, t_s) if attacker else None
    known = options.pop("known", ground())
    (rep,) = find_reps(
        xy, other.xy_m if other else None, t_s, on_ground(xy, t_s).velocity_mps,
        cone_xy_m=options.get("cone_xy_m"), stated_s=options.pop("stated_s", None),
    )  # fmt: skip
    held = stance(t_s, np.where(t_s >= bends_at_s, 60.0, 10.0), score)
    return rep, measure_rep(rep, held, on_ground(xy, t_s), other, known, **options)


def test_error_bars_are_the_net_s_own_sized_by_the_table():
    _, measures = measured(spot_side=Side.MIDDLE)
    factors = {key: by_group["side_bent"] for key, by_group in default_intervals().stance.items()}
    for key in STANCE:
        measure = measures[key]
        asked = SURER_WITH_POINTS.get(key, 1.0) * BY_SIDE.get(key, {}).get("side", 1.0)
        below, above = asked * np.array(factors[key])
        assert measure.value - measure.low == pytest.approx(below * MARGIN[key])
        assert measure.high - measure.value == pytest.approx(2 * above * MARGIN[key])


def test_a_stance_that_changes_around_a_vague_arrival_is_as_vague():
    """Bent from 0.1 s after arrival on, the median of its window is 60; of one that begins a frame
    earlier it is no longer, and the moment is not known to a frame."""
    _, held = measured(spot_side=Side.MIDDLE)
    _, changes = measured(spot_side=Side.MIDDLE, bends_at_s=ARRIVAL_S + 0.09)
    assert held["knee_bend_deg"].value == changes["knee_bend_deg"].value == 60.0
    assert changes["knee_bend_deg"].low <= 35.0 < held["knee_bend_deg"].low
    assert changes["trunk_lean_deg"] == held["trunk_lean_deg"]


def test_nothing_is_measured_at_an_arrival_that_is_expected():
    # Lost at about 1.3 s, half a second before he would be there; in reach when seen again.
    rep, measures = measured(spot_side=Side.MIDDLE, lost_s=(1.3, 2.4))
    assert rep.arrival_s is None
    assert rep.expected_s == pytest.approx(ARRIVAL_S, abs=0.03)
    assert {each.value for each in measures.values()} == {None}
    assert {each.missing_because for each in measures.values()} == {LOST_BEFORE}


def test_an_attacker_who_was_hidden_stands_where_he_is_seen_again():
    _, seen = measured(spot_side=Side.MIDDLE)
    rep, hidden = measured(spot_side=Side.MIDDLE, hidden_s=(1.3, 2.5))
    assert rep.arrival_s == pytest.approx(ARRIVAL_S)
    for key in ("closeout_speed_mps", "approach_offset_m", "heading_deg", "overrun_m"):
        assert hidden[key].value == pytest.approx(seen[key].value, abs=1e-6)
    # What he did after arrival was not seen.
    assert hidden["attacker_went_m"].value is None


def test_every_quantity_is_there_and_right():
    rep, measures = measured(spot_side=Side.MIDDLE)
    assert rep.arrival_s == pytest.approx(ARRIVAL_S)
    assert list(measures) == [quantity.key for quantity in QUANTITIES]
    values = {key: measure.value for key, measure in measures.items()}
    assert values["closeout_speed_mps"] == pytest.approx(5.0)
    assert values["arrival_speed_mps"] == pytest.approx(5.0)
    assert values["braking_distance_m"] == 0.0
    assert values["overrun_m"] == 0.0
    assert values["approach_offset_m"] == pytest.approx(0.0)
    assert values["heading_deg"] == pytest.approx(0.0)
    assert values["goal_side_m"] == pytest.approx(13.9 - 13.0)
    assert values["attacker_went_m"] == pytest.approx(0.0)
    for measure in measures.values():
        if measure.value is not None:
            assert measure.low <= measure.value <= measure.high
            assert measure.read_from


def test_already_running_when_the_film_begins_has_no_time_to_arrive():
    _, measures = measured()
    because = measures["time_to_arrival_s"].missing_because
    assert because == "he is already running when first seen"


def test_a_run_first_seen_while_he_brakes_has_no_peak_and_no_path_but_an_arrival():
    """From 7 m/s at first sight down by 2 m/s^2: after 9 m at the root of 49 - 36 = 13."""
    xy = np.stack([0 * T_S, 3.1 + np.where(T_S < 3.5, 7 * T_S - T_S**2, 12.25)], axis=1)
    track = on_ground(xy)
    attacker = on_ground(np.tile(ATTACKER, (len(T_S), 1)))
    (rep,) = find_reps(xy, attacker.xy_m, T_S, track.velocity_mps)
    measures = measure_rep(rep, stance(), track, attacker, ground(), spot_side=Side.MIDDLE)
    for key in ("closeout_speed_mps", "braking_distance_m"):
        assert measures[key].missing_because == (
            "he is already braking when first seen, and was faster before"
        )
    assert measures["bow_m"].missing_because == (
        "he is already running when first seen, so the path lacks its beginning"
    )
    assert measures["arrival_speed_mps"].value == pytest.approx(np.sqrt(13), abs=0.05)


def braking_run(lost_s):
    """Stands until 0.5 s, up to 7 m/s at 5 m/s², holds it for 0.2 s and brakes at 3 m/s² until he
    stands at 4.43 s, 0.9 m before the attacker; out of sight between two moments."""
    t_s = np.arange(0, 6, 1 / 30)
    speed = np.interp(t_s, [0.5, 1.9, 2.1, 2.1 + 7 / 3], [0, 7, 7, 0])
    gone_m = np.concatenate([[0], np.cumsum((speed[1:] + speed[:-1]) / 2 / 30)])
    xy = np.stack([0 * t_s, gone_m], axis=1)
    velocity = np.gradient(xy, t_s, axis=0)
    lost = (t_s > lost_s[0]) & (t_s < lost_s[1])
    xy[lost], velocity[lost] = np.nan, np.nan
    n = len(t_s)
    track = GroundTrack(t_s, xy, velocity, np.full(n, 0.05), np.full(n, 0.1))
    attacker = on_ground(np.tile([0.0, gone_m[-1] + 0.9], (n, 1)), t_s)
    (rep,) = find_reps(xy, attacker.xy_m, t_s, velocity)
    return measure_rep(rep, stance(t_s), track, attacker, ground(), spot_side=Side.MIDDLE)


OF_THE_WHOLE_RUN = ("closeout_speed_mps", "braking_distance_m", "speed_kept")


@pytest.mark.parametrize("lost_s", [(1.75, 2.38), (1.65, 2.5), (1.55, 2.6)])
def test_a_peak_out_of_sight_is_inside_the_bars(lost_s):
    shown, hidden = braking_run((9.0, 9.0)), braking_run(lost_s)
    for key in OF_THE_WHOLE_RUN:
        assert hidden[key].low < shown[key].value < hidden[key].high
    assert shown["closeout_speed_mps"].value == pytest.approx(7.0)
    assert hidden["closeout_speed_mps"].value < 6.3  # what was seen


@pytest.mark.parametrize("lost_s", [(0.9, 1.45), (0.7, 1.6)])
def test_a_gap_that_can_hide_no_peak_leaves_the_bars_as_they_are(lost_s):
    shown, hidden = braking_run((9.0, 9.0)), braking_run(lost_s)
    for key in OF_THE_WHOLE_RUN:
        assert hidden[key].high - hidden[key].low == pytest.approx(shown[key].high - shown[key].low)


def test_who_was_seen_standing_and_is_back_braking_has_no_peak():
    measures = braking_run((0.2, 2.6))
    for key in (*OF_THE_WHOLE_RUN, "time_to_arrival_s", "bow_m"):
        assert measures[key].value is None
    assert "already braking" in measures["closeout_speed_mps"].missing_because
    assert measures["arrival_speed_mps"].value is not None


def test_a_stance_that_comes_late_shows_in_the_later_window_only():
    _, early = measured(bends_at_s=1.5)
    _, late = measured(bends_at_s=ARRIVAL_S + 0.4)
    difference = early["knee_bend_deg"].value - late["knee_bend_deg"].value
    assert difference == 50.0
    assert late["late_knee_bend_deg"].value == early["late_knee_bend_deg"].value


def test_running_past_is_measured_along_the_run():
    _, measures = measured(until_m=15.5)
    assert measures["overrun_m"].value == pytest.approx(1.6)


def test_film_that_ends_early_leaves_the_overrun_open_upwards():
    # The last frame at 1.967 s shows him at 12.9 m, still at 5 m/s, with 0.83 s to go.
    _, measures = measured(t_s=np.arange(60) / 30, until_m=99)
    assert measures["overrun_m"].value == 0.0
    assert measures["overrun_m"].high > 4.0
    because = measures["late_knee_bend_deg"].missing_because
    assert because == "the defender is seen in only 0 of the 16 frames around it"


def test_film_that_ends_early_leaves_open_how_hard_he_brakes():
    """Last seen at 5 m/s he may stand 0.2 s later, by 25 m/s²;
    seen to the end he is known never to have braked."""
    _, cut = measured(t_s=np.arange(60) / 30, until_m=99)
    _, whole = measured(until_m=99)
    shown, known = cut["peak_braking_mps2"], whole["peak_braking_mps2"]
    assert [shown.value, known.value] == pytest.approx([0.0, 0.0], abs=1e-6)
    assert known.high < 2.0
    assert shown.high - known.high == pytest.approx(25.0, abs=0.1)


def test_film_that_ends_early_leaves_open_who_was_goal_side():
    # Stopped 1.1 m in front; the film ends 0.4 s after arrival with both standing still.
    rep, whole = measured(until_m=12.8)
    _, cut = measured(t_s=np.arange(67) / 30, until_m=12.8)
    assert rep.arrival_s == pytest.approx(ARRIVAL_S)
    assert cut["goal_side_m"].value == pytest.approx(whole["goal_side_m"].value)
    assert cut["goal_side_m"].high == pytest.approx(whole["goal_side_m"].high)
    # An attacker who bursts at 4 m/s^2 gains 2 m/s^2 * (0.6 s)^2 in what is not shown.
    assert whole["goal_side_m"].low - cut["goal_side_m"].low == pytest.approx(0.72, abs=0.01)
    assert cut["attacker_went_m"].missing_because == (
        "the attacker is not seen until a second after arrival"
    )


def test_an_attacker_out_of_sight_after_arrival_leaves_the_aftermath_open():
    track = on_ground(np.tile(ATTACKER, (len(T_S), 1)))
    gone = T_S > ARRIVAL_S - 0.1
    hidden = GroundTrack(
        T_S,
        np.where(gone[:, None], np.nan, track.xy_m),
        np.where(gone[:, None], np.nan, track.velocity_mps),
        np.where(gone, np.nan, track.sd_m),
        np.where(gone, np.nan, track.speed_sd_mps),
    )
    rep = Rep(0.0, None, ARRIVAL_S, 2.8, ArrivalSource.ATTACKER)
    measures = measure_rep(rep, stance(), on_ground(run()), hidden, ground())
    assert measures["goal_side_m"].missing_because == (
        "the two are not seen together after arrival"
    )
    assert measures["attacker_went_m"].value is None


def test_a_vague_beginning_does_not_bow_the_path():
    """At the film's first frames a place may be off by half a metre, and is known to be."""
    xy, sd = run(), np.full(len(T_S), 0.15)
    first = T_S < 0.3
    xy[first, 0], sd[first] = 0.5, 0.6
    track = on_ground(xy)
    velocity = np.where(first[:, None], 0.0, track.velocity_mps)  # he is seen to set off
    track = GroundTrack(T_S, xy, velocity, sd, track.speed_sd_mps)
    attacker = on_ground(np.tile(ATTACKER, (len(T_S), 1)))
    rep = Rep(0.0, None, ARRIVAL_S, 2.8, ArrivalSource.ATTACKER)
    measures = measure_rep(rep, stance(), track, attacker, ground(), spot_side=Side.MIDDLE)
    assert measures["bow_m"].value == pytest.approx(0.0)
    # By hand: 0.15 m, and half its variance again from the chord's ends, over the floor; times
    # the factor found for 90 % (models/GROUND_CARD.md).
    bars = default_intervals().ground["bow_m"]["marks"]
    half = bars.factor * np.sqrt(1.5 * 0.15**2 + bars.floor**2)
    assert measures["bow_m"].high == pytest.approx(half)


def test_without_the_field_sides_are_missing_with_the_reason():
    _, measures = measured(known=ground(source="players", on_field=False))
    assert measures["overrun_m"].value is not None
    for key in ("approach_offset_m", "bow_m", "heading_deg", "goal_side_m", "attacker_went_m"):
        assert measures[key].missing_because == (
            "the goal is not among the marked points, so sides are not known"
        )


def test_without_an_attacker_the_cone_stands_in_and_without_a_cone_nobody():
    rep, measures = measured(attacker=False, cone_xy_m=ATTACKER)
    assert rep.source is ArrivalSource.CONE
    assert measures["overrun_m"].value == 0.0
    assert measures["goal_side_m"].missing_because == "the attacker is not seen"
    # Where he waits at his cone is known to 0.25 m, and with it everything measured from there.
    side = measures["approach_offset_m"]
    factor = default_intervals().ground["approach_offset_m"]["marks"].factor
    assert side.high - side.low > 2 * factor * 0.25
    _, measures = measured(attacker=False)
    for key in ("overrun_m", "approach_offset_m", "bow_m"):
        assert measures[key].missing_because == (
            "neither the attacker nor his cone is there to measure to"
        )
    assert measures["closeout_speed_mps"].value == pytest.approx(5.0)


def test_without_arrival_everything_is_missing():
    rep = Rep(0.5, None, None, 4.0, None)
    measures = measure_rep(rep, stance(), on_ground(run()), None, ground())
    assert {m.missing_because for m in measures.values()} == {"the film does not show the arrival"}


def test_hidden_legs_leave_no_stance_but_speed_stays():
    _, measures = measured(score=0.3)
    assert measures["knee_bend_deg"].missing_because == (
        "hips, knees and ankles are too hidden or blurred"
    )
    assert measures["closeout_speed_mps"].value == pytest.approx(5.0)


def test_a_ground_known_less_well_widens_what_is_read_from_it():
    _, sure = measured()
    _, vague = measured(known=ground(scale_sd=0.1, depth_sd=0.2), until_m=15.5)
    width = {
        name: each["overrun_m"].high - each["overrun_m"].low
        for name, each in (("sure", sure), ("vague", vague))
    }
    assert width["vague"] > width["sure"]


def test_a_blurred_player_s_stance_is_missing_but_his_run_is_not():
    blurred = Looks(np.array([ARRIVAL_S]), (Look(blur=0.09, light=0.3, burnt=0.0),))
    _, measures = measured(looks=blurred)
    knee = measures["knee_bend_deg"]
    assert knee.value is None
    assert knee.missing_because.startswith("the defender is blurred")
    # Half a second later nobody looked.
    assert measures["late_knee_bend_deg"].value == pytest.approx(60)
    assert measures["closeout_speed_mps"].value == pytest.approx(5.0)


@pytest.mark.parametrize(("rate_hz", "enough"), [(8, False), (10, True)])
def test_nothing_is_measured_from_too_few_frames_a_second(rate_hz, enough):
    _, measures = measured(t_s=np.arange(0, 5, 1 / rate_hz))
    assert (measures["closeout_speed_mps"].value is not None) == enough
    if not enough:
        because = {measure.missing_because for measure in measures.values()}
        assert because == {"the film has only 8 frames a second, 10 are needed"}


def test_of_film_slow_in_part_only_the_stance_at_arrival_is_measured():
    because = "a part of the film plays in slow motion"
    _, as_ever = measured()
    _, measures = measured(untimed_because=because)
    left = {key for key, measure in measures.items() if measure.value is not None}
    assert left == set(MARGIN)
    assert all(measures[key] == as_ever[key] for key in left)
    others = {measure.missing_because for key, measure in measures.items() if key not in left}
    assert others == {because}


RULED_OUT = "the player taken for the attacker is never within 1.8 m of the defender"
AGAINST_HIM = (
    "overrun_m", "approach_offset_m", "bow_m", "heading_deg", "goal_side_m", "attacker_went_m",
)  # fmt: skip


@pytest.mark.parametrize("source", [ArrivalSource.BRAKING, ArrivalSource.CONE])
def test_nothing_is_measured_against_an_attacker_who_is_ruled_out(source):
    """The cone takes his place only where the defender has come to the cone."""
    measures = measure_rep(
        Rep(0.0, None, ARRIVAL_S, 2.8, source),
        stance(),
        on_ground(run()),
        None,
        ground(),
        cone_xy_m=ATTACKER,
        no_attacker_because=RULED_OUT,
    )
    at_the_cone = source is ArrivalSource.CONE
    for key in AGAINST_HIM:
        against_the_cone = at_the_cone and key not in ("goal_side_m", "attacker_went_m")
        # The film's first frame already shows him running: no bow either way.
        if key != "bow_m" or not at_the_cone:
            assert (measures[key].value is not None) is against_the_cone, key
        if not against_the_cone:
            assert measures[key].missing_because == RULED_OUT
    assert measures["arrival_speed_mps"].value is not None
    assert measures["knee_bend_deg"].value is not None


def test_what_hangs_on_a_stated_arrival_says_so():
    """He runs at 5 m/s and bends at 1.9 s: half a second earlier he was straight."""
    _, read = measured(bends_at_s=ARRIVAL_S - 0.2, spot_side=Side.MIDDLE)
    rep, stated = measured(
        bends_at_s=ARRIVAL_S - 0.2, spot_side=Side.MIDDLE, stated_s=ARRIVAL_S - 0.6
    )
    assert rep.arrival_s == pytest.approx(ARRIVAL_S - 0.6)
    assert read["knee_bend_deg"].value == pytest.approx(60.0)
    assert stated["knee_bend_deg"].value == pytest.approx(10.0)
    assert stated["time_to_arrival_s"].missing_because == read["time_to_arrival_s"].missing_because
    for key, measure in stated.items():
        if measure.value is not None:
            assert measure.read_from.endswith("; arrival as stated"), key
            assert "as stated" not in read[key].read_from


def test_a_stated_arrival_is_sure_to_a_frame():
    def half(measure):
        return (measure.high - measure.low) / 2

    _, read = measured(known=ground(scale_sd=0.0))
    _, stated = measured(known=ground(scale_sd=0.0), stated_s=ARRIVAL_S)
    assert half(stated["arrival_speed_mps"]) <= half(read["arrival_speed_mps"])
