import numpy as np
import pytest

from posecheck.body.stance_track import STANCE
from posecheck.filming.conditions import Conditions, StanceReading
from posecheck.filming.limits import unfit
from posecheck.filming.look import NOT_LOOKED, Look
from posecheck.measures.figures import figure
from posecheck.measures.intervals import (
    Elsewhen,
    GroundReading,
    Intervals,
    Spread,
    default_intervals,
)
from posecheck.measures.quantities import QUANTITIES, QUANTITY, ReadFrom
from posecheck.measures.tuning import BY_SIDE

GOOD = Conditions(view_deg=90, height_px=300, score=0.9, seen=13, of=13)

INTERVALS = Intervals(
    stance={
        "knee_bend_deg": {
            "front_bent": (1.0, 1.0),
            "side_bent": (0.5, 0.5),
            "behind_bent": (2.0, 3.0),
            "front_straight": (0.25, 0.2),
            "side_straight": (0.4, 0.3),
            "behind_straight": (0.75, 0.6),
        }
    },
    ground={"overrun_m": {"marks": Spread(1.645, 0.3), "players": Spread(2.0, 0.3)}},
)


READ = {
    "knee_bend_deg": (50.0, 12.0, 20.0),
    "trunk_lean_deg": (30.0, 8.0, 6.0),
    "hip_drop": (0.2, 0.05, 0.04),
}
"""By measure, a value with its margins below and above."""


def conditions(**changed):
    return Conditions(**(vars(GOOD) | changed))


def reading(value=50.0, below=12.0, above=20.0, **changed):
    return StanceReading(value, below, above, conditions(**changed))


def test_the_margins_are_sized_by_the_measure_s_factor_on_either_side():
    measure = INTERVALS.stance_measure("knee_bend_deg", reading())
    assert (measure.low, measure.value, measure.high) == (44.0, 50.0, 60.0)


@pytest.mark.parametrize(
    ("view_deg", "below", "above"),
    [(0, 1, 1), (44.9, 1, 1), (45, 0.5, 0.5), (104.9, 0.5, 0.5), (105, 2, 3), (180, 2, 3)],
)
def test_factors_are_those_of_the_side_he_is_seen_from(view_deg, below, above):
    seen = reading(view_deg=view_deg)
    longer = BY_SIDE["knee_bend_deg"].get(seen.conditions.seen_from, 1.0)
    measure = INTERVALS.stance_measure("knee_bend_deg", seen)
    assert measure.low == pytest.approx(50 - longer * 12 * below)
    assert measure.high == pytest.approx(50 + longer * 20 * above)


def test_knees_are_least_sure_from_the_front_and_trunks_from_the_side():
    def half(key, view_deg):
        value, below, above = READ[key]
        read = StanceReading(value, below, above, conditions(view_deg=view_deg))
        by_group = {f"{side}_bent": (0.5, 0.5) for side in ("front", "side", "behind")}
        measure = Intervals({key: by_group}, {}).stance_measure(key, read)
        return (measure.high - measure.low) / (below + above)

    front, side, behind = (half("knee_bend_deg", view_deg) for view_deg in (0, 90, 180))
    assert (front, side, behind) == pytest.approx((0.6, 0.5, 0.45))
    front, side, behind = (half("trunk_lean_deg", view_deg) for view_deg in (0, 90, 180))
    assert (front, side, behind) == pytest.approx((0.5, 0.55, 0.425))


def test_straight_legs_have_intervals_of_their_own():
    measure = INTERVALS.stance_measure("knee_bend_deg", reading(20.0, view_deg=90, bent=False))
    assert (measure.low, measure.high) == (20 - 12 * 0.4, 20 + 20 * 0.3)


def test_what_stands_in_for_a_hidden_step_widens_the_interval_by_what_that_may_be_off():
    # 1.2 * 0.25 * 20 below and 1.2 * 0.2 * 30 above, as from the front; 8 and 6.5 degrees for the
    # step, which err apart.
    hidden = reading(20.0, 20.0, 30.0, view_deg=0, bent=False, seen=5, hidden=8)
    measure = INTERVALS.stance_measure("knee_bend_deg", hidden)
    assert measure.low == pytest.approx(20 - np.hypot(6, 8))
    assert measure.high == pytest.approx(20 + np.hypot(7.2, 6.5))


@pytest.mark.parametrize(
    ("key", "shorter"), [("knee_bend_deg", 0.85), ("trunk_lean_deg", 0.7), ("hip_drop", 1.0)]
)
def test_with_points_marked_knees_and_trunk_at_arrival_are_surer(key, shorter):
    one = StanceReading(*READ[key], GOOD)
    alone, with_points = (
        default_intervals().stance_measure(key, one, source=source)
        for source in ("players", "marks")
    )
    assert with_points.value == alone.value
    assert alone.value - alone.low > 0 < alone.high - alone.value
    assert alone.value - with_points.low == pytest.approx(shorter * (alone.value - alone.low))
    assert with_points.high - alone.value == pytest.approx(shorter * (alone.high - alone.value))


def test_knees_read_after_arrival_are_no_surer_with_points_marked():
    alone, with_points = (
        INTERVALS.stance_measure("late_knee_bend_deg", reading(), source=source)
        for source in ("players", "marks")
    )
    assert with_points == alone


def test_knees_read_after_arrival_may_be_bent_more_than_at_arrival_is_allowed_for():
    later = INTERVALS.stance_measure("late_knee_bend_deg", reading())
    at_arrival = INTERVALS.stance_measure("knee_bend_deg", reading())
    assert later.low == at_arrival.low
    assert later.high - 50 == pytest.approx(np.hypot(at_arrival.high - 50, 9))


def test_a_stance_that_does_not_change_has_the_same_interval_whenever_he_arrived():
    steady = [Elsewhen(0.6, reading()), Elsewhen(0.6, reading())]
    measure = INTERVALS.stance_measure("knee_bend_deg", reading(), steady)
    assert (measure.low, measure.value, measure.high) == pytest.approx((44.0, 50.0, 60.0))


def test_an_interval_over_several_moments_is_that_of_the_mixture():
    """Against draws: a moment by its likelihood, then an error of the size read at that moment."""
    moments = [(1.0, 50.0, 12.0, 20.0), (0.6, 40.0, 8.0, 8.0), (0.3, 70.0, 20.0, 12.0)]
    weights = np.array([weight for weight, *_ in moments])
    rng = np.random.default_rng(0)
    which = rng.choice(3, 400_000, p=weights / weights.sum())
    drawn = rng.normal(size=len(which))
    _, values, below, above = np.array(moments).T[:, which]
    size = np.where(drawn < 0, 0.5 * below, 0.5 * above) / 1.6449
    wanted = np.quantile(values + drawn * size, (0.05, 0.95))

    first, *others = (Elsewhen(weight, reading(*read)) for weight, *read in moments)
    measure = INTERVALS.stance_measure("knee_bend_deg", first.reading, others)
    assert measure.value == 50.0
    assert (measure.low, measure.high) == pytest.approx(wanted, abs=0.1)


def test_a_moment_that_the_film_does_not_show_says_nothing_of_the_stance():
    unseen = Elsewhen(0.6, reading(20.0, seen=3))
    measure = INTERVALS.stance_measure("knee_bend_deg", reading(), [unseen])
    assert (measure.low, measure.high) == (44.0, 60.0)


def test_an_interval_ends_where_the_measure_does():
    assert INTERVALS.stance_measure("knee_bend_deg", reading(4.0)).low == 0.0


@pytest.mark.parametrize("key", sorted(QUANTITY))
def test_what_no_player_can_do_is_a_misreading_and_goes_missing(key):
    """Just inside the plausible range a value stays, just outside it is missing with the reason."""
    quantity, usual = QUANTITY[key], default_intervals()

    def measure(value):
        if quantity.read_from is ReadFrom.STANCE:
            return usual.stance_measure(key, reading(value))
        return usual.ground_measure(key, GroundReading(value, 0.1), "marks", "")

    least, greatest = quantity.plausible
    for value in (least, greatest):
        assert measure(value).value == value
    outside = [greatest + 0.1 * (greatest - least)]
    if quantity.signed:
        outside.append(least - 0.1 * (greatest - least))
    for value in outside:
        missed = measure(value)
        assert missed.value is None
        assert figure(key, value) in missed.missing_because


@pytest.mark.parametrize(
    ("changed", "because"),
    [
        ({"seen": 6}, "the defender is seen in only 6 of the 13 frames around it"),
        (
            {"seen": 0, "height_px": float("nan")},
            "the defender is seen in only 0 of the 13 frames around it",
        ),
        (
            {"height_px": 99.0},
            "the defender is too small in the picture, 99 px tall",
        ),
        ({"score": 0.49}, "hips, knees and ankles are too hidden or blurred"),
        ({"score": float("nan")}, "hips, knees and ankles are too hidden or blurred"),
        (
            {"look": Look(0.08, 0.3, 0.0)},
            "the defender is blurred: his edges are 8% of his height wide, 5% is the most",
        ),
        (
            {"look": Look(0.01, 0.9, 0.4)},
            "40% of the defender is burnt out, 30% is the most",
        ),
        ({"look": Look(0.01, 0.01, 0.0)}, "the defender is too dark in the picture"),
    ],
)
def test_film_that_cannot_show_it_gives_a_reason_and_no_value(changed, because):
    measure = INTERVALS.stance_measure("knee_bend_deg", reading(**changed))
    assert (measure.value, measure.missing_because) == (None, because)


@pytest.mark.parametrize("look", [NOT_LOOKED, Look(0.05, 0.02, 0.3)])
def test_a_picture_at_its_limits_or_not_looked_at_hinders_nothing(look):
    assert unfit(conditions(look=look)) is None


def test_a_measure_says_what_it_was_read_from():
    measure = INTERVALS.stance_measure("knee_bend_deg", reading())
    assert measure.read_from == "13 of 13 frames, 300 px tall, seen side-on"


@pytest.mark.parametrize(
    ("view_deg", "words"),
    [
        (0, "from the front"),
        (45, "at a slant from the front"),
        (100, "side-on"),
        (140, "at a slant from behind"),
        (180, "from behind"),
    ],
)
def test_views_in_words(view_deg, words):
    assert conditions(view_deg=view_deg).described.endswith(f"seen {words}")


def test_ground_measures_widen_with_the_track_and_end_at_nothing():
    # sqrt(0.3² + 0.4²) = 0.5
    measure = INTERVALS.ground_measure("overrun_m", GroundReading(0.5, 0.4), "marks", "")
    assert measure.low == 0.0
    assert measure.high == pytest.approx(0.5 + 1.645 * 0.5)
    players = INTERVALS.ground_measure(
        "overrun_m", GroundReading(2.0, 0.4, unseen_above=3.0), "players", ""
    )
    assert (players.low, players.high) == pytest.approx((1.0, 6.0))


def test_the_shipped_table_covers_every_measure():
    intervals = default_intervals()
    assert set(intervals.stance) == set(STANCE)
    for read_from, table in (
        (ReadFrom.STANCE, intervals.stance),
        (ReadFrom.GROUND, intervals.ground),
    ):
        assert set(table) == {q.base for q in QUANTITIES if q.read_from is read_from}
    assert all(
        0.1 < factor < 3
        for by_group in intervals.stance.values()
        for factors in by_group.values()
        for factor in factors
    )
    assert all(set(spreads) == {"marks", "players"} for spreads in intervals.ground.values())
