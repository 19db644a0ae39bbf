"""The ground of a clip in which no point of the field is known, estimated from the players."""

from __future__ import annotations

from collections.abc import Sequence

from posecheck.body.foot_sight import read_feet
from posecheck.body.view import body_view
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.ground.from_players import (
    Standing,
    ground_from_players,
    standing_players,
    zoom_range,
)
from posecheck.ground.ground import Ground
from posecheck.ground.tuning import UNKNOWN_STATURE_M
from posecheck.pipeline.tuning import STATED_HEIGHT_SD_M
from posecheck.pose.track import PoseTrack
from posecheck.practice.roster import Player


def estimated_ground(
    players: Sequence[tuple[PoseTrack, Player | None]],
    motion: CameraMotion,
    size_px: tuple[int, int],
) -> Ground | None:
    """The ground from the height of the players who run on it.

    Fitted twice on purpose. Where a foot is in relation to the hips is read from the body as the
    camera sees it, and so depends a little on the camera's tilt, which is what is being fitted. The
    first pass takes each foot to stand right below the hips; its camera is good enough for the
    second to read the feet with.

    Args:
        players: smoothed landmarks of each, and who he is by the roster, None when not known.
        motion: of the camera.
        size_px: width and height of the film.

    Returns:
        The ground in the clip's reference frame, None when nobody's feet are seen on it.
    """
    zoomed = zoom_range(motion, size_px)

    def fitted(camera: Camera | None) -> Ground | None:
        standing = [
            each
            for who, (pose, player) in enumerate(players)
            for each in _standing(who, pose, player, motion, camera)
        ]
        return ground_from_players(standing, size_px, zoomed)

    first = fitted(None)
    return fitted(first.camera) if first else None


def _standing(
    who: int, pose: PoseTrack, player: Player | None, motion: CameraMotion, camera: Camera | None
) -> list[Standing]:
    """Frames in which a player stands, with his feet right below him when no camera is given."""
    feet = read_feet(body_view(pose, camera, motion)) if camera else None
    steady_px = motion.steadied(pose.xy_px)
    return standing_players(who, steady_px, pose.world_m, pose.score, *_stature(player), feet)


def _stature(player: Player | None) -> tuple[float, float]:
    """Mean and standard deviation of a player's height, metres."""
    if player is None or player.height_m is None:
        return UNKNOWN_STATURE_M
    return player.height_m, STATED_HEIGHT_SD_M
