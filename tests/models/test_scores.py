"""Scores: errors, coverage and conditions worked out by hand on a few made-up rows."""

from dataclasses import replace

import numpy as np
import pytest
from extra import needs_models_extra

from models.data.film_limits import AS_FILMED, Arrival
from models.data.ground import MEASURES, Outcome, Reading

pytestmark = needs_models_extra("pandas")


def outcome(source="6 marks", clip="spread-001", **readings):
    return Outcome(clip, "spread", "tripod", source, None, 1.0, 1.0, 0.0, 0.1, readings)


def read(value, truth):
    return Reading(value, 1.0, value, value, truth)


def test_errors_by_condition_by_hand():
    import pandas as pd

    from models.score.summary import by_condition

    frame = pd.DataFrame({"off": [1.0, -3.0, 2.0], "far": [False, True, True]})
    chosen = {"all": frame.off < 9, "far": frame.far, "near": ~frame.far}
    got = by_condition(frame, chosen, {"knee": frame.off}, least=2)
    assert got.index.tolist() == ["all", "far"]
    assert got.loc["all"].to_dict() == {"n": 3, "knee_error": 2.0, "knee_bias": 0.0}
    assert got.loc["far"].to_dict() == {"n": 2, "knee_error": 2.5, "knee_bias": -0.5}


def test_views_and_ranges_hold_every_row_once():
    import pandas as pd

    from models.score.summary import heights, views

    frame = pd.DataFrame(
        {"view_deg": [0, 44.9, 45, 104, 105, 179, 180], "height_px": range(90, 370, 40)}
    )
    for groups in (views(frame), heights(frame)):
        assert np.array_equal(np.sum([chosen for _, chosen in groups], axis=0), np.ones(7))


@pytest.mark.parametrize(
    ("value", "truth", "source", "near"),
    [
        (5.25, 5.0, "6 marks", True),  # a quarter of a metre a second
        (5.27, 5.0, "found", False),
        (6.29, 6.0, "6 marks", True),  # 5 % of a fast run is more than that
        (6.31, 6.0, "6 marks", False),
        (5.55, 5.0, "players", True),  # 11 %
        (5.65, 5.0, "players, heights stated", False),  # 13 %
        (1.2, 1.0, "players", False),  # a slow arrival gets no allowance
    ],
)
def test_reach_of_a_speed(value, truth, source, near):
    from models.score import ground

    frame = ground.outcomes_frame([outcome(source, arrival_speed_mps=read(value, truth))])
    assert ground.near(frame, "arrival_speed_mps").tolist() == [near]
    assert ground.near(frame, "closeout_speed_mps").tolist() == []


def test_side_counts_only_where_there_is_one():
    from models.score import ground

    pairs = ((0.2, 0.5), (-0.1, 0.5), (-0.4, -0.31), (-0.2, 0.29))
    frame = ground.outcomes_frame([outcome(approach_offset_m=read(*pair)) for pair in pairs])
    assert ground.sides_right(frame) == (2, 3)


def test_a_group_of_clips_by_hand():
    from models.score import ground

    measured = outcome(
        closeout_speed_mps=read(5.1, 5.0),
        arrival_speed_mps=read(2.0, 2.4),
        approach_offset_m=read(-0.5, -0.6),
    )
    refused = replace(outcome(clip="spread-002"), refused="no arrival found", place_off_m=None)
    frame = ground.outcomes_frame([measured, refused])
    row = ground.by_group({"6 marks": frame, "none": frame[:0]}).loc["6 marks"]
    assert (row.n, row.tried, row.right, row.sided) == (1, 2, 1, 1)
    assert row.closeout_speed_mps_error == pytest.approx(0.1)
    assert row.closeout_speed_mps_near == 1.0
    assert row.arrival_speed_mps_bias == pytest.approx(-0.4)
    assert row.arrival_speed_mps_near == 0.0
    assert row.place_cm == pytest.approx(10.0)
    assert row.on_time == 1.0


def test_only_film_that_shows_and_follows_the_whole_run_is_fair():
    from models.score import ground

    clips = [outcome(), replace(outcome(), shown=0.9), replace(outcome(), followed=0.9)]
    assert ground.outcomes_frame(clips).fair.tolist() == [True, False, False]


def test_degraded_film_is_set_against_the_same_film_as_it_is():
    from models.score.film_limits import by_degradation

    arrivals = [
        Arrival(AS_FILMED, "rep-01", 2.0, 1.0, 1.0, 0.01, 0.2, 0.0),
        Arrival(AS_FILMED, "rep-02", -4.0, 1.0, 1.0, 0.01, 0.2, 0.0),
        Arrival("dark", "rep-01", 5.0, 1.0, 0.5, 0.01, 0.1, 0.0),
        Arrival("dark", "rep-02", np.nan, np.nan, 0.0, 0.01, 0.1, 0.0),
    ]
    dark = by_degradation(arrivals).loc["dark"]
    assert (dark.n, dark.seen) == (1, 0.25)
    assert (dark.moved, dark.moved_most, dark.knee_error) == (3.0, 3.0, 5.0)


def test_every_ground_measure_has_a_column():
    from models.score import ground

    frame = ground.outcomes_frame([outcome()])
    assert {f"{key}.value" for key in MEASURES} <= set(frame.columns)


def test_by_how_far_down_the_camera_looks_by_hand():
    from models.data.bench import MARKS, BenchRep, Figure
    from models.score import foreign

    def rep(dip_deg, view_deg, off_frames, speed_mps, source=MARKS):
        figures = {
            foreign.SPEED: Figure(speed_mps, speed_mps, speed_mps, 5.0),
            foreign.SIDE: Figure(1.0, 0.5, 1.5, 1.0),
        }
        return BenchRep(
            "foreign", "foreign-000", source, "clean", [], 1.0, 0.0, 1.6, "", "", 200.0, view_deg,
            dip_deg, 1.0, arrival_off_frames=off_frames, figures=figures,
        )  # fmt: skip

    reps = [
        rep(2.9, 90, 3.0, 5.0),
        rep(2.9, 90, 9.0, 5.0, source="players"),
        rep(6.0, 24, 1.0, 6.0),
        rep(6.0, 26, -2.0, 5.2),
        rep(11.9, 154, None, 6.0),
    ]
    table = foreign.by_dip(foreign.reps_frame(reps))
    assert table.n.tolist() == [0, 1, 0, 0, 1, 2, 0, 0]
    assert table.loc["under 3°, from the side or at a slant", "on_time"] == 0
    assert table.loc["6 to 12°, along the run", "speed"] == 0
    slant = table.loc["6 to 12°, from the side or at a slant"]
    assert slant.to_dict() == {"n": 2, "on_time": 0.5, "speed": 0.5, "side": "2 of 2"}


def test_clean_breakdowns_that_the_film_hides_are_not_seen_by_hand():
    from models.data.bench import MARKS, BenchRep, Figure
    from models.score import foreign

    def rep(shown, call, tall_px=250.0):
        figures = {
            key: Figure(60.0 + shown, 50.0, 70.0, 60.0 - shown)
            for key in (
                *(foreign.KNEE, foreign.LATER_KNEE, foreign.LEAN, foreign.SPEED, foreign.SIDE),
                *(key for _, key, _ in foreign.STANCE_BESIDE),
            )
        }
        return BenchRep(
            "foreign", "foreign-000", MARKS, "clean", [], 1.0, 0.0, 1.6, "", "", tall_px, 90.0, 9.0,
            shown, call=call, arrival_off_frames=0.0, figures=figures,
        )  # fmt: skip

    reps = [
        rep(1.0, "clear"), rep(0.8, "can't tell"), rep(0.79, "can't tell"), rep(0.1, "clear"),
        rep(1.0, "can't tell", tall_px=190.0),
    ]  # fmt: skip
    frame = foreign.reps_frame(reps)
    rows = {each.what: (each.n, each.figure) for each in foreign.asked(frame)}
    assert rows["Clean breakdowns seen at 200 px and more called clear"] == (2, "50% of 2")
    table = foreign.side_by_side({"film": frame})["film"]
    (all_of_them,) = (table[each] for each in table.index if each.startswith("clean breakdowns"))
    assert all_of_them == "50% of 4"


def test_how_likely_a_fault_was_said_to_be_by_hand():
    """Staying high takes both knees: two normal tails of 0.8413 are 0.7079 together."""
    from models.data.bench import MARKS, BenchRep, Figure
    from models.score import foreign

    def rep(knee_deg, true_deg):
        # One standard deviation is 10 degrees.
        read = Figure(knee_deg, knee_deg - 16.45, knee_deg + 16.45, true_deg)
        figures = {foreign.KNEE: read, foreign.LATER_KNEE: read}
        return BenchRep(
            "foreign", "foreign-000", MARKS, "clean", [], 1.0, 0.0, 1.6, "", "", 250.0, 90.0, 9.0,
            1.0, figures=figures,
        )  # fmt: skip

    # 45 degrees are asked for.
    frame = foreign.reps_frame([rep(35.0, 40.0), rep(35.0, 50.0), rep(55.0, 60.0)])
    table = foreign.by_chance(frame)
    likely = table.loc["50% to 80%"]
    assert (likely.marks_n, likely.marks_there) == (2, 0.5)
    assert likely.marks_said == pytest.approx(0.8413**2, abs=1e-3)
    # Late is the same knee under 45 and over: 0.8413 x 0.1587, there in neither.
    assert table.loc["5% to 20%"].marks_n == 3
    unlikely = table.loc["1% to 5%"]
    assert (unlikely.marks_n, unlikely.marks_there) == (1, 0)
    assert unlikely.marks_said == pytest.approx(0.1587**2, abs=1e-3)
    assert table.players_n.sum() == 0
