"""The ground from people of known height."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from runner import Run, camera_at, closeout
from scipy.spatial.transform import Rotation

from posecheck.camera.lens import stated_lens
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.ground.from_players import (
    Rep,
    Standing,
    ground_from_players,
    standing_players,
    zoom_range,
)
from posecheck.ground.tuning import ANKLE_TO_EAR, TILT_TAKEN_OUT, UNKNOWN_STATURE_M
from posecheck.pose.skeleton import SKELETON

SIZE = (1920, 1080)


def stood_at(
    camera: Camera, places: list[tuple[float, float]], stature_m: float = 1.75
) -> list[Standing]:
    """People standing straight, seen without error, their height stated."""
    people = []
    for who, (x, y) in enumerate(places):
        feet, head = camera.to_image(np.array([[x, y, 0.0], [x, y, stature_m]]))
        people.append(Standing(who, tuple(feet), tuple(head), stature_m, 0.01))
    return people


def on_camera_axes(run: Run, camera: Camera) -> np.ndarray:
    """The joints as a pose model gives them in metres: x right, y down, z away from the camera."""
    return np.asarray(run.joints_m @ camera.rotation.T)


def spread(n: int = 30) -> list[tuple[float, float]]:
    rng = np.random.default_rng(3)
    return [(float(x), float(y)) for x, y in rng.uniform((-4, 6), (4, 22), (n, 2))]


@pytest.mark.parametrize("height_m", [1.7, 2.5, 4.0])
def test_standing_people_of_stated_height_give_camera_and_scale(height_m: float) -> None:
    camera = camera_at((0.0, 0.0, height_m), (0.0, 14.0, 0.3))
    ground = ground_from_players(stood_at(camera, spread()), SIZE, stated_lens(1.0))
    assert ground is not None
    assert ground.source == "players"
    assert not ground.on_field
    assert ground.camera.centre_m[:2] == pytest.approx([0, 0])
    for start, end in [((0, 8, 0), (3, 12, 0)), ((-2, 10, 0), (2, 10, 0))]:
        seen = camera.to_image(np.array([start, end], dtype=np.float64))
        there = ground.camera.to_ground(seen)
        length = np.linalg.norm(there[1] - there[0])
        assert length == pytest.approx(np.linalg.norm(np.subtract(end, start)), rel=0.06)


def test_players_seen_from_a_high_stand_are_not_put_too_far_away() -> None:
    """A belief that phones look down little makes the lens too long, and lengths along the view."""
    camera = camera_at((0.0, 0.0, 7.0), (0.0, 9.5, 0.9))
    people = []
    for who, (x, y) in enumerate(spread()):
        near = (x, 3 + y / 2)
        feet, head = camera.to_image(np.array([[*near, 0.0], [*near, UNKNOWN_STATURE_M[0]]]))
        dip = np.arctan2(7.0, np.hypot(*near))
        tall = (feet[1] - head[1]) / np.cos(dip) ** TILT_TAKEN_OUT  # as the landmarks have it
        people.append(Standing(who % 2, tuple(feet), (feet[0], feet[1] - tall)))
    ground = ground_from_players(people, SIZE)
    assert ground is not None
    ends = camera.to_image(np.array([[0.0, 8.0, 0.0], [0.0, 12.0, 0.0]]))
    there = ground.camera.to_ground(ends)
    assert np.linalg.norm(there[1] - there[0]) == pytest.approx(4.0, rel=0.2)


def test_a_foot_put_ahead_is_not_taken_for_where_he_stands() -> None:
    """Half a metre towards the camera, and known to be there: the same ground as with none."""
    camera = camera_at((0.0, 0.0, 2.2), (0.0, 14.0, 0.3))
    ahead = []
    for x, y in spread():
        feet, sole, head = camera.to_image(np.array([[x, y - 0.5, 0.0], [x, y, 0.0], [x, y, 1.75]]))
        # From the lens through the foot to the place of the hips: by similar triangles.
        sight_m = 2.2 - 2.2 * y / (y - 0.5)
        lifted = head + feet - sole  # as tall as he looks, from the foot up
        ahead.append(Standing(0, tuple(feet), tuple(lifted), 1.75, 0.01, sight_m))
    informed, plain = (
        ground_from_players(people, SIZE)
        for people in (ahead, [replace(each, sight_m=0.0) for each in ahead])
    )
    assert informed is not None and plain is not None
    off = [abs(ground.camera.centre_m[2] - 2.2) for ground in (informed, plain)]
    assert off[0] < 0.1 < off[1]


@pytest.mark.parametrize("hidden", [None, "left", "right"])
def test_one_foot_is_enough_whichever_it_is(hidden: str | None) -> None:
    heights = {"ear": 1.6, "shoulder": 1.45, "hip": 0.95, "knee": 0.5, "ankle": 0.08,
               "heel": 0.0, "foot_index": 0.0}  # fmt: skip
    world_m, score = np.zeros((1, 33, 3)), np.full((1, 33), 0.9)
    for part, height_m in heights.items():
        for sign, side in ((-1, "left"), (1, "right")):
            at = SKELETON.index(f"{side}_{part}")
            world_m[0, at] = (0.1 * sign, -height_m, 0.0)
            if side == hidden and part in ("heel", "foot_index"):
                score[0, at] = 0.1
    (seen,) = standing_players(0, 500 + 200 * world_m[..., :2], world_m, score)
    assert seen.feet_px[1] == pytest.approx(500.0)


def test_twice_as_tall_means_twice_as_far() -> None:
    camera = camera_at((0.0, 0.0, 2.2), (0.0, 14.0, 0.3))
    people = stood_at(camera, spread())
    taller = [Standing(p.who, p.feet_px, p.head_px, 1.1 * 1.75, 0.01) for p in people]
    one, other = ground_from_players(people, SIZE), ground_from_players(taller, SIZE)
    assert one is not None and other is not None
    here = np.array([[900.0, 700.0], [1100.0, 700.0]])
    lengths = [np.linalg.norm(np.diff(g.camera.to_ground(here), axis=0)) for g in (one, other)]
    assert lengths[1] / lengths[0] == pytest.approx(1.1, rel=0.03)


def test_a_height_only_guessed_makes_the_scale_less_sure() -> None:
    camera = camera_at((0.0, 0.0, 2.2), (0.0, 14.0, 0.3))
    stated = stood_at(camera, spread())
    guessed = [Standing(0, p.feet_px, p.head_px) for p in stated]
    sure, unsure = (
        ground_from_players(people, SIZE, stated_lens(1.0)) for people in (stated, guessed)
    )
    assert sure is not None and unsure is not None
    assert sure.scale_sd < 0.03
    # One man of 1.68 +- 0.10 m: six per cent by the guess alone.
    assert unsure.scale_sd == pytest.approx(0.10 / 1.68, rel=0.2)
    assert unsure.depth_sd >= unsure.scale_sd


def test_people_all_at_one_range_leave_depth_open() -> None:
    camera = camera_at((0.0, 0.0, 1.8), (0.0, 14.0, 0.8))
    ground = ground_from_players(stood_at(camera, [(x, 13.0) for x in (-5, -2, 0, 3, 6)]), SIZE)
    assert ground is not None
    assert ground.scale_sd < 0.1
    assert ground.depth_sd > 4 * ground.scale_sd


def test_a_few_misread_people_do_not_matter() -> None:
    camera = camera_at((0.0, 0.0, 2.5), (0.0, 14.0, 0.3))
    people = stood_at(camera, spread(40))
    fallen = [
        Standing(p.who, p.feet_px, (p.head_px[0], 0.5 * (p.head_px[1] + p.feet_px[1])), 1.75, 0.01)
        for p in people[:6]
    ]
    ground = ground_from_players(fallen + people[6:], SIZE)
    assert ground is not None
    there = ground.camera.to_ground(camera.to_image(np.array([[-2.0, 10, 0], [2.0, 10, 0]])))
    assert np.linalg.norm(there[1] - there[0]) == pytest.approx(4, rel=0.05)


def zooming(reference: Camera, zooms: np.ndarray, turn_deg: float = 0.0) -> CameraMotion:
    """A camera that turns and zooms on the spot: K0 R0 R^T K^-1, Hartley and Zisserman 8.4.2."""
    back = []
    for share, zoom in zip(np.linspace(0, 1, len(zooms)), zooms, strict=True):
        turn = Rotation.from_euler("y", share * turn_deg, degrees=True).as_matrix()
        matrix = reference.matrix @ np.diag([1, 1, 1 / zoom])
        back.append(reference.matrix @ turn.T @ np.linalg.inv(matrix))
    return CameraMotion(np.array(back), np.ones(len(zooms), dtype=np.bool_))


@pytest.mark.parametrize(("hfov_deg", "turn_deg"), [(65.0, 25.0), (82.0, 0.0), (82.0, 10.0)])
def test_how_far_the_film_zooms(hfov_deg: float, turn_deg: float) -> None:
    camera = camera_at((0.0, 0.0, 2.5), (0.0, 14.0, 0.3), hfov_deg)
    motion = zooming(camera, np.repeat([1.0, 1.2, 1.5], 20), turn_deg)
    assert zoom_range(motion, SIZE) == pytest.approx((1.0, 1.5), rel=0.05)
    lost = CameraMotion(motion.to_reference, np.zeros(60, dtype=np.bool_))
    assert zoom_range(lost, SIZE) == (1.0, 1.0)


def test_film_that_begins_zoomed_out_is_not_taken_for_the_usual_field_of_view() -> None:
    """From 82 degrees in by 1.5 to 60: tan 41 = 0.87, tan 30 = 0.58. 65 degrees lie between."""
    camera = camera_at((0.0, 0.0, 1.8), (0.0, 14.0, 0.8), 82.0)
    people = stood_at(camera, [(x, 13.0) for x in (-5, -2, 0, 3, 6)])  # no focal length follows
    blind, informed = (
        ground_from_players(people, SIZE, stated_lens(1.0).at_zoom((1.0, most)))
        for most in (1.0, 1.5)
    )
    assert blind is not None and informed is not None
    off = [abs(np.log(g.camera.focal_px / camera.focal_px)) for g in (blind, informed)]
    assert off[1] < 0.4 * off[0]
    away = [g.camera.to_ground(np.array(people[2].feet_px))[1] for g in (blind, informed)]
    assert abs(away[1] - 13) < 0.5 * abs(away[0] - 13)


def test_nobody_gives_no_ground() -> None:
    assert ground_from_players([], SIZE) is None
    unseen = Standing(0, (np.nan, np.nan), (np.nan, np.nan))
    assert ground_from_players([unseen], SIZE) is None


def test_a_bent_player_is_put_together_again() -> None:
    """Side-on, ankle to ear along the body is the same length standing and crouched."""
    camera = camera_at((13.0, 9.0, 1.0), (0.0, 9.0, 1.0))
    run = closeout(target_m=(0.0, 14.0))
    xy_px, score = run.seen(camera, 0.0, np.random.default_rng(0))
    people = standing_players(0, xy_px, on_camera_axes(run, camera), score)
    tall_px = np.array([s.feet_px[1] - s.head_px[1] for s in people])
    standing, crouched = tall_px[0], tall_px[-1]
    assert crouched == pytest.approx(standing, rel=0.03)
    # By hand: thigh, shin, trunk and neck of 0.43, 0.43, 0.50 and 0.22 m, 13 m in front.
    assert standing == pytest.approx(1.58 / ANKLE_TO_EAR * camera.focal_px / 13, rel=0.02)


def test_bending_towards_the_camera_is_told_by_the_landmarks_in_metres() -> None:
    """The same closeout from straight ahead, where crouching shortens thigh and trunk."""
    camera = camera_at((0.0, 27.0, 1.0), (0.0, 9.0, 1.0))
    run = closeout(target_m=(0.0, 14.0))
    xy_px, score = run.seen(camera, 0.0, np.random.default_rng(0))
    world_m = on_camera_axes(run, camera)
    people = standing_players(0, xy_px, world_m, score)
    tall_px = np.array([s.feet_px[1] - s.head_px[1] for s in people])
    range_m = np.linalg.norm(run.ground_m - camera.centre_m[:2], axis=1)
    tall_m = tall_px * range_m / camera.focal_px
    # By hand: thigh, shin, trunk and neck of 0.43, 0.43, 0.50 and 0.22 m.
    assert tall_m[[0, -1]] == pytest.approx(1.58 / ANKLE_TO_EAR, rel=0.06)
    flat = world_m * (1, 1, 0)
    misled = standing_players(0, xy_px, flat, score)
    assert misled[-1].feet_px[1] - misled[-1].head_px[1] < 0.9 * tall_px[-1]


def test_frames_that_do_not_show_the_whole_player_are_left_out() -> None:
    run = closeout()
    camera = camera_at((13.0, 9.0, 1.8), (0.0, 9.0, 0.8))
    xy_px, score = run.seen(camera, 0.0, np.random.default_rng(0))
    score[10:] = 0.1
    score[3] = np.nan
    assert len(standing_players(0, xy_px, on_camera_axes(run, camera), score)) == 9


def run_at(camera: Camera, seen_s: float = 2.5) -> list[Standing]:
    """A man of 1.75 m who runs 11 m straight at the camera, and one who waits where he arrives.

    He stands a quarter of a second, then speeds up for a second to 5.2 m/s and stays at it: by
    hand, 2.6 m and 5.2 m/s times 1.61 s are 11 m.
    """
    people = []
    for t_s in np.arange(0.0, seen_s, 1 / 30):
        running = max(t_s - 0.25, 0.0)
        gone = 2.6 * running**2 if running < 1 else 2.6 + 5.2 * (running - 1)
        y = 24.0 - min(gone, 11.0)
        for who, place in ((0, (0.3, y)), (1, (-0.5, 12.6))):
            feet, head = camera.to_image(np.array([[*place, 0.0], [*place, 1.75]]))
            people.append(Standing(who, tuple(feet), tuple(head), 1.75, 0.05, 0.0, float(t_s)))
    return people


@pytest.mark.parametrize("hfov_deg", [65.0, 40.0, 25.0])
def test_the_distance_of_a_run_at_the_camera_is_as_good_as_is_said(hfov_deg: float) -> None:
    """1x, 1.7x and 2.9x: what a still camera leaves open is in the errors, and in the words."""
    camera = camera_at((0.0, 0.0, 2.2), (0.0, 16.0, 0.9), hfov_deg)
    ground = ground_from_players(run_at(camera), SIZE, rep=Rep())
    assert ground is not None and ground.lens is not None and ground.lens.range90 is not None
    least, most = ground.lens.range90
    assert least < camera.focal_px / 1920 < most
    ends = camera.to_image(np.array([[0.3, 24.0, 0.0], [0.3, 13.0, 0.0]]))
    length = np.linalg.norm(np.diff(ground.camera.to_ground(ends), axis=0))
    assert abs(np.log(length / 11.0)) < 1.645 * ground.depth_sd
    assert ground.depth_sd > 0.1
    assert f"{164.5 * ground.depth_sd:.0f} % along it" in ground.described
    assert ground.described.endswith("from the players")


def test_a_stated_lens_makes_the_run_sure() -> None:
    camera = camera_at((0.0, 0.0, 2.2), (0.0, 16.0, 0.9), 2 * np.degrees(np.arctan(0.5 / 1.56)))
    ends = camera.to_image(np.array([[0.3, 24.0, 0.0], [0.3, 13.0, 0.0]]))
    for lens, most in ((stated_lens(2.0), 0.08), (stated_lens(1.0), 0.75)):
        ground = ground_from_players(run_at(camera), SIZE, lens, rep=Rep())
        assert ground is not None and ground.lens is not None
        length = np.linalg.norm(np.diff(ground.camera.to_ground(ends), axis=0))
        assert abs(np.log(length / 11.0)) < most
        # 1x is stated of a film at 2x: nobody runs 11 m in the time of 5.5.
        assert ground.lens.source in {"stated", "players"}
    known = ground_from_players(run_at(camera), SIZE, stated_lens(2.0), rep=Rep())
    blind = ground_from_players(run_at(camera), SIZE, rep=Rep())
    assert known is not None and blind is not None
    assert known.depth_sd < 0.75 * blind.depth_sd
    assert known.lens is not None and known.lens.source == "stated"
    assert known.lens.focal == pytest.approx(2 * 0.78, rel=0.05)
    assert known.described.endswith("as stated")


def test_how_the_camera_turned_decides_the_lens() -> None:
    camera = camera_at((0.0, 0.0, 2.2), (0.0, 16.0, 0.9), 40.0)
    true = np.log(camera.focal_px / 1920)
    ground = ground_from_players(
        run_at(camera), SIZE, turned=lambda log_focals: -0.5 * ((log_focals - true) / 0.05) ** 2
    )
    assert ground is not None and ground.lens is not None
    assert ground.lens.source == "turning"
    assert ground.lens.focal == pytest.approx(np.exp(true), rel=0.05)
    assert ground.described.endswith("from how the camera turned")
