"""Where a player is on the ground: runs whose truth is straight-line kinematics by hand."""

from __future__ import annotations

import numpy as np
import pytest
from runner import Run, camera_at, closeout, still

from posecheck.body.foot_sight import FootSight
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.ground.ground import Ground
from posecheck.ground.readings import Sight
from posecheck.ground.tracks import GroundTrack, track_on_ground
from posecheck.ground.tuning import LIFT_S
from posecheck.pose.skeleton import SKELETON

ARRIVAL_FROM_END_M = 1.8

CAMERAS = {
    "sideline": camera_at((13.0, 9.0, 1.8), (0.0, 9.0, 0.8)),
    "sideline, low": camera_at((-14.0, 8.0, 1.6), (0.0, 9.0, 0.8)),
    "front, oblique": camera_at((3.0, 20.0, 2.5), (0.0, 8.0, 0.5)),
    "end line": camera_at((-2.0, -5.0, 3.5), (0.0, 8.0, 0.5)),
    "corner": camera_at((10.0, 17.0, 2.0), (0.0, 9.0, 0.8)),
}

RUN = closeout(top_mps=6.0, braking_mps2=5.0)
"""Ten and a half metres: speeds up at 5 to 6 m/s, brakes at 5 m/s^2 into a crouch."""


def ground_of(camera: Camera) -> Ground:
    return Ground(camera, "marks", "", scale_sd=0.005, depth_sd=0.005, on_field=True)


def followed(run: Run, camera: Camera, seed: int = 0, noise_px: float = 2.0) -> GroundTrack:
    rng = np.random.default_rng(seed)
    xy_px, score = run.seen(camera, noise_px, rng)
    feet = run.foot_sight(camera, rng)
    return track_on_ground(run.t_s, xy_px, score, still(len(run.t_s)), ground_of(camera), feet)


def feet_of(run: Run, camera: Camera) -> FootSight:
    return run.foot_sight(camera, np.random.default_rng(1))


def arrival(run: Run) -> int:
    left = np.linalg.norm(run.ground_m - run.ground_m[-1], axis=1)
    return int(np.argmax(left <= ARRIVAL_FROM_END_M))


@pytest.mark.parametrize("where", CAMERAS)
@pytest.mark.parametrize("seed", [0, 1])
def test_peak_and_arrival_speed_within_reach(where: str, seed: int) -> None:
    """Five per cent or a quarter of a metre per second, whichever is more."""
    track = followed(RUN, CAMERAS[where], seed)
    at = arrival(RUN)
    # v^2 = 2 a s: 1.8 m before the stop at 5 m/s^2 it is the root of 18.
    assert RUN.speed_mps[at] == pytest.approx(np.sqrt(18), abs=0.2)
    assert np.nanmax(track.speed_mps[:at]) == pytest.approx(6.0, abs=0.05 * 6.0)
    assert track.speed_mps[at] == pytest.approx(RUN.speed_mps[at], abs=0.25)


@pytest.mark.parametrize("where", CAMERAS)
def test_speed_all_along_the_run_is_not_smoothed_away(where: str) -> None:
    track = followed(RUN, CAMERAS[where])
    moving = slice(int(np.argmax(RUN.speed_mps > 0.5)), arrival(RUN) + 8)
    off = (track.speed_mps - RUN.speed_mps)[moving]
    assert np.sqrt(np.mean(off**2)) < 0.25
    # Braking at 5 m/s^2 from the fastest moment on is seen as such, neither late nor soft.
    hardest = -np.gradient(track.speed_mps, track.t_s)[: arrival(RUN) + 8].min()
    assert hardest == pytest.approx(5.0, abs=1.5)


@pytest.mark.parametrize("where", CAMERAS)
def test_place_is_within_the_reach_of_an_arm(where: str) -> None:
    track = followed(RUN, CAMERAS[where])
    off = np.linalg.norm(track.xy_m - RUN.ground_m, axis=1)
    assert np.sqrt(np.mean(off**2)) < 0.3


def test_stated_errors_cover_most_of_the_real_ones() -> None:
    within = []
    for camera in CAMERAS.values():
        for seed in range(3):
            track = followed(RUN, camera, seed)
            off = np.abs(track.speed_mps - RUN.speed_mps) / track.speed_sd_mps
            within.append(off[: arrival(RUN) + 8] < 1.645)
    assert 0.85 < np.mean(np.concatenate(within)) <= 1.0


def test_the_ground_s_scale_error_is_in_the_speed_s() -> None:
    camera = CAMERAS["sideline"]
    xy_px, score = RUN.seen(camera, 2.0, np.random.default_rng(0))
    vague = Ground(camera, "players", "", scale_sd=0.1, depth_sd=0.1, on_field=False)
    track = track_on_ground(RUN.t_s, xy_px, score, still(len(RUN.t_s)), vague, feet_of(RUN, camera))
    fastest = int(np.nanargmax(track.speed_mps))
    assert track.speed_sd_mps[fastest] >= 0.1 * track.speed_mps[fastest]
    assert track.speed_sd_mps[fastest] < 0.15 * track.speed_mps[fastest]


@pytest.mark.parametrize("rate_hz", [24, 60, 120])
def test_any_frame_rate_gives_the_same_speeds(rate_hz: int) -> None:
    run = closeout(rate_hz=rate_hz)
    track = followed(run, CAMERAS["corner"])
    assert np.nanmax(track.speed_mps[: arrival(run)]) == pytest.approx(6.0, abs=0.3)


def test_uneven_frame_times_are_taken_as_they_are() -> None:
    fine = closeout(rate_hz=240)
    steps = np.random.default_rng(2).choice([6, 8, 10, 16], 200).cumsum()
    kept = steps[steps < len(fine.t_s)]
    run = Run(fine.t_s[kept], fine.ground_m[kept], fine.speed_mps[kept], fine.joints_m[kept])
    track = followed(run, CAMERAS["sideline"])
    assert np.nanmax(track.speed_mps) == pytest.approx(6.0, abs=0.3)
    assert track.t_s is run.t_s


def test_a_short_gap_is_bridged_with_more_doubt() -> None:
    camera = CAMERAS["sideline"]
    xy_px, score = RUN.seen(camera, 2.0, np.random.default_rng(0))
    feet = feet_of(RUN, camera)
    whole = track_on_ground(RUN.t_s, xy_px, score, still(len(RUN.t_s)), ground_of(camera), feet)
    xy_px[60:73] = np.nan
    score[60:73] = np.nan
    feet = feet_of(RUN, camera)
    track = track_on_ground(RUN.t_s, xy_px, score, still(len(RUN.t_s)), ground_of(camera), feet)
    assert np.isfinite(track.xy_m).all()
    assert track.speed_sd_mps[66] > whole.speed_sd_mps[66]
    assert track.xy_m[66] == pytest.approx(RUN.ground_m[66], abs=0.3)


def test_a_long_gap_stays_a_gap_and_nothing_is_said_before_or_after() -> None:
    camera = CAMERAS["sideline"]
    xy_px, score = RUN.seen(camera, 2.0, np.random.default_rng(0))
    score[60:80] = np.nan
    score[:5] = np.nan
    score[-4:] = np.nan
    feet = feet_of(RUN, camera)
    track = track_on_ground(RUN.t_s, xy_px, score, still(len(RUN.t_s)), ground_of(camera), feet)
    missing = np.isnan(track.xy_m[:, 0])
    assert np.flatnonzero(missing).tolist() == [
        *range(5), *range(60, 80), *range(len(missing) - 4, len(missing))
    ]  # fmt: skip
    for values in (track.velocity_mps[:, 0], track.sd_m, track.speed_sd_mps):
        assert np.array_equal(np.isnan(values), missing)


def test_frames_where_the_camera_was_lost_are_gaps() -> None:
    camera = CAMERAS["sideline"]
    xy_px, score = RUN.seen(camera, 2.0, np.random.default_rng(0))
    tracked = np.ones(len(RUN.t_s), dtype=np.bool_)
    tracked[40:60] = False
    motion = CameraMotion(still(len(RUN.t_s)).to_reference, tracked)
    feet = feet_of(RUN, camera)
    track = track_on_ground(RUN.t_s, xy_px, score, motion, ground_of(camera), feet)
    assert np.isnan(track.xy_m[40:60]).all()


def test_a_panning_camera_changes_nothing() -> None:
    reference = CAMERAS["sideline"]
    n = len(RUN.t_s)
    targets = np.column_stack([np.zeros(n), np.linspace(9, 12, n), np.full(n, 0.8)])
    cameras = [camera_at((13.0, 9.0, 1.8), tuple(target)) for target in targets]
    back = [
        reference.matrix @ reference.rotation @ c.rotation.T @ np.linalg.inv(c.matrix)
        for c in cameras
    ]
    motion = CameraMotion(np.array(back), np.ones(n, dtype=np.bool_))
    rng = np.random.default_rng(0)
    xy_px = np.stack([c.to_image(j) for c, j in zip(cameras, RUN.joints_m, strict=True)])
    xy_px += rng.normal(0, 2, xy_px.shape)
    feet = feet_of(RUN, reference)
    track = track_on_ground(RUN.t_s, xy_px, np.ones((n, 33)), motion, ground_of(reference), feet)
    assert np.nanmax(track.speed_mps) == pytest.approx(6.0, abs=0.3)


def test_the_range_by_the_feet_is_worked_by_hand() -> None:
    """A camera 2 m up; lines of sight that dip by a fifth and pass 0.1 m up, or the like."""
    n = 1
    camera = camera_at((0.0, 0.0, 2.0), (0.0, 10.0, 1.0))
    xy_px = np.full((n, 33, 2), np.nan)
    points = {"hip": 1.0, "heel": 0.1, "foot_index": 0.1}  # heights at 9.5 m
    for part, height in points.items():
        for side in ("left", "right"):
            at = np.array([0.0, 9.5, height])
            xy_px[0, SKELETON.index(f"{side}_{part}")] = camera.to_image(at)
    feet = FootSight(np.array([[0.1, np.nan]]), np.array([[0.05, np.nan]]))
    sight = Sight.of(np.zeros(n), camera, xy_px, np.ones((n, 33)), feet)
    assert sight.dip[0] == pytest.approx(1.9 / 9.5)
    away, sd = sight.by_feet()
    assert away == pytest.approx(1.9 / 0.2)
    assert sd == pytest.approx(0.05 / 0.2)
    running, _ = sight.by_feet(np.array([5.0]))
    assert running == pytest.approx((1.9 - 5 * LIFT_S) / 0.2)


def test_the_surer_foot_counts_more_and_two_are_no_surer_than_one() -> None:
    camera = CAMERAS["sideline"]
    xy_px, score = RUN.seen(camera, 0.0, np.random.default_rng(0))
    height_m = RUN.foot_sight(camera, np.random.default_rng(0), sd_m=0.0).height_m

    def by(sd: tuple[float, float], off: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
        feet = FootSight(height_m + np.array(off), np.tile(sd, (len(height_m), 1)))
        return Sight.of(RUN.t_s, camera, xy_px, score, feet).by_feet()

    right, sd = by((0.03, 0.03), (0.0, 0.0))
    alone = [by((0.03, 0.03), off)[1] for off in ((0.0, np.nan), (np.nan, 0.0))]
    assert (np.minimum(*alone) - 1e-9 <= sd).all() and (sd <= np.maximum(*alone) + 1e-9).all()
    left_off = by((0.03, 0.12), (0.1, 0.0))[0] - right
    right_off = by((0.03, 0.12), (0.0, 0.1))[0] - right
    assert (left_off < 6 * right_off).all() and (right_off < 0).all()


def test_a_short_peak_is_not_levelled_from_afar() -> None:
    """He brakes as soon as he has sped up, low camera, 14 m off, running at an angle to it.

    With the same acceleration allowed every way the peak came out at 4.66 m/s.
    """
    assert _top_mps(camera_at((10.0, -4.0, 1.2), (0.0, 6.5, 0.8))) == pytest.approx(5.0, abs=0.25)


def test_a_peak_straight_at_the_camera_keeps_more_of_its_height() -> None:
    """13 m off and vague all along his way: smoothed once, the peak came out at 4.02 m/s."""
    assert 4.2 < _top_mps(camera_at((2.0, 22.0, 1.2), (0.0, 6.5, 0.8))) < 5.0


def _top_mps(camera: Camera) -> float:
    """Highest speed of one who speeds up to 5 m/s and brakes at once, mean of four films."""
    run = closeout(target_m=(0.0, 9.5), top_mps=5.0, speed_up_mps2=4.2, braking_mps2=4.2)
    return float(np.mean([np.nanmax(followed(run, camera, seed).speed_mps) for seed in range(4)]))


def test_a_standing_player_stands() -> None:
    run = closeout()
    first = np.repeat(run.joints_m[:1], 60, axis=0)
    standing = Run(run.t_s[:60], np.repeat(run.ground_m[:1], 60, axis=0), np.zeros(60), first)
    track = followed(standing, CAMERAS["end line"])
    assert np.median(track.speed_mps) < 0.1
    assert track.xy_m[30] == pytest.approx(run.ground_m[0], abs=0.15)


@pytest.mark.parametrize(("east_m", "right"), [(9.0, 1.0), (-9.0, -1.0)])
def test_hips_are_behind_their_landmarks(east_m: float, right: float) -> None:
    """Side-on, landmarks 3.5 cm ahead on purpose; upfield is to the right from the right side."""
    run = closeout()
    body = np.repeat(run.joints_m[:1], 60, axis=0)
    body[:, SKELETON.indices("left_hip", "right_hip"), 1] += 0.035
    standing = Run(run.t_s[:60], np.repeat(run.ground_m[:1], 60, axis=0), np.zeros(60), body)
    camera = camera_at((east_m, 3.5, 1.8), (0.0, 3.5, 0.8))
    xy_px, score = standing.seen(camera, 0.5, np.random.default_rng(0))
    feet = feet_of(standing, camera)
    facing = np.tile((right, 0.0), (60, 1))
    facing[10] = np.nan
    informed, plain = (
        track_on_ground(standing.t_s, xy_px, score, still(60), ground_of(camera), feet, each)
        for each in (facing, None)
    )
    assert informed.xy_m[30, 1] == pytest.approx(run.ground_m[0, 1], abs=0.01)
    assert plain.xy_m[30, 1] == pytest.approx(run.ground_m[0, 1] + 0.035, abs=0.01)
    assert np.isfinite(informed.xy_m).all()


def test_one_reading_in_three_is_enough_for_somebody_who_stands() -> None:
    run = closeout()
    camera = CAMERAS["sideline"]
    first = np.repeat(run.joints_m[:1], 90, axis=0)
    xy_px = camera.to_image(first) + np.random.default_rng(0).normal(0, 2, (90, 33, 2))
    score = np.full((90, 33), np.nan)
    score[::3] = 0.9
    standing = Run(run.t_s[:90], np.repeat(run.ground_m[:1], 90, axis=0), np.zeros(90), first)
    feet = feet_of(standing, camera)
    track = track_on_ground(run.t_s[:90], xy_px, score, still(90), ground_of(camera), feet)
    assert track.xy_m[45] == pytest.approx(run.ground_m[0], abs=0.2)


def test_feet_never_seen_give_no_place() -> None:
    camera = CAMERAS["sideline"]
    xy_px, score = RUN.seen(camera, 2.0, np.random.default_rng(0))
    score[:, 27:] = 0.0  # ankles, heels and toes behind a wall
    feet = feet_of(RUN, camera)
    track = track_on_ground(RUN.t_s, xy_px, score, still(len(RUN.t_s)), ground_of(camera), feet)
    assert np.isnan(track.xy_m).all()


def test_feet_hidden_at_first_make_the_start_less_sure_and_the_rest_no_worse() -> None:
    camera = CAMERAS["end line"]
    xy_px, score = RUN.seen(camera, 2.0, np.random.default_rng(0))
    feet = feet_of(RUN, camera)
    whole = track_on_ground(RUN.t_s, xy_px, score, still(len(RUN.t_s)), ground_of(camera), feet)
    score[:20, 27:] = 0.0
    feet = feet_of(RUN, camera)
    track = track_on_ground(RUN.t_s, xy_px, score, still(len(RUN.t_s)), ground_of(camera), feet)
    assert track.sd_m[0] > whole.sd_m[0] + 0.1
    assert track.speed_mps[60:] == pytest.approx(whole.speed_mps[60:], abs=0.1)


def test_nobody_seen_gives_nothing() -> None:
    n = 30
    nothing = np.full((n, 33, 2), np.nan)
    track = track_on_ground(
        np.arange(n) / 30,
        nothing,
        nothing[..., 0],
        still(n),
        ground_of(CAMERAS["sideline"]),
        FootSight(nothing[:, :2, 0], nothing[:, :2, 0]),
    )
    assert np.isnan(track.speed_mps).all()


def test_shapes_are_checked() -> None:
    five = np.zeros(5)
    with pytest.raises(ValueError, match=r"xy_m: want \(5, 2\), got \(5, 3\)"):
        GroundTrack(five, np.zeros((5, 3)), np.zeros((5, 2)), five, five)
