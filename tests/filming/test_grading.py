"""What is said of the film of a rep, on made-up tracks with one fault each."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from posecheck.body.stance_track import StanceTrack
from posecheck.camera.motion import CameraMotion
from posecheck.filming.grading import grade_film
from posecheck.filming.limits import unfit
from posecheck.filming.look import NO_LOOKS, Look, Looks
from posecheck.filming.quality import Aspect, FilmQuality, Grade, Graded
from posecheck.filming.stance_reading import stance_reading
from posecheck.filming.steps import Steps
from posecheck.reps.rep import ArrivalSource, Rep, arrival_window

REP = Rep(0.5, 1.5, 2.0, 3.0, ArrivalSource.ATTACKER)
FULL_HD = (1920, 1080)


def stance(
    height_px: float = 300.0,
    rate_hz: float = 30.0,
    view_deg: float = 90.0,
    score: float = 0.9,
    hidden: tuple[float, float] = (9.0, 9.0),
) -> StanceTrack:
    t_s = np.arange(0, 3.5, 1 / rate_hz)
    knee = np.full(len(t_s), 30.0)
    knee[(t_s >= hidden[0]) & (t_s < hidden[1])] = np.nan
    plain = np.zeros(len(t_s))
    return StanceTrack(
        t_s, knee, plain, plain, plain, plain, plain, plain + view_deg, plain + height_px,
        plain + score, {"knee_bend_deg": plain + 10}, {"knee_bend_deg": plain + 10},
    )  # fmt: skip


def looks(blur: float = 0.01, light: float = 0.3, burnt: float = 0.0) -> Looks:
    return Looks(np.array([2.0, 2.1]), (Look(blur, light, burnt),) * 2)


def quality(
    seen: Looks | None = None,
    lost: tuple[float, float] = (9.0, 9.0),
    size_px: tuple[int, int] = FULL_HD,
    distance_m: float = 12.0,
    phone_m: float = 1.6,
    **track: object,
) -> FilmQuality:
    held = stance(**track)  # type: ignore[arg-type]
    n = len(held.t_s)
    tracked = ~((held.t_s >= lost[0]) & (held.t_s < lost[1]))
    motion = CameraMotion(np.tile(np.eye(3), (n, 1, 1)), tracked)
    held.knee_bend_deg[~tracked] = np.nan
    return grade_film(
        REP,
        held,
        motion,
        looks() if seen is None else seen,
        size_px=size_px,
        distance_m=distance_m,
        phone_m=phone_m,
    )


GOOD, USABLE, TOO_POOR = Grade


def test_film_that_looks_slow_is_too_poor_and_says_how_slow() -> None:
    held = stance()
    still = CameraMotion(np.tile(np.eye(3), (len(held.t_s), 1, 1)), np.ones(len(held.t_s), bool))
    found = grade_film(REP, held, still, looks(), size_px=FULL_HD, steps=Steps(1.45, 1.4))
    (limit,) = found.limits
    assert (found.grade, limit.aspect) == (TOO_POOR, Aspect.SPEED)
    assert limit.found == "it looks like slow motion: he takes 1.4 steps a second of 1.4 m each"
    assert limit.fix == (
        "Write in practice.toml how many times slower than life it plays: slow_motion = 2 by the "
        "look of it, or 1 if it does not."
    )


def test_film_slow_in_part_is_usable_and_says_where() -> None:
    held = stance()
    still = CameraMotion(np.tile(np.eye(3), (len(held.t_s), 1, 1)), np.ones(len(held.t_s), bool))
    shown = "after 5.1 m/s he goes on at 1.3 m/s around 2.7 s, with 0.9 steps a second"
    found = grade_film(REP, held, still, looks(), size_px=FULL_HD, slow_in_part=shown)
    (limit,) = found.limits
    assert (found.grade, limit.aspect) == (USABLE, Aspect.SLOW_PART)
    assert limit.found == f"a part of it plays in slow motion: {shown}"
    assert "slow_motion = 1" in limit.fix


def test_a_phone_of_unknown_height_is_no_fault() -> None:
    for unknown in ({"phone_m": math.nan}, {"distance_m": math.nan}):
        found = quality(**unknown)  # type: ignore[arg-type]
        assert Aspect.HEIGHT not in [each.aspect for each in found.aspects]
        assert found.grade is GOOD


def test_a_good_film_is_good_in_every_respect() -> None:
    found = quality()
    # Of how fast the film plays something is said only when it looks slow.
    assert [each.aspect for each in found.aspects] == [
        each for each in Aspect if each not in (Aspect.SPEED, Aspect.SLOW_PART)
    ]
    assert found.grade is GOOD
    assert found.limits == ()
    assert not any(each.fix for each in found.aspects)


@pytest.mark.parametrize(
    ("film", "aspect", "grade", "fix"),
    [
        # 12 m away at 150 px: at 9 m he is 200 px tall.
        ({"height_px": 150.0}, Aspect.SIZE, USABLE, "Move 3 m nearer, so that he is 200 px tall."),
        (
            {"height_px": 80.0},
            Aspect.SIZE,
            TOO_POOR,
            "Move 8 m nearer, so that he is 200 px tall.",
        ),
        (
            {"height_px": 150.0, "distance_m": math.nan},
            Aspect.SIZE,
            USABLE,
            "Film from nearer, so that he is 200 px tall or more.",
        ),
        (
            {"height_px": 140.0, "size_px": (1280, 720)},
            Aspect.SIZE,
            USABLE,
            "Set the phone to 1080p: he would be 210 px tall.",
        ),
        # Not even 1080p makes him large enough.
        (
            {"height_px": 131.0, "size_px": (720, 1280)},
            Aspect.SIZE,
            USABLE,
            "Move 5 m nearer, so that he is 200 px tall.",
        ),
        ({"view_deg": 44.0}, Aspect.VIEW, USABLE, "Film from the side, square to his run."),
        ({"view_deg": 136.0}, Aspect.VIEW, USABLE, "Film from the side, square to his run."),
        # 12 m away over the ground, 6 degrees are 12 tan(6) = 1.26 m.
        (
            {"phone_m": 1.0, "distance_m": math.hypot(12.0, 1.0)},
            Aspect.HEIGHT,
            USABLE,
            "Hold the phone 1.3 m or more above the ground, overhead or from the stands, to show "
            "better where both are.",
        ),
        (
            {"seen": looks(blur=0.03)},
            Aspect.SHARPNESS,
            USABLE,
            "Press on him in the picture so that the phone focuses there, wipe the lens, and film "
            "in more light.",
        ),
        (
            {"seen": looks(blur=0.051)},
            Aspect.SHARPNESS,
            TOO_POOR,
            "Press on him in the picture so that the phone focuses there, wipe the lens, and film "
            "in more light.",
        ),
        ({"rate_hz": 15.0}, Aspect.RATE, USABLE, "Set the phone to 60 frames a second."),
        ({"rate_hz": 8.0}, Aspect.RATE, TOO_POOR, "Set the phone to 60 frames a second."),
        # A second of two and a half unread, long before arrival.
        (
            {"hidden": (0.6, 1.6)},
            Aspect.LEGS,
            USABLE,
            "Film from where nobody stands in front of him, with his feet in the picture all "
            "through.",
        ),
        # Ten of the thirteen frames at arrival.
        (
            {"hidden": (1.9, 2.2)},
            Aspect.LEGS,
            TOO_POOR,
            "Film from where nobody stands in front of him, with his feet in the picture all "
            "through.",
        ),
        (
            {"score": 0.45},
            Aspect.LEGS,
            TOO_POOR,
            "Film from where nobody stands in front of him, with his feet in the picture all "
            "through.",
        ),
        (
            {"seen": looks(light=0.03)},
            Aspect.LIGHT,
            USABLE,
            "Hold the sun behind you, or film earlier in the day.",
        ),
        (
            {"seen": looks(light=0.01)},
            Aspect.LIGHT,
            TOO_POOR,
            "Hold the sun behind you, or film earlier in the day.",
        ),
        (
            {"seen": looks(burnt=0.2)},
            Aspect.LIGHT,
            USABLE,
            "Press on him in the picture so that the phone sets its light to him.",
        ),
        (
            {"seen": looks(burnt=0.4)},
            Aspect.LIGHT,
            TOO_POOR,
            "Press on him in the picture so that the phone sets its light to him.",
        ),
        ({"lost": (0.8, 0.9)}, Aspect.STEADINESS, USABLE, "Hold the phone still or use a tripod."),
        # Lost at arrival: the legs are not to blame.
        (
            {"lost": (1.9, 2.3)},
            Aspect.STEADINESS,
            TOO_POOR,
            "Hold the phone still or use a tripod.",
        ),
    ],
)
def test_each_fault_is_found_alone_and_says_what_helps(
    film: dict[str, object], aspect: Aspect, grade: Grade, fix: str
) -> None:
    found = quality(**film)  # type: ignore[arg-type]
    assert [(each.aspect, each.grade, each.fix) for each in found.limits] == [(aspect, grade, fix)]
    assert found.grade is grade


@pytest.mark.parametrize(
    "film",
    [
        {"height_px": 200.0},
        {"view_deg": 45.0},
        {"view_deg": 135.0},
        {"rate_hz": 25.0},
        {"seen": looks(blur=0.02, light=0.05, burnt=0.1)},
        {"hidden": (0.6, 1.0)},  # two frames in ten of the rep would be too many
    ],
)
def test_exactly_at_the_limit_is_good_enough(film: dict[str, object]) -> None:
    assert quality(**film).grade is GOOD  # type: ignore[arg-type]


def test_what_was_not_seen_is_not_graded() -> None:
    found = quality(NO_LOOKS, hidden=(0.0, 9.0))
    assert [each.aspect for each in found.aspects] == [
        Aspect.HEIGHT, Aspect.RATE, Aspect.LEGS, Aspect.STEADINESS,
    ]  # fmt: skip
    assert found.grade is TOO_POOR


@given(tall=st.floats(30, 199), distance_m=st.floats(2, 80))
def test_whoever_moves_as_advised_films_him_large_enough(tall: float, distance_m: float) -> None:
    (size,) = quality(height_px=tall, distance_m=distance_m, phone_m=distance_m / 2).limits
    metres = int(size.fix.split()[1])
    # Size in the picture is in inverse proportion to distance.
    assert metres >= distance_m or tall * distance_m / (distance_m - metres) >= 200 - 1e-6


@given(over_ground_m=st.floats(5, 80), dip_deg=st.floats(0.5, 5.9))
def test_whoever_films_from_as_high_as_advised_looks_down_enough(
    over_ground_m: float, dip_deg: float
) -> None:
    def from_above(phone_m: float) -> FilmQuality:
        return quality(distance_m=math.hypot(over_ground_m, phone_m), phone_m=phone_m)

    (height,) = from_above(over_ground_m * math.tan(math.radians(dip_deg))).limits
    advised_m = re.search(r"([\d.]+) m or more", height.fix)
    assert advised_m is not None
    assert from_above(float(advised_m[1])).grade is GOOD
    assert from_above(float(advised_m[1]) - 0.1).grade is USABLE


@given(
    height_px=st.floats(60, 400),
    score=st.floats(0, 1),
    blur=st.floats(0, 0.1),
    light=st.floats(0, 1),
    burnt=st.floats(0, 1),
    since_s=st.floats(1.7, 2.5),
    lost_s=st.floats(1.7, 2.5),
)
def test_a_stance_goes_missing_exactly_when_the_film_is_too_poor_for_it(
    height_px: float,
    score: float,
    blur: float,
    light: float,
    burnt: float,
    since_s: float,
    lost_s: float,
) -> None:
    """Legs hidden from ``since_s`` on, background lost from ``lost_s`` on, to the end."""
    seen = looks(blur, light, burnt)
    held = stance(height_px, score=score, hidden=(since_s, 9.0))
    tracked = held.t_s < lost_s
    held.knee_bend_deg[~tracked] = np.nan
    motion = CameraMotion(np.tile(np.eye(3), (len(tracked), 1, 1)), tracked)
    found = grade_film(REP, held, motion, seen, size_px=FULL_HD)
    reading = stance_reading("knee_bend_deg", held, arrival_window(2.0), seen)
    refused = unfit(reading.conditions) is not None
    assert (found.grade is TOO_POOR) == refused


def test_the_worst_counts_and_comes_first() -> None:
    def graded(aspect: Aspect, grade: Grade) -> Graded:
        return Graded(aspect, grade, "", "")

    poor = graded(Aspect.LIGHT, TOO_POOR)
    usable = graded(Aspect.SIZE, USABLE)
    found = FilmQuality((usable, graded(Aspect.VIEW, GOOD), poor))
    assert found.grade is TOO_POOR
    assert found.limits == (poor, usable)
    assert FilmQuality().grade is None
