"""Where the camera of a "wide" still stands, how it looks, and what its lens does.

A still is a square cut out of a whole picture in which the player stands anywhere. Its camera is
the whole picture's: the principal point lies where the lens's axis is, mostly outside the square.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.recipe import Wide
from models.render.lens import distorted, maps, straightened, strongest
from models.render.motion import PlayerMotion
from models.render.phone import Track, project
from models.render.poses import placed

Array = NDArray[Any]

MID_BODY_M = 0.9
AROUND_PX = 12
"""At least so far from the whole picture's edge a player of standing height ends."""
DRAWN_OVER_FILM = 1.2
"""Side of the square that is drawn, over that of the still: a lens shows more or less of it."""


@dataclass(frozen=True)
class WideCamera:
    """The camera of every pose of a cast.

    Attributes:
        track: what is drawn, by frame of the motion.
        film_k: ``(n poses, 3, 3)`` of the stills, before distortion.
        k1: ``(n poses,)``.
        frame_px: of the whole picture.
        cut_px: ``(n poses, 2)`` where the still's first pixel is in the whole picture.
        size_px: of the stills.
    """

    track: Track
    film_k: Array
    k1: Array
    frame_px: tuple[int, int]
    cut_px: Array
    size_px: tuple[int, int]

    def seen(self, pose: int, points_m: Array) -> Array:
        """Pixels (..., 2) of a still at which points (..., 3) are seen."""
        frame = 3 * pose + 1
        k = self.film_k[pose]
        straight = project(k, self.track.rotation[frame], self.track.centre, points_m)
        return distorted(k, float(self.k1[pose]), straight)

    def filmed(self, pose: int, drawn: Array) -> Array:
        """The still (h, w, 3) from what was drawn; black beyond the whole picture."""
        from models.render.lens import filmed

        through = maps(
            self.track.matrix(3 * pose + 1), self.film_k[pose], float(self.k1[pose]), self.size_px
        )
        still = filmed(drawn, through)
        left, top = self.cut_px[pose]
        width, height = self.frame_px
        x0, y0 = int(np.clip(-left, 0, still.shape[1])), int(np.clip(-top, 0, still.shape[0]))
        x1, y1 = int(np.clip(width - left, 0, None)), int(np.clip(height - top, 0, None))
        still[:y0], still[:, :x0], still[y1:], still[:, x1:] = 0, 0, 0, 0
        return still


def wide_camera(
    rng: np.random.Generator,
    motion: PlayerMotion,
    stature_m: float,
    size_px: tuple[int, int],
    recipe: Wide,
) -> tuple[PlayerMotion, WideCamera]:
    """Put the poses before a camera drawn at random: the motion there, and the camera."""
    n = len(motion.t_s) // 3
    frame = recipe.frames_px[int(rng.integers(len(recipe.frames_px)))]
    focal = max(frame) * float(np.exp(rng.uniform(*np.log(recipe.focal))))
    steepest = np.radians(recipe.steepest_deg)
    # No higher than from where the player is of a usual size when seen as steeply as may be.
    highest = focal * stature_m / recipe.usual_tall_px[0] * np.sin(steepest)
    low, high = recipe.camera_height_m
    height = float(np.exp(rng.uniform(np.log(low), np.log(np.clip(highest, 2 * low, high)))))
    usual = rng.uniform(size=n) < recipe.usual_share
    (low_px, high_px), (least_px, most_px) = np.log(recipe.usual_tall_px), np.log(recipe.tall_px)
    tall: Array = np.where(
        usual, np.exp(rng.uniform(low_px, high_px, n)), np.exp(rng.uniform(least_px, most_px, n))
    )
    above = height - MID_BODY_M
    slant: Array = np.clip(focal * stature_m / tall, *recipe.distance_m)
    slant = np.maximum(slant, abs(above) / np.sin(steepest))
    tall = focal * stature_m / slant
    away = np.sqrt(slant**2 - above**2)
    azimuth = float(rng.uniform(0, 2 * np.pi))
    # A long lens sweeps over less of the field, so that the field need not be drawn far and wide.
    spread = 0.12 * min(1.0, 1500 / focal)
    aside = azimuth + rng.uniform(-spread, spread, n)
    ahead = np.array([np.cos(azimuth), np.sin(azimuth)])
    centre = np.array(
        [*(np.array([0.0, 8.0]) + rng.uniform(-8, 8, 2) - 0.5 * np.median(away) * ahead), height]
    )
    goal = centre[:2] + away[:, None] * np.stack([np.cos(aside), np.sin(aside)], axis=1)
    there = placed(motion, rng.uniform(0, 2 * np.pi, n), goal)
    bodies = there.vertices_m[1::3]
    middles = (bodies.min(axis=1) + bodies.max(axis=1)) / 2

    width, tallness = frame
    frame_k = np.array([[focal, 0, (width - 1) / 2], [0, focal, (tallness - 1) / 2], [0, 0, 1.0]])
    rotation, film_k, k1 = np.empty((n, 3, 3)), np.empty((n, 3, 3)), np.empty(n)
    cut, principal = np.empty((n, 2)), np.empty((n, 2))
    side = size_px[0]
    drawn_side = 2 * round(side * DRAWN_OVER_FILM / 2)
    bent = rng.uniform(size=n) < recipe.distorted_share
    for i in range(n):
        room = np.array([0.3 * tall[i], 0.5 * tall[i] + AROUND_PX])
        place = rng.uniform(room, np.maximum(np.array(frame) - room, room + 1))
        while not _reachable(frame_k, centre, middles[i], place):  # seen steeply, from very near
            place = (place + frame_k[:2, 2]) / 2
        reach = float(np.linalg.norm(place - frame_k[:2, 2]) + 0.3 * tall[i]) / focal
        k1[i] = strongest(float(rng.uniform(*recipe.k1)), reach) if bent[i] else 0.0
        straight = straightened(frame_k, k1[i], place)
        roll = float(rng.normal(0, np.radians(recipe.roll_sd_deg)))
        rotation[i] = aimed(frame_k, centre, middles[i], straight, roll)
        cut[i] = np.rint(place - side / 2 + rng.normal(0, 0.03, 2) * tall[i])
        film_k[i] = frame_k
        film_k[i, :2, 2] -= cut[i]
        principal[i] = frame_k[:2, 2] - np.rint(straight - drawn_side / 2)
    track = Track(
        frame_k, np.repeat(rotation, 3, axis=0), centre, (drawn_side, drawn_side), still=False,
        principal_px=np.repeat(principal, 3, axis=0),
    )  # fmt: skip
    return there, WideCamera(track, film_k, k1, frame, cut, size_px)


def _reachable(k: Array, centre: Array, target: Array, at_px: Array) -> bool:
    """Whether a camera held about level, and not upside down, can show a target at a pixel."""
    local = np.linalg.inv(k) @ [*at_px, 1.0]
    sight = (target - centre) / np.linalg.norm(target - centre)
    reach = np.hypot(local[1], local[2]) / np.linalg.norm(local)
    return bool(abs(sight[2]) < 0.97 * reach)


def aimed(k: Array, centre: Array, target: Array, at_px: Array, roll: float) -> Array:
    """Camera rotation (3, 3), world to camera, that shows a target at a pixel, held at a roll.

    Args:
        k: (3, 3) intrinsics.
        centre, target: (3,) m.
        at_px: (2,) where the target is to be seen.
        roll: about the optical axis, rad; 0 is level.
    """
    turn = np.array(
        [[np.cos(roll), -np.sin(roll), 0], [np.sin(roll), np.cos(roll), 0], [0, 0, 1.0]]
    )
    local = np.linalg.inv(k) @ [*at_px, 1.0]
    x, y, z = turn.T @ (local / np.linalg.norm(local))  # in the level camera: right, down, ahead
    sight = (target - centre) / np.linalg.norm(target - centre)
    # Pitched down by p the level camera's ray rises by -(y cos p + z sin p): solve for p.
    reach, phase = np.hypot(y, z), np.arctan2(z, y)
    swing = np.arccos(np.clip(-sight[2] / reach, -1, 1))
    pitch = min(
        (phase - swing, phase + swing), key=lambda p: abs((p + np.pi) % (2 * np.pi) - np.pi)
    )
    # The ray's bearing in the level camera, and the yaw that turns it onto the target's.
    forward = z * np.cos(pitch) - y * np.sin(pitch)
    yaw = np.arctan2(sight[0], sight[1]) - np.arctan2(x, forward)
    ahead = np.array([np.sin(yaw), np.cos(yaw), 0.0])
    right = np.array([np.cos(yaw), -np.sin(yaw), 0.0])
    axis = np.cos(pitch) * ahead - np.sin(pitch) * np.array([0, 0, 1.0])
    level = np.stack([right, np.cross(axis, right), axis])
    return np.asarray(turn @ level)
