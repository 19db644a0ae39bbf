"""Read the landmarks of followed players, one pass over the clip for all of them."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from posecheck.clip import Clip
from posecheck.keypoints.pose import PlayerPose, PlayerReader, PoseTrack
from posecheck.players.track import PlayerTrack


@dataclass(frozen=True)
class Wanted:
    """Whom to read, and how often.

    Attributes:
        track: the player.
        spacing_s: time between two readings; 0 reads every frame. A player who stands can be
            read less often, the frames between are NaN here and filled in by smoothing.
    """

    track: PlayerTrack
    spacing_s: float = 0.0


def read_keypoints(clip: Clip, wanted: Sequence[Wanted], model_path: Path) -> list[PoseTrack]:
    """Read every wanted player's landmarks.

    Memory does not grow with the pictures of the clip: one frame is held at a time.

    Returns:
        One track for each entry of ``wanted``, over all frames of the clip.

    Raises:
        UnreadableClip: the file has changed since it was opened.
    """
    poses: list[list[PlayerPose | None]] = [[None] * clip.n_frames for _ in wanted]
    last_s = [-np.inf] * len(wanted)
    with ExitStack() as stack:
        readers = [stack.enter_context(PlayerReader(model_path)) for _ in wanted]
        for glimpse in clip.glimpses(_SMALL_SIDE_PX):
            for number, each in enumerate(wanted):
                box = each.track.box_xyxy[glimpse.index]
                # Half a frame of slack: 0.1 s means every third frame at 29.97/s too.
                due = glimpse.t_s - last_s[number] > each.spacing_s - 0.5 / clip.rate_hz
                if np.isfinite(box).all() and due:
                    poses[number][glimpse.index] = readers[number].read(glimpse.rgb, box)
                    last_s[number] = glimpse.t_s
    return [PoseTrack.from_poses(clip.t_s, each) for each in poses]


_SMALL_SIDE_PX = 16
"""The grey look is not used here; only the frames that are read are turned into pictures."""
