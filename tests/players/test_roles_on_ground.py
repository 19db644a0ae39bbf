"""Who defends on a known ground: players of known places, filmed by cameras of known place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from runner import camera_at

from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.players.roles import NoDefender, choose_roles
from posecheck.players.roles_on_ground import (
    NotPlaced,
    choose_roles_on_ground,
    feet_on_ground,
)
from posecheck.players.track import Followed, PlayerTrack
from posecheck.practice.field import CLOSEOUT_CONES, waiting_at

T_S = np.arange(0, 4, 1 / 30)
INSIDE = np.array(CLOSEOUT_CONES["inside"])
CONE = np.array(CLOSEOUT_CONES["top-left"])
WAITS = waiting_at(CONE)
OUT = (WAITS - INSIDE) / np.linalg.norm(WAITS - INSIDE)
ACROSS = np.array([-OUT[1], OUT[0]])

SIDELINE = camera_at((-16.0, 9.0, 1.7), (0.0, 9.0, 0.8))
FRONT = camera_at((-3.0, 22.0, 2.0), (-3.0, 8.0, 0.5))
END_LINE = camera_at((2.0, -6.0, 2.5), (-3.0, 8.0, 0.5))
CAMERAS = {"sideline": SIDELINE, "front": FRONT, "end line": END_LINE}

Path = Callable[[np.ndarray], np.ndarray]
"""From seconds to places ``(n, 2)``, metres on the field's axes."""


def stands(at_m: np.ndarray | tuple[float, float]) -> Path:
    return lambda t: np.tile(np.asarray(at_m, dtype=float), (len(t), 1))


def goes(
    from_m: np.ndarray | tuple[float, float],
    to_m: np.ndarray | tuple[float, float],
    from_s: float,
    to_s: float,
) -> Path:
    def path(t: np.ndarray) -> np.ndarray:
        s = np.clip((t - from_s) / (to_s - from_s), 0, 1)
        s = s * s * (3 - 2 * s)
        return np.asarray(from_m) + s[:, None] * np.subtract(to_m, from_m)

    return path


def seen_from(at_s: float, path: Path) -> Path:
    return lambda t: np.where((t < at_s)[:, None], np.nan, path(t))


def film(camera: Camera, *paths: Path, noise: float = 0.02, seed: int = 0) -> Followed:
    """Boxes of people 1.8 m tall, with an error of their sides in heights."""
    rng = np.random.default_rng(seed)
    tracks = []
    for number, path in enumerate(paths):
        xy = path(T_S)
        feet, heads = (
            camera.to_image(np.column_stack([xy, np.full(len(xy), z)])) for z in (0.0, 1.8)
        )
        height = feet[:, 1] - heads[:, 1]
        # Errors of a followed box last for a while.
        error = np.repeat(rng.normal(0, noise, (len(T_S) // 10 + 1, 2)), 10, axis=0)[: len(T_S)]
        x, y = (feet[:, i] + error[:, i] * height for i in (0, 1))
        box = np.stack([x - 0.2 * height, y - height, x + 0.2 * height, y], axis=1)
        tracks.append(PlayerTrack(number, box, np.isfinite(box).all(axis=1)))
    n = len(T_S)
    still = CameraMotion(np.tile(np.eye(3), (n, 1, 1)), np.ones(n, dtype=bool))
    return Followed(T_S, tuple(tracks), still)


CLOSEOUT = goes(INSIDE, WAITS - 1.3 * OUT, 0.5, 3.0)
ATTACKER = stands(WAITS)


def chosen(
    camera: Camera, *paths: Path, named: bool = True, **made: float
) -> tuple[int, int | None]:
    roles = choose_roles_on_ground(
        film(camera, *paths, **made),  # type: ignore[arg-type]
        camera,
        start_xy_m=INSIDE if named else None,
        waits_xy_m=WAITS if named else None,
    )
    return roles.defender.track_id, roles.attacker and roles.attacker.track_id


@pytest.mark.parametrize("where", CAMERAS)
@pytest.mark.parametrize("named", [True, False], ids=["cones named", "cones not named"])
@pytest.mark.parametrize(
    "others",
    [
        [],
        # The next attacker waits five yards behind the first, the next defender inside.
        [stands(WAITS + 4.6 * OUT), stands(INSIDE - 2.0 * OUT)],
        # A coach walks by, four metres off.
        [goes(WAITS + 4 * ACROSS, WAITS + 4 * ACROSS - 5 * OUT, 0.0, 4.0)],
    ],
    ids=["alone", "the next in line wait", "a coach walks by"],
)
def test_the_closeout_is_found(where: str, named: bool, others: list[Path]) -> None:
    for seed in range(3):
        assert chosen(CAMERAS[where], *others, CLOSEOUT, ATTACKER, named=named, seed=seed) == (
            len(others),
            len(others) + 1,
        )


def test_who_idles_at_the_cone_is_no_attacker_when_the_run_ends_elsewhere() -> None:
    """He has come towards the ball; a team-mate idles behind the cone."""
    view = CONE - END_LINE.centre_m[:2]
    idle = stands(CONE + 1.5 * view / np.linalg.norm(view))
    attacker = WAITS - 2.5 * OUT
    players = idle, goes(INSIDE, attacker - 1.4 * OUT, 0.5, 3.0), stands(attacker)
    it = film(END_LINE, *players)
    spot_px = END_LINE.to_image(np.array([*CONE, 0.0]))
    by_picture = choose_roles(it, spot_px=spot_px)
    assert by_picture.attacker is not None and by_picture.attacker.track_id == 0
    for camera in CAMERAS.values():
        assert chosen(camera, *players) == (1, 2)
        assert chosen(camera, *players, named=False) == (1, 2)


def test_of_two_in_reach_the_one_at_the_named_cone_is_the_attacker() -> None:
    beside = stands(WAITS + 1.0 * OUT + 3.0 * ACROSS)
    between = goes(INSIDE, WAITS - 1.0 * OUT + 1.2 * ACROSS, 0.5, 3.0)
    assert chosen(SIDELINE, beside, between, ATTACKER) == (1, 2)


def test_the_run_back_is_no_closeout() -> None:
    """He comes back to the next defender in line, who stands at the inside cone."""
    there, back = WAITS - 1.3 * OUT, INSIDE + 1.0 * OUT

    def out_and_back(t: np.ndarray) -> np.ndarray:
        first, second = goes(INSIDE, there, 0.2, 1.9)(t), goes(there, back, 2.2, 3.9)(t)
        return np.where((t < 2.2)[:, None], first, second)

    next_up = stands(INSIDE - 0.5 * OUT + 1.0 * ACROSS)
    assert chosen(SIDELINE, next_up, out_and_back, ATTACKER) == (1, 2)


def test_two_run_out_and_the_one_from_the_inside_cone_defends() -> None:
    other = goes((9.0, 6.0), (9.0, 15.0), 0.5, 3.0)
    assert chosen(FRONT, other, stands((9.0, 16.3)), CLOSEOUT, ATTACKER) == (2, 3)


def test_nobody_near_the_end_of_the_run_is_no_attacker() -> None:
    far = stands(WAITS + 6.0 * ACROSS)
    assert chosen(SIDELINE, far, CLOSEOUT) == (1, None)


def test_an_attacker_found_only_when_the_runner_is_there() -> None:
    assert chosen(SIDELINE, CLOSEOUT, seen_from(2.6, ATTACKER)) == (0, 1)


NOBODY = {
    "two walk past each other": [
        goes(INSIDE, WAITS, 0.0, 4.9 * 2),
        goes(WAITS, INSIDE, 0.0, 4.9 * 2),
    ],
    "two stand": [stands(INSIDE), ATTACKER],
    # In the picture he runs right up to him; on the ground he passes 6 m behind.
    "one runs by far behind": [goes((3.0, 3.0), (3.0, 5.5), 0.5, 2.5), stands((-8.0, 4.0))],
}


@pytest.mark.parametrize("case", NOBODY)
def test_nobody_defends(case: str) -> None:
    with pytest.raises(NoDefender, match="nobody runs out at anybody: on the ground"):
        chosen(SIDELINE, *NOBODY[case])


def test_places_come_with_an_error_that_holds() -> None:
    """Feet read 2 % of a height off, by cameras near and far; nine in ten inside 1.645 sd."""
    inside = []
    for camera in CAMERAS.values():
        for seed in range(5):
            it = film(camera, CLOSEOUT, ATTACKER, seed=seed)
            for track, path in zip(it.tracks, (CLOSEOUT, ATTACKER), strict=True):
                feet = feet_on_ground(track, it, camera)
                off = np.linalg.norm(feet.xy_m - path(T_S), axis=1)
                inside.append(off <= 1.645 * feet.sd_m)
    assert np.mean(inside) >= 0.9


def test_players_whose_feet_show_no_place_are_left_to_the_picture() -> None:
    """From a camera on the ground every foot is at the horizon."""
    low = camera_at((-30.0, 9.0, 0.3), (0.0, 9.0, 0.3))
    with pytest.raises(NotPlaced):
        chosen(low, CLOSEOUT, ATTACKER)


def test_a_runner_in_the_picture_only_at_the_end_who_creeps_up_has_run() -> None:
    """He comes into view when he is nearly there, and comes a metre and a half nearer after."""
    there = WAITS - 2.3 * OUT
    run, creep = goes(INSIDE, there, 0.5, 2.6), goes(there, WAITS - 0.6 * OUT, 2.6, 3.9)
    closeout = seen_from(2.0, lambda t: np.where((t < 2.6)[:, None], run(t), creep(t)))
    for camera in CAMERAS.values():
        assert chosen(camera, ATTACKER, closeout) == (1, 0)
        assert chosen(camera, ATTACKER, closeout, named=False) == (1, 0)


def hardly_read(it: Followed, number: int) -> Followed:
    """The film with somebody's box followed as before, though it is found in one frame of ten."""
    seen = np.arange(len(it.t_s)) % 10 == 0
    tracks = [
        replace(each, seen=each.seen & seen) if each.track_id == number else each
        for each in it.tracks
    ]
    return replace(it, tracks=tuple(tracks))


def test_a_box_that_drifts_and_is_hardly_read_is_no_runner() -> None:
    """It slides from one standing player to another, as a box between two may."""
    it = film(SIDELINE, stands(INSIDE), ATTACKER, CLOSEOUT)
    assert choose_roles_on_ground(it, SIDELINE).defender.track_id == 2
    with pytest.raises(NoDefender):
        choose_roles_on_ground(hardly_read(it, 2), SIDELINE)


def test_a_box_on_two_people_is_no_attacker_where_one_of_them_is_read() -> None:
    between, short = stands(WAITS - 0.8 * OUT), goes(INSIDE, WAITS - 2.3 * OUT, 0.5, 3.0)
    it = film(SIDELINE, between, short, ATTACKER)
    roles = choose_roles_on_ground(hardly_read(it, 0), SIDELINE)
    assert roles.attacker is not None and roles.attacker.track_id == 2
    # Where he is all there is, he may be an attacker who is hidden most of the time.
    alone = hardly_read(film(SIDELINE, between, short), 0)
    roles = choose_roles_on_ground(alone, SIDELINE)
    assert roles.attacker is not None and roles.attacker.track_id == 0
