"""The ground of a clip in which no point of the field is known, estimated from the players."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from posecheck.body.foot_sight import read_feet
from posecheck.body.view import body_view
from posecheck.camera.lens import USUAL_LENS, Belief, Lens
from posecheck.camera.motion import CameraMotion
from posecheck.camera.pinhole import Camera
from posecheck.camera.turning import log_likelihood_of_turning
from posecheck.ground.from_players import (
    Rep,
    Standing,
    ground_from_players,
    standing_players,
    zoom_range,
)
from posecheck.ground.ground import Ground
from posecheck.ground.tuning import UNKNOWN_STATURE_M
from posecheck.maths.arrays import FloatArray
from posecheck.pipeline.tuning import LAYOUT_APART_LOG_SD, STATED_HEIGHT_SD_M
from posecheck.pose.track import PoseTrack
from posecheck.practice.layout import INSIDE
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player
from posecheck.practice.stature import Stature
from posecheck.practice.tuning import BEHIND_CONE_M


def estimated_ground(
    players: Sequence[tuple[PoseTrack, Player | None]],
    motion: CameraMotion,
    size_px: tuple[int, int],
    lens: Lens = USUAL_LENS,
    rep: Rep | None = None,
    usual: Stature | None = None,
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
        lens: what is believed of the lens at the film's beginning.
        rep: what is known of it, by default what is usual.
        usual: stature of players whose own is not known, by default that of anybody.

    Returns:
        The ground in the clip's reference frame, None when nobody's feet are seen on it.
    """
    if lens.source == "usual":
        # Whoever zooms begins or ends at 1x, so it is not known of which moment that holds.
        lens = lens.at_zoom(zoom_range(motion, size_px))

    statures = [stature_of(player, usual) for _, player in players]

    def turned(log_focals: FloatArray) -> FloatArray:
        return log_likelihood_of_turning(motion, size_px, log_focals)

    def fitted(camera: Camera | None) -> Ground | None:
        standing = [
            each
            for who, (pose, _) in enumerate(players)
            for each in _standing(who, pose, statures[who], motion, camera)
        ]
        return ground_from_players(standing, size_px, lens, turned, rep or Rep(), known_by)

    known_by = ", ".join(dict.fromkeys(each.known_by for each in statures if each.known_by))
    first = fitted(None)
    return fitted(first.camera) if first else None


def rep_of(practice: Practice, spot: str | None) -> Rep:
    """What a practice says of a rep to one of its spots, even where no point of it is seen."""
    inside, cone = (practice.layout.points.get(name or "") for name in (INSIDE, spot))
    if inside is None or cone is None:
        return Rep()
    apart_m = float(np.linalg.norm(np.subtract(inside, cone)))
    return Rep(log_apart=Belief(float(np.log(apart_m + BEHIND_CONE_M)), LAYOUT_APART_LOG_SD))


def _standing(
    who: int, pose: PoseTrack, stature: Stature, motion: CameraMotion, camera: Camera | None
) -> list[Standing]:
    """Frames in which a player stands, with his feet right below him when no camera is given."""
    feet = read_feet(body_view(pose, camera, motion)) if camera else None
    steady_px = motion.steadied(pose.xy_px)
    return standing_players(
        who, steady_px, pose.world_m, pose.score, stature.mean_m, stature.sd_m, feet, pose.t_s
    )


def stature_of(player: Player | None, usual: Stature | None = None) -> Stature:
    """A player's stature: his own by the roster, else what is usual, else that of anybody."""
    if player is not None and player.height_m is not None:
        return Stature(player.height_m, STATED_HEIGHT_SD_M, "stated on the roster")
    return usual or Stature(*UNKNOWN_STATURE_M)
