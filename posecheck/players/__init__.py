"""Find the people in a clip, follow them, and say who is defending.

``follow_players(clip, reader)`` and then ``choose_roles(followed)`` are the two calls made from
outside this room.
"""

from posecheck.camera.motion import CameraMotion
from posecheck.players.roles import NoDefender, choose_roles
from posecheck.players.track import Followed, PlayerTrack, Roles
from posecheck.players.tracker import follow_players

__all__ = [
    "CameraMotion",
    "Followed",
    "NoDefender",
    "PlayerTrack",
    "Roles",
    "choose_roles",
    "follow_players",
]
