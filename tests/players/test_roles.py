"""Who defends: a table of cases on hand-made boxes, with pixels and seconds a coach could film."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from posecheck.players import CameraMotion, Followed, NoDefender, PlayerTrack, Roles, choose_roles
from posecheck.players.pointing import player_at
from posecheck.practice.notes import PointedOut

N, RATE = 120, 30
T_S = np.arange(N) / RATE

Path = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray, np.ndarray]]
"""From seconds to feet x, feet y and height, pixels."""


def stands(x: float, y: float, height: float = 200) -> Path:
    return lambda t: (np.full_like(t, x), np.full_like(t, y), np.full_like(t, height))


def goes(
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    from_s: float,
    to_s: float,
    crouch: float = 0.0,
) -> Path:
    """From one place and height to another, easing in and out; crouched when there."""

    def path(t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        s = np.clip((t - from_s) / (to_s - from_s), 0, 1)
        s = s * s * (3 - 2 * s)
        x, y, h = (a + s * (b - a) for a, b in zip(start, end, strict=True))
        return x, y, h * (1 - crouch * np.clip(2 * s - 1, 0, 1))

    return path


def then(first: Path, second: Path, at_s: float) -> Path:
    def path(t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        return tuple(np.where(t < at_s, a, b) for a, b in zip(first(t), second(t), strict=True))  # type: ignore[return-value]

    return path


def followed_from(path: Path, at_s: float) -> Path:
    """The same, but not found before."""
    return then(lambda t: (np.full_like(t, np.nan),) * 3, path, at_s)


def film(paths: list[Path], to_reference: np.ndarray | None = None):
    """A film of the paths; under a moving camera they are given in the steadied picture."""
    to_reference = np.tile(np.eye(3), (N, 1, 1)) if to_reference is None else to_reference
    tracks = []
    for number, path in enumerate(paths):
        x, y, height = path(T_S)
        shift = to_reference[:, :2, 2]
        x, y = x - shift[:, 0], y - shift[:, 1]
        box = np.stack([x - 0.17 * height, y - height, x + 0.17 * height, y], axis=1)
        tracks.append(PlayerTrack(number, box, np.ones(N, dtype=bool)))
    return Followed(T_S, tuple(tracks), CameraMotion(to_reference, np.ones(N, dtype=bool)))


# A closeout over 12 m in 2.5 s, seen from the side: 200 px is 1.75 m.
CLOSEOUT = goes((300, 800, 200), (1500, 820, 205), 0.5, 3.0, crouch=0.2)
ATTACKER = stands(1650, 820, 205)


@dataclass(frozen=True)
class Case:
    paths: list[Path]
    defender: int
    attacker: int | None
    hints: dict[str, object] = field(default_factory=dict)


CASES = {
    "one runs, one stands": Case([CLOSEOUT, ATTACKER], 0, 1),
    "the order of the tracks does not matter": Case([ATTACKER, CLOSEOUT], 1, 0),
    "one more waits in line, 5 yards outside": Case([stands(2150, 815), CLOSEOUT, ATTACKER], 1, 2),
    "the next defender waits inside": Case([stands(200, 800), CLOSEOUT, ATTACKER], 1, 2),
    "upright and past the attacker, up to the line": Case(
        [goes((300, 800, 200), (1950, 830, 205), 0.5, 3.2), ATTACKER, stands(2150, 815)], 0, 1
    ),
    "the attacker dodges once the defender is there": Case(
        [
            CLOSEOUT,
            then(ATTACKER, goes((1650, 820, 205), (1100, 850, 210), 3.0, 3.9), 3.0),
        ],
        0,
        1,
    ),
    "seen from behind the goal: he grows smaller": Case(
        [goes((900, 950, 430), (1000, 700, 215), 0.4, 2.8, crouch=0.2), stands(1060, 690, 200)],
        0,
        1,
    ),
    "seen from behind the attacker: he grows larger": Case(
        [goes((900, 640, 180), (1010, 830, 360), 0.4, 2.8, crouch=0.2), stands(1080, 880, 400)],
        0,
        1,
    ),
    "seen from behind the attacker, whose box loses half of him when the two meet": Case(
        [
            goes((900, 640, 180), (1075, 860, 380), 0.4, 2.8, crouch=0.2),
            then(stands(1080, 880, 400), stands(1075, 862, 250), 2.7),
        ],
        0,
        1,
    ),
    "from behind the attacker, one more waits before the lens": Case(
        [
            goes((900, 640, 180), (1010, 830, 360), 0.4, 2.8, crouch=0.2),
            stands(1080, 880, 400),
            stands(1500, 1060, 640),
        ],
        0,
        1,
    ),
    "he is there soon, and then creeps up on the attacker": Case(
        [
            then(
                goes((1600, 820, 200), (1280, 820, 200), 0.5, 1.3),
                goes((1280, 820, 200), (1100, 820, 200), 1.6, 3.9),
                1.5,
            ),
            stands(1000, 820),
        ],
        0,
        1,
    ),
    "a coach walks by behind": Case(
        [goes((1800, 700, 150), (1300, 700, 150), 0.0, 4.0), CLOSEOUT, ATTACKER], 1, 2
    ),
    "two run out, the start decides": Case(
        [
            CLOSEOUT,
            ATTACKER,
            goes((320, 400, 90), (950, 410, 90), 0.5, 3.0),
            stands(1010, 410, 90),
        ],
        2,
        3,
        {"start_px": (330, 395)},
    ),
    "two stand close together, the cone decides": Case(
        [CLOSEOUT, ATTACKER, stands(1640, 760, 195)], 0, 2, {"spot_px": (1630, 755)}
    ),
    "the attacker is found only when the defender is there": Case(
        [CLOSEOUT, followed_from(ATTACKER, 2.8)], 0, 1
    ),
    "the runner is lost there and found again": Case(
        [
            then(CLOSEOUT, lambda t: (np.full_like(t, np.nan),) * 3, 2.7),
            ATTACKER,
            followed_from(CLOSEOUT, 2.7),
        ],
        0,
        1,
    ),
    "he comes into the picture near the attacker, who shifts his feet": Case(
        [
            followed_from(goes((1340, 965, 298), (1600, 825, 205), 2.2, 3.0), 2.2),
            goes((1640, 820, 205), (1660, 820, 205), 0.2, 1.5),
        ],
        0,
        1,
    ),
    "somebody else runs into the picture beside him": Case(
        [CLOSEOUT, followed_from(goes((1500, 830, 205), (2600, 830, 205), 2.0, 4.0), 2.6)], 0, None
    ),
    # Of 720p film: the camera is 3 m behind the attacker, the defender stops 5 m from it.
    "the attacker stands near the camera, his back to it": Case(
        [goes((835, 242, 70), (320, 554, 230), 0.5, 3.5), stands(473, 704, 398)],
        0,
        1,
        {"focal_px": 1000.0},
    ),
    # Of 720p film at 3x: 40 m away, a run of 7 m that ends a step short of the attacker.
    "towards a zoomed lens, far away": Case(
        [goes((560, 492, 112), (680, 512, 145), 0.4, 2.2), stands(712, 512, 148)],
        0,
        1,
        {"zooms": (3.0,)},
    ),
    "nobody stands where he runs to": Case([CLOSEOUT], 0, None),
}


@pytest.mark.parametrize("name", CASES)
def test_roles(name: str) -> None:
    case = CASES[name]
    roles = choose_roles(film(case.paths), **case.hints)
    assert roles.defender.track_id == case.defender
    assert (roles.attacker and roles.attacker.track_id) == case.attacker


ALONE = "nobody runs out at anybody: "

NOBODY = {
    "an empty field": ([], "nobody is to be seen"),
    "an attacker alone": ([ATTACKER], ALONE + "the only player in it stays in place"),
    "two who stand": ([ATTACKER, stands(300, 800)], ALONE + "the players in it stay in place"),
    # Top speed is one and a half times the mean; 1.9 m/s is 217 px/s, a very fast walk.
    "one walks by": (
        [goes((200, 800, 200), (778, 800, 200), 0, 4)],
        ALONE + "the only player in it moves no faster than a walk",
    ),
    "one walks up to another": (
        [goes((1000, 820, 200), (1560, 820, 205), 0, 3.87), ATTACKER],
        ALONE + "the fastest player in it moves no faster than a walk",
    ),
    "two walk past each other": (
        [
            goes((1000, 820, 200), (1560, 820, 200), 0, 4),
            goes((1560, 820, 200), (1000, 820, 200), 0, 4),
        ],
        ALONE + "the fastest player in it moves no faster than a walk",
    ),
    "one walks away from the camera": (
        [goes((900, 1000, 430), (800, 800, 260), 0, 4)],
        ALONE + "the only player in it moves no faster than a walk",
    ),
    "two squat on the spot beside each other": (
        [
            goes((500, 800, 200), (510, 800, 200), 1, 1.5, crouch=0.3),
            goes((700, 800, 200), (690, 800, 200), 1, 1.5, crouch=0.3),
        ],
        ALONE + "the players in it stay in place",
    ),
}


@pytest.mark.parametrize("name", NOBODY)
def test_no_defender(name: str) -> None:
    paths, text = NOBODY[name]
    with pytest.raises(NoDefender) as caught:
        choose_roles(film(paths))
    assert str(caught.value) == text


def test_a_zoomed_lens_decides_only_where_the_usual_one_shows_no_run() -> None:
    far = CASES["towards a zoomed lens, far away"].paths
    with pytest.raises(NoDefender):
        choose_roles(film(far))
    # By the usual lens the other two are who they are; he who runs far off is not looked at.
    roles = choose_roles(film([*far, CLOSEOUT, ATTACKER]), zooms=(3.0,))
    assert pair(roles) == (2, 3)


def test_a_run_through_an_unknown_zoom_is_said_to_be_one() -> None:
    far = CASES["towards a zoomed lens, far away"].paths
    roles = choose_roles(film(far), zooms=(1.35, 1.86, 2.56, 3.6, 5.0))
    assert (roles.defender.track_id, roles.attacker and roles.attacker.track_id) == (0, 1)
    assert roles.through_zoom is not None
    assert roles.through_zoom.otherwise == (
        "nobody runs out at anybody: the fastest player in it moves no faster than a walk"
    )
    # He goes from 0.4 to 2.2 s, slowly at either end.
    assert roles.through_zoom.run_s == pytest.approx((0.7, 1.8), abs=0.2)
    assert choose_roles(film([CLOSEOUT, ATTACKER]), zooms=(1.35, 1.86)).through_zoom is None


def test_through_a_zoomed_lens_a_small_runner_does_not_seem_far_behind() -> None:
    """Away from the lens to one who is a tenth taller: both look the same at first."""
    goes_away = goes((1080, 698, 196), (1290, 672, 160), 0.4, 1.9)
    roles = choose_roles(film([goes_away, stands(1314, 662, 197)]), zooms=(2.56,))
    assert (roles.defender.track_id, roles.attacker and roles.attacker.track_id) == (0, 1)


def test_through_a_zoomed_lens_the_one_who_stands_is_not_the_runner() -> None:
    """They are near each other from the beginning, so that either could be the one who closes."""
    goes_away = goes((429, 332, 172), (594, 307, 141), 0.4, 1.7)
    for paths in ([goes_away, stands(580, 303, 159)], [stands(580, 303, 159), goes_away]):
        roles = choose_roles(film(paths), zooms=(2.56, 3.6))
        assert roles.defender.track_id == paths.index(goes_away)


def test_through_a_zoomed_lens_who_straightens_up_does_not_run() -> None:
    rises = goes((600, 500, 110), (600, 500, 150), 1.0, 1.5)
    with pytest.raises(NoDefender):
        choose_roles(film([rises, stands(690, 500, 150)]), zooms=(3.0,))


def test_a_pan_does_not_make_a_standing_player_run() -> None:
    pan = np.tile(np.eye(3), (N, 1, 1))
    pan[:, 0, 2] = np.linspace(0, 1500, N)
    with pytest.raises(NoDefender):
        choose_roles(film([ATTACKER, stands(300, 800)], to_reference=pan))
    roles = choose_roles(film([CLOSEOUT, ATTACKER], to_reference=pan))
    assert (roles.defender.track_id, roles.attacker.track_id) == (0, 1)


def moved(followed: Followed, scale: float, dx: float, dy: float) -> Followed:
    shift = np.array([dx, dy, dx, dy])
    tracks = tuple(
        PlayerTrack(t.track_id, t.box_xyxy * scale + shift, t.seen) for t in followed.tracks
    )
    return Followed(followed.t_s, tracks, followed.camera_motion)


@given(
    name=st.sampled_from([name for name, case in CASES.items() if "_px" not in str(case.hints)]),
    scale=st.floats(0.2, 3.0),
    dx=st.floats(-500, 500),
    dy=st.floats(-500, 500),
)
def test_neither_place_nor_size_of_the_picture_matters(
    name: str, scale: float, dx: float, dy: float
) -> None:
    case = CASES[name]
    one = film(case.paths)

    def who(roles: Roles) -> tuple[int, int | None, str]:
        return roles.defender.track_id, roles.attacker and roles.attacker.track_id, roles.how

    assert who(choose_roles(moved(one, scale, dx, dy), **case.hints)) == who(
        choose_roles(one, **case.hints)
    )


def test_how_is_told_in_words() -> None:
    roles = choose_roles(film(CASES["one more waits in line, 5 yards outside"].paths))
    assert roles.how == (
        "the defender is the one who ran out from the left of the picture; the attacker is the "
        "player he closed on, who stood; one more player in the picture was left out"
    )


# -- a defender whom the coach has pointed out -----------------------------------------------------

# Two run out at once, each at an attacker of his own.
OTHER_RUN = goes((300, 500, 150), (1200, 510, 152), 0.4, 2.6)
OTHER_ATTACKER = stands(1310, 510, 152)


def pair(roles: Roles) -> tuple[int, int | None]:
    return roles.defender.track_id, roles.attacker and roles.attacker.track_id


def test_who_is_pointed_out_is_the_defender() -> None:
    it = film([CLOSEOUT, ATTACKER, OTHER_RUN, OTHER_ATTACKER])
    assert pair(choose_roles(it)) == (2, 3)
    roles = choose_roles(it, stated=it.tracks[0])
    assert pair(roles) == (0, 1)
    assert roles.how == (
        "the defender is the player pointed out; the attacker is the player he closed on, who "
        "stood; 2 more players in the picture were left out"
    )


def test_who_is_pointed_out_is_the_defender_even_if_he_runs_at_nobody() -> None:
    it = film([CLOSEOUT, ATTACKER])
    roles = choose_roles(it, stated=it.tracks[1])
    assert (roles.defender.track_id, roles.attacker) == (1, None)
    assert roles.how == (
        "the defender is the player pointed out; nobody was seen standing where his run ended"
    )


def test_a_place_in_the_picture_points_out_a_player() -> None:
    it = film([CLOSEOUT, ATTACKER, stands(1660, 830, 205)])
    # Frame 0: the runner's box is 266 to 334 px across and 600 to 800 px down.
    assert player_at(it, PointedOut(0.0, 300, 700)) is it.tracks[0]
    assert player_at(it, PointedOut(0.0, 338, 805)) is it.tracks[0]  # just beside him
    assert player_at(it, PointedOut(0.0, 380, 700)) is None
    assert player_at(it, PointedOut(9.0, 300, 700)) is None  # he has left
    # Of two who overlap it is the one whose middle is nearer.
    assert player_at(it, PointedOut(0.0, 1648, 715)) is it.tracks[1]
    assert player_at(it, PointedOut(0.0, 1672, 735)) is it.tracks[2]
    unseen = film([followed_from(ATTACKER, 2.0)])
    assert player_at(unseen, PointedOut(0.0, 1650, 720)) is None
