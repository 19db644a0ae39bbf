"""Where players are in the steadied picture, and how far apart, in their own heights."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray
from posecheck.players.track import Followed, PlayerTrack
from posecheck.players.tuning import CROUCH_LOG_SIZE, DEPTH_HEIGHTS, SETTLED_S


@dataclass(frozen=True)
class Place:
    """Where a player is in the steadied picture: foot ``(n, 2)`` px and height ``(n,)`` px."""

    foot: FloatArray
    height: FloatArray

    @property
    def frames(self) -> npt.NDArray[np.intp]:
        """The frames in which he is followed."""
        return np.flatnonzero(np.isfinite(self.height))


def place_of(track: PlayerTrack, followed: Followed) -> Place:
    """Where a player is at each moment."""
    left, top, right, bottom = track.box_xyxy.T
    middle = (left + right) / 2
    ends = np.stack([np.stack([middle, top], -1), np.stack([middle, bottom], -1)], axis=1)
    steadied = followed.camera_motion.steadied(ends)
    return Place(steadied[:, 1], np.linalg.norm(steadied[:, 1] - steadied[:, 0], axis=-1))


def there_before(place: Place) -> Place:
    """The place of a player who is assumed to have stood, until found, where he was first found."""
    first = place.frames[0]
    foot, height = place.foot.copy(), place.height.copy()
    foot[:first], height[:first] = foot[first], height[first]
    return Place(foot, height)


def gap_between(
    one: Place, other: Place, focal_px: float = np.inf, zoom: float = 1.0
) -> FloatArray:
    """``(n,)`` distance of two players at each moment, in heights, estimated from the picture."""
    return _between(one, other, focal_px, zoom)


def nearest_soon(t_s: FloatArray, gap: FloatArray, near: int) -> int:
    """The frame in which a runner arrives who is near in frame ``near``.

    He may come nearer still for a moment, but creeping up on the other is no part of the run.

    Args:
        t_s: ``(n,)`` seconds.
        gap: as from :func:`gap_between`, of the first frames or all of them; known in ``near``.
        near: number of a frame.
    """
    until = int(np.searchsorted(t_s, t_s[near] + SETTLED_S))
    return near + int(np.nanargmin(gap[near : until + 1]))


def moved_from(place: Place, frame: int, focal_px: float = np.inf, zoom: float = 1.0) -> FloatArray:
    """``(n,)`` distance from where the player is in a frame in which he is followed, in heights."""
    there = Place(place.foot[frame], place.height[frame])
    return _between(place, there, focal_px, zoom)


def way_to(place: Place, frame: int, focal_px: float, zoom: float) -> FloatArray:
    """``(n,)`` distance from where the player is in a frame, in heights, through a longer lens.

    Along the line of sight only as far as both his size and his feet show it.
    """
    there = Place(place.foot[frame], place.height[frame])
    return np.asarray(np.hypot(_across(place, there), zoom * _nearer(place, there, focal_px)))


def _between(one: Place, other: Place, focal_px: float, zoom: float) -> FloatArray:
    depth = depth_between(one.height, other.height, focal_px)
    if zoom > 1:
        depth = zoom * np.maximum(depth, _nearer(one, other, focal_px))
    return np.asarray(np.hypot(_across(one, other), depth))


def _across(one: Place, other: Place) -> FloatArray:
    scale = (one.height + other.height) / 2
    return np.asarray(np.linalg.norm(one.foot - other.foot, axis=-1) / scale)


def _nearer(one: Place, other: Place, focal_px: float) -> FloatArray:
    """``(n,)`` difference of two places along the line of sight, as size and feet both show it.

    From far away, all of a run changes his size no more than bending does. But whose feet sink in
    the picture as he grows has come nearer: who straightens up leaves them there.
    """
    taller = np.log(one.height / other.height)
    lower = (one.foot - other.foot)[..., 1] / ((one.height + other.height) / 2)
    seen = np.where(taller * lower > 0, np.minimum(np.abs(taller), np.abs(lower)), 0.0)
    return np.asarray(_away(one.height, other.height, focal_px) * seen)


def depth_between(
    height_px: FloatArray, other_px: FloatArray | float, focal_px: float = np.inf
) -> FloatArray:
    """``(n,)`` difference of two players' distances from the camera, in heights."""
    taller = np.abs(np.log(height_px / other_px))
    away = _away(height_px, other_px, focal_px)
    return np.asarray(away * np.maximum(taller - CROUCH_LOG_SIZE, 0.0))


def _away(height_px: FloatArray, other_px: FloatArray | float, focal_px: float) -> FloatArray:
    """``(n,)`` heights from the camera to two players of about such sizes."""
    return np.asarray(np.minimum(DEPTH_HEIGHTS, focal_px / np.sqrt(height_px * other_px)))
