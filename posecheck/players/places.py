"""Where players are in the steadied picture, and how far apart, in their own heights."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray
from posecheck.players.track import Followed, PlayerTrack
from posecheck.players.tuning import CROUCH_LOG_SIZE, DEPTH_HEIGHTS


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


def gap_between(one: Place, other: Place, focal_px: float = np.inf) -> FloatArray:
    """``(n,)`` distance of two players at each moment, in heights, estimated from the picture."""
    across = np.linalg.norm(one.foot - other.foot, axis=-1) / ((one.height + other.height) / 2)
    return np.asarray(np.hypot(across, depth_between(one.height, other.height, focal_px)))


def moved_from_start(place: Place) -> FloatArray:
    """``(n,)`` distance from where the player was first, in heights."""
    first = place.frames[0]
    across = np.linalg.norm(place.foot - place.foot[first], axis=-1)
    scale = (place.height + place.height[first]) / 2
    return np.asarray(np.hypot(across / scale, depth_between(place.height, place.height[first])))


def depth_between(
    height_px: FloatArray, other_px: FloatArray | float, focal_px: float = np.inf
) -> FloatArray:
    """``(n,)`` difference of two players' distances from the camera, in heights."""
    away = np.minimum(DEPTH_HEIGHTS, focal_px / np.sqrt(height_px * other_px))
    return np.asarray(
        away * np.maximum(np.abs(np.log(height_px / other_px)) - CROUCH_LOG_SIZE, 0.0)
    )
