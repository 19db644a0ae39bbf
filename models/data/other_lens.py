"""Reps of known truth as other lenses would have seen them, without rendering them again.

Landmarks that were read from a clip are put back into space, each at the true depth of its joint,
and seen from another camera: their errors come along, in metres. The new camera looks from the same
side, at another distance, height and focal length, so that the body looks much the same; what
changes is what a lens changes.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.spatial.transform import Rotation

from models.data.film import Arrays, Film
from posecheck.body.stance import turned_by_ray
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.keypoints.clip_keypoints import ClipKeypoints
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack
from posecheck.video.clip import Clip

BODY_M = 0.9
"""Height of a body's middle, which a camera is aimed at."""
UNSEEN_SCORE = 0.05
"""Score of a landmark outside the picture."""
INSIDE = 0.97
"""Share of a rep's landmarks that the new picture must show."""
AFTER_S = 0.6
"""Seconds after arrival that must be in the picture too."""
TRIES = 60
TILT_SEEN = 0.6
"""Share of the camera's looking down that the pose model's own body shows: by how much longer
people look from above than they are projected, on rendered clips seen from 7 to 37 degrees
above."""
STEEPEST_DEG = 38.0
"""Steeper views are not drawn: the landmarks were read from a phone held lower."""


@dataclass(frozen=True)
class Draw:
    """Another camera.

    Attributes:
        focal: focal length over the longer side of the picture.
        height_m: of the lens over the ground.
        distance_m: on the ground, from the middle of the rep.
        k1: radial distortion, of (distance from the middle / focal length) squared; 0 is none.
    """

    focal: float
    height_m: float
    distance_m: float
    k1: float = 0.0


@dataclass(frozen=True)
class SeenFilm(Film):
    """A film as another camera would have seen it; ``arrays`` have that camera."""

    seen_by: Camera | None = None
    draw: Draw = Draw(1.0, 1.0, 1.0)

    @cached_property
    def arrays(self) -> Arrays:
        """The truth's array part with the other camera in place of the film's own."""
        assert self.seen_by is not None
        own = dict(super().arrays)
        n = len(own["t_s"])
        own["camera_matrix"] = np.tile(self.seen_by.matrix, (n, 1, 1))
        own["camera_rotation"] = np.tile(self.seen_by.rotation, (n, 1, 1))
        own["camera_centre_m"] = np.tile(self.seen_by.centre_m, (n, 1))
        return own


def seen_anew(
    film: Film, clip: Clip, keypoints: ClipKeypoints, rng: np.random.Generator, distorted: bool
) -> tuple[SeenFilm, Clip, ClipKeypoints] | None:
    """A rep through a lens drawn at random, None when none was found that shows all of it.

    Args:
        film: whose camera stands still.
        clip: the same.
        keypoints: as read from it.
        rng: decides.
        distorted: whether the lens bends straight lines.
    """
    for _ in range(TRIES):
        focal = float(np.exp(rng.uniform(np.log(0.6), np.log(2.5))))
        tall = rng.uniform(0.12, 0.30)  # a player's height over the longer side
        draw = Draw(
            focal,
            float(np.exp(rng.uniform(np.log(0.5), np.log(8.0)))),
            float(np.clip(1.75 * focal / tall, 8.0, 60.0)),
            float(rng.uniform(-0.12, 0.06) * focal**2) if distorted else 0.0,
        )
        if draw.height_m > np.tan(np.radians(STEEPEST_DEG)) * draw.distance_m:
            continue
        size = (720, 1280) if rng.uniform() < 0.2 else (1280, 720)
        camera = _other_camera(film, draw, size, rng)
        seen = replace(clip, width_px=size[0], height_px=size[1], digest=f"{clip.digest}-{draw}")
        motion = CameraMotion(
            np.tile(np.eye(3), (clip.n_frames, 1, 1)), np.ones(clip.n_frames, dtype=bool)
        )
        defender = _carried(film, "defender", keypoints.defender, camera, draw.k1)
        if not _shown(film, defender, size):
            continue
        attacker = (
            _carried(film, "attacker", keypoints.attacker, camera, draw.k1)
            if keypoints.attacker
            else None
        )
        other = ClipKeypoints(
            _cut(defender, size),
            _cut(attacker, size) if attacker else None,
            motion,
            keypoints.roles,
        )
        fields = {
            key: value for key, value in vars(film).items() if key in Film.__dataclass_fields__
        }
        # Points are marked where this lens shows them.
        fields["scene"] = {**film.scene, "k1": draw.k1}
        return SeenFilm(**fields, seen_by=camera, draw=draw), seen, other
    return None


def bent(xy_px: FloatArray, camera: Camera, k1: float) -> FloatArray:
    """Where a lens with radial distortion shows what a pinhole shows at ``(..., 2)`` pixels.

    Brown's model with its first term: ``bent = straight * (1 + k1 r^2)``, r in focal lengths.
    """
    middle = camera.matrix[:2, 2]
    off = xy_px - middle
    r2 = np.sum((off / camera.focal_px) ** 2, axis=-1, keepdims=True)
    return np.asarray(middle + off * (1 + k1 * r2))


def _other_camera(
    film: Film, draw: Draw, size_px: tuple[int, int], rng: np.random.Generator
) -> Camera:
    own = film.camera_at(0)
    places = np.concatenate([film.arrays["defender_ground_m"], film.arrays["attacker_ground_m"]])
    middle = (places.min(axis=0) + places.max(axis=0)) / 2
    away = own.centre_m[:2] - middle
    away = away / np.linalg.norm(away)
    turn = Rotation.from_euler("z", rng.normal(0, 12), degrees=True).as_matrix()[:2, :2]
    centre = np.array([*(middle + draw.distance_m * (turn @ away)), draw.height_m])
    forward = np.array([*middle, BODY_M]) - centre
    forward = forward / np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    level = np.stack([right, np.cross(forward, right), forward])
    # Nobody aims exactly, or holds a phone level.
    off = Rotation.from_euler(
        "xyz",
        [rng.normal(0, 1), rng.normal(0, 1.5), rng.normal(0, 1.5)]
        * np.array([1 / draw.focal, 1 / draw.focal, 1]),
        degrees=True,
    )
    focal = draw.focal * max(size_px)
    matrix = np.array(
        [[focal, 0, (size_px[0] - 1) / 2], [0, focal, (size_px[1] - 1) / 2], [0, 0, 1]]
    )
    return Camera(matrix, off.as_matrix() @ level, centre)


def _carried(film: Film, who: str, track: PoseTrack, camera: Camera, k1: float) -> PoseTrack:
    """Landmarks of one camera as another would have seen them."""
    own = film.camera_at(0)
    names = [str(name) for name in film.arrays["joint_names"]]
    which = np.array([names.index(_joint_of(name, names)) for name in SKELETON.names])
    true_s = film.arrays["t_s"]
    joints = np.asarray(film.arrays[f"{who}_joints_m"], dtype=np.float64)
    at = np.clip(np.searchsorted(true_s, track.t_s), 1, len(true_s) - 1)
    share = np.clip((track.t_s - true_s[at - 1]) / (true_s[at] - true_s[at - 1]), 0, 1)
    there = joints[at - 1] + share[:, None, None] * (joints[at] - joints[at - 1])
    depth = (there[:, which] - own.centre_m) @ own.rotation[2]
    rays = own.rays(track.xy_px)
    points = own.centre_m + rays * (depth / (rays @ own.rotation[2]))[..., None]
    xy_px = bent(camera.to_image(points), camera, k1)
    hips = SKELETON.indices("left_hip", "right_hip")
    world = np.full_like(track.world_m, np.nan)
    for i in np.flatnonzero(np.isfinite(xy_px).all(axis=(1, 2))):
        before, after = (
            each.rotation.T @ turned_by_ray(each.rotation @ each.rays(px[hips].mean(axis=0)))
            for each, px in ((own, track.xy_px[i]), (camera, xy_px[i]))
        )
        # World landmarks are on the axes of a view along the line of sight. The pose model sees
        # only part of how far that looks down; of what is added it is to see the same part.
        down = [
            np.arcsin(-each.rays(px[hips].mean(axis=0))[2])
            for each, px in ((own, track.xy_px[i]), (camera, xy_px[i]))
        ]
        missed = Rotation.from_euler("x", (1 - TILT_SEEN) * (down[1] - down[0])).as_matrix()
        world[i] = track.world_m[i] @ before.T @ after @ missed
    return PoseTrack(track.t_s, xy_px, world, track.score)


def _joint_of(landmark: str, names: list[str]) -> str:
    side, _, part = landmark.partition("_")
    near = {"pinky": "wrist", "index": "wrist", "thumb": "wrist"}
    if landmark in names:
        return landmark
    if part in near:
        return f"{side}_{near[part]}"
    return f"{side}_eye" if part.startswith("eye") else "nose"


def _inside(track: PoseTrack, size_px: tuple[int, int]) -> FloatArray:
    """``(n, 33)`` 1 inside the picture, 0 outside, NaN where not read."""
    inside = np.all((track.xy_px >= 0) & (track.xy_px <= np.array(size_px) - 1), axis=2)
    return np.where(np.isfinite(track.xy_px[..., 0]), inside, np.nan)


def _shown(film: Film, track: PoseTrack, size_px: tuple[int, int]) -> bool:
    during = (track.t_s >= film.truth["start_s"] - 0.3) & (
        track.t_s <= film.truth["arrival_s"] + AFTER_S
    )
    inside = _inside(track, size_px)[during]
    return bool(np.isfinite(inside).any() and np.nanmean(inside) >= INSIDE)


def _cut(track: PoseTrack, size_px: tuple[int, int]) -> PoseTrack:
    inside = _inside(track, size_px) == 1
    return replace(
        track, score=np.where(inside, track.score, np.minimum(track.score, UNSEEN_SCORE))
    )


def draws(
    film: Film, clip: Clip, keypoints: ClipKeypoints, count: int, seed: int, distorted: bool
) -> Iterator[tuple[SeenFilm, Clip, ClipKeypoints]]:
    """So many other lenses of one rep."""
    for number in range(count):
        rng = np.random.default_rng([seed, zlib.crc32(film.name.encode()), number])
        seen = seen_anew(film, clip, keypoints, rng, distorted)
        if seen is not None:
            yield seen
