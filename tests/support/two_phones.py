"""The stick runner and a waiting attacker, filmed by several phones whose clocks differ."""

from __future__ import annotations

from functools import cache

import numpy as np
from runner import Run, camera_at, closeout

from posecheck.camera.pinhole import Camera
from posecheck.multiview.measured import Measured, measure_together
from posecheck.multiview.phone import FieldPoints, Phone, between
from posecheck.multiview.set_up import SetUp, set_up
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack
from posecheck.practice.stature import Stature
from posecheck.video.sound import Sound

HIPS = SKELETON.indices("left_hip", "right_hip")
SIZE_PX = (1920, 1080)
LATER_S = 0.3
RATE_HZ = 16_000
"""Of sound."""
MARKS_M = np.array([[0, 3.5], [0, 15], [-8, 12.5], [-2.7, 0], [2.7, 0], [0, 2.7]])
"""Some of the field's points: cones and crease."""


@cache
def run() -> Run:
    """A closeout from the inside cone to the top, at 240 moments a second."""
    return closeout(rate_hz=240.0)


@cache
def waiting() -> np.ndarray:
    """``(33, 3)`` somebody who stands upright where the run ends, a metre further."""
    first = run().joints_m[0]
    return first - [*first[HIPS].mean(axis=0)[:2], 0.0] + [0.3, 15.2, 0.0]


def sideline() -> Camera:
    return camera_at((9.0, 9.5, 1.9), (0.0, 11.5, 0.9))


def corner() -> Camera:
    return camera_at((5.5, 19.5, 2.2), (0.0, 12.0, 0.9), hfov_deg=60.0)


def film(
    camera: Camera,
    later_s: float = 0.0,
    *,
    first_s: float = 0.3,
    last_s: float = 3.4,
    rate_hz: float = 30.0,
    noise_m: float = 0.01,
    seed: int = 0,
    known: bool = False,
    name: str = "rep.mp4",
) -> Phone:
    """What a phone sees from ``first_s`` to ``last_s`` of its own clock.

    Args:
        camera: where it stands.
        later_s: what its clock shows at a moment, less what the run's shows.
        first_s, last_s, rate_hz: of the film.
        noise_m: standard deviation of a landmark across the line of sight, metres at the player.
        seed: of the noise.
        known: True when the field's points are marked.
        name: of the film.
    """
    rng = np.random.default_rng(seed)
    t_s = np.arange(first_s, last_s, 1 / rate_hz)
    bodies = between(run().t_s, run().joints_m, t_s - later_s)
    standing = np.broadcast_to(waiting(), bodies.shape)
    players = tuple(_seen(camera, t_s, each, noise_m, rng) for each in (bodies, standing))
    points = None
    if known:
        xyz_m = np.column_stack([MARKS_M, np.zeros(len(MARKS_M))])
        xy_px = camera.to_image(xyz_m) + rng.normal(0, 1.0, MARKS_M.shape)
        points = FieldPoints(camera, xyz_m, xy_px, np.full(len(xy_px), 2.0))
    return Phone(name, SIZE_PX, players, points)


def _seen(
    camera: Camera, t_s: np.ndarray, bodies: np.ndarray, noise_m: float, rng: np.random.Generator
) -> PoseTrack:
    hips = bodies[:, HIPS].mean(axis=1, keepdims=True)
    away = np.linalg.norm(hips - camera.centre_m, axis=2, keepdims=True)
    noise = rng.normal(0, 1, (*bodies.shape[:2], 2)) * noise_m * camera.focal_px / away
    world_m = (bodies - hips) @ camera.rotation.T
    return PoseTrack(t_s, camera.to_image(bodies) + noise, world_m, np.full(bodies.shape[:2], 0.9))


@cache
def measured_together() -> tuple[SetUp, Measured]:
    """Both phones with known points marked, the second one's clock ``LATER_S`` ahead."""
    other = film(corner(), LATER_S, first_s=0.7, last_s=3.9, seed=2, known=True)
    phones = film(sideline(), seed=1, known=True), other
    sounds = Sound(claps([1.2], 0.5, 1), RATE_HZ, 0), Sound(claps([1.2], 0.5, 2), RATE_HZ, LATER_S)
    found = set_up(phones, sounds, [Stature(1.75, 0.02), Stature(1.75, 0.02)])
    return found, measure_together(found, on_field=True)


def turn_between(one: Camera, other: Camera) -> np.ndarray:
    """``(3, 3)`` turns the axes of one camera into those of another."""
    return other.rotation @ one.rotation.T


def claps(at_s: list[float], loud: float, seed: int, long_s: float = 4.0) -> np.ndarray:
    """Sound: noise with sharp bursts."""
    rng = np.random.default_rng(seed)
    sound = rng.normal(0, 0.005, round(long_s * RATE_HZ))
    for moment in at_s:
        burst = np.arange(round(0.05 * RATE_HZ))
        start = round(moment * RATE_HZ)
        shape = rng.normal(0, loud, len(burst)) * np.exp(-burst / (0.01 * RATE_HZ))
        sound[start : start + len(burst)] += shape
    return sound
