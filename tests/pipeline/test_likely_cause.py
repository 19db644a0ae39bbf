"""What is said of a clip without a rep: the likeliest cause, and only where the numbers show it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from posecheck.camera.motion import CameraMotion
from posecheck.filming.steps import Steps
from posecheck.pipeline.likely_cause import NO_REP, no_run, nobody_closes_out, remarks
from posecheck.players.track import Followed, PlayerTrack
from posecheck.video.clip import Clip

N = 60
T_S = np.arange(N) / 30
WHAT = "nobody runs out at anybody"
SLOW = "the defender is never faster than 0.7 m/s"


def film(stated_s: float | None = 2.0, slow_motion: float = 1.0, within_s: float = 0.0) -> Clip:
    return Clip(Path("a.mp4"), "ab" * 32, 1920, 1080, T_S / slow_motion, slow_motion=slow_motion,
                stated_s=stated_s, lost_within_s=within_s,
                lost_at_end_s=0.0 if stated_s is None else stated_s - N / 30)  # fmt: skip


def people(*boxes: tuple[float, float, float, float]) -> Followed:
    """Players who keep their boxes: left, top, right, bottom."""
    tracks = tuple(
        PlayerTrack(i, np.tile(np.array(box, dtype=float), (N, 1)), np.ones(N, dtype=bool))
        for i, box in enumerate(boxes)
    )
    return Followed(T_S, tracks, CameraMotion(np.tile(np.eye(3), (N, 1, 1)), np.ones(N, bool)))


NEAR, BESIDE = (400, 300, 560, 700), (1200, 300, 1360, 700)
THIRD, FOURTH = (800, 300, 900, 600), (1000, 300, 1100, 600)
TINY = (400, 300, 430, 380)
CUT = (1780, 300, 1920, 700)
AWAY = (1780, 700, 1900, 1079)


@pytest.mark.parametrize(
    ("followed", "clip", "fault", "remedy"),
    [
        # Two players of a good size, whole: nothing says why, so it may be no rep at all.
        (people(NEAR, BESIDE), film(), WHAT, NO_REP),
        (people(TINY, TINY), film(), f"{WHAT}, and the tallest is only 80 px tall in the picture",
         "film from nearer"),
        # One who is near is enough for size.
        (people(NEAR, TINY), film(), WHAT, NO_REP),
        (people(NEAR, CUT), film(),
         f"{WHAT}, and a player is cut off at the edge of the picture for most of it",
         "film with both players whole in the picture all through"),
        (people(CUT, AWAY), film(),
         f"{WHAT}, and 2 players are cut off at the edge of the picture for most of it",
         "film with both players whole in the picture all through"),
        # Three are a rep and the next in line; four are more.
        (people(NEAR, BESIDE, THIRD), film(), WHAT, NO_REP),
        (people(NEAR, BESIDE, THIRD, FOURTH), film(), f"{WHAT}; 4 people are in it",
         "point the defender out with posecheck names, or film him and the attacker alone"),
        # A file that says it is longer than what can be read of it, whatever else is seen.
        (people(TINY), film(stated_s=6.0),
         "only the first 2.0 of its 6.0 s can be read, the file is damaged",
         "copy it from the phone again"),
        (people(NEAR), film(within_s=0.4),
         "0.40 s within it cannot be read, the file is damaged", "copy it from the phone again"),
        (people(NEAR), film(stated_s=None), WHAT, NO_REP),
        # Sound goes on for a moment after the last picture.
        (people(NEAR), film(stated_s=2.3), WHAT, NO_REP),
        # Stated as slow: times are of life, the file's length is of play.
        (people(NEAR), film(stated_s=2.0, slow_motion=8), WHAT, NO_REP),
        (people(), film(), WHAT, NO_REP),
    ],
)  # fmt: skip
def test_why_nobody_closes_out(followed: Followed, clip: Clip, fault: str, remedy: str) -> None:
    cause = nobody_closes_out(WHAT, clip, followed)
    assert (cause.fault, cause.remedy) == (fault, remedy)


def walk(metres: float, mps: float) -> tuple[np.ndarray, np.ndarray]:
    xy = np.stack([np.linspace(0, metres, N), np.zeros(N)], axis=1)
    return np.full(N, mps), xy


@pytest.mark.parametrize(
    ("goes_m", "mps", "slow_motion", "looks_slow"),
    [
        # A rep of 9 m at an eighth of its speed.
        (9.0, 0.7, 1.0, True),
        # Said to be slow already: he walks.
        (9.0, 0.7, 8.0, False),
        # Footwork in place, and a real run that comes to nobody.
        (1.0, 0.7, 1.0, False),
        (9.0, 4.0, 1.0, False),
    ],
)
def test_a_run_too_slow_to_be_one_looks_like_slow_motion(
    goes_m: float, mps: float, slow_motion: float, looks_slow: bool
) -> None:
    cause = no_run(SLOW, film(slow_motion=slow_motion), *walk(goes_m, mps))
    assert ("slow motion" in cause.fault) is looks_slow
    assert ("slow_motion = 8" in cause.remedy) is looks_slow
    assert looks_slow or (cause.fault, cause.remedy) == (SLOW, NO_REP)


def test_a_defender_seen_nowhere_is_not_slow() -> None:
    nothing = np.full(N, np.nan)
    assert no_run(SLOW, film(), nothing, np.stack([nothing] * 2, 1)).fault == SLOW


@pytest.mark.parametrize(
    ("clip", "sentences"),
    [
        (film(), ()),
        (film(stated_s=None), ()),
        (film(stated_s=8.0), ("Only the first 2.0 of its 8.0 s can be read, the file is damaged; "
         "copy it from the phone again.",)),
        (film(within_s=0.8), ("0.80 s within it cannot be read, the file is damaged; copy it from "
         "the phone again.",)),
        (film(stated_s=8.0, within_s=0.8), ("Only the first 2.0 of its 8.0 s can be read, and 0.80 "
         "s within it cannot be read, the file is damaged; copy it from the phone again.",)),
        (replace(film(), breaks_off=True), ("It breaks off after 2.0 s and its end is missing, the "
         "file is damaged; copy it from the phone again.",)),
        # What the coach states goes without saying, what the phone wrote does not.
        (film(slow_motion=8), ()),
        (replace(film(slow_motion=8), slow_by_tag=True), ("By the phone's own tag it plays 8 times "
         "slower than life, and is read so; if it does not, write slow_motion = 1 in "
         "practice.toml.",)),
    ],
)  # fmt: skip
def test_what_holds_of_a_film_whatever_it_shows(clip: Clip, sentences: tuple[str, ...]) -> None:
    assert remarks(clip) == sentences


def test_steps_that_nobody_takes_say_it_is_slow_motion() -> None:
    slow, run = Steps(0.75, 1.5), Steps(2.9, 1.5)
    cause = no_run(SLOW, film(), *walk(1.0, 0.7), slow)
    assert cause.fault == "it looks like slow motion: he takes 0.8 steps a second of 1.5 m each"
    assert cause.remedy.endswith("slow_motion = 4 by the look of it")
    assert no_run(SLOW, film(), *walk(1.0, 0.7), run) == no_run(SLOW, film(), *walk(1.0, 0.7))


@pytest.mark.parametrize(
    ("heights", "slow_motion", "says_so"),
    [
        # In two seconds: 1 height a second is 1.75 m/s, a walk; 3 are a run.
        (1.9, 1.0, False),
        (6.0, 1.0, False),
    ],
)
def test_who_hardly_moves_or_runs_is_not_slow(
    heights: float, slow_motion: float, says_so: bool
) -> None:
    cause = nobody_closes_out(WHAT, film(slow_motion=slow_motion), crossing(heights))
    assert ("slow motion" in cause.fault) is says_so


def test_who_crosses_the_picture_slowly_may_be_in_slow_motion() -> None:
    far = crossing(6.0, over_s=8.0)
    cause = nobody_closes_out(WHAT, film(stated_s=None), far)
    assert cause.fault == (
        f"{WHAT}; a player goes 6 of his own heights and never faster than 0.8 of them a second, "
        "as in a walk or in slow motion"
    )
    assert "slow_motion = 8" in cause.remedy
    # Stated already: he walks.
    assert "slow" not in nobody_closes_out(WHAT, film(None, slow_motion=8), far).fault


def crossing(heights: float, over_s: float = 2.0) -> Followed:
    """A player 250 px tall who goes so far across the picture, evenly."""
    left = 100 + np.linspace(0, heights * 250, N)
    box = np.stack([left, np.full(N, 300.0), left + 100, np.full(N, 550.0)], axis=1)
    track = PlayerTrack(0, box, np.ones(N, dtype=bool))
    t_s = np.linspace(0, over_s, N)
    return Followed(t_s, (track,), CameraMotion(np.tile(np.eye(3), (N, 1, 1)), np.ones(N, bool)))
