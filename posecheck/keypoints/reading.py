"""Read the landmarks of followed players, one pass over the clip for all of them."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from posecheck.clip import Clip
from posecheck.keypoints.pose import PlayerPose, PlayerReader, PoseTrack
from posecheck.players.track import PlayerTrack


@dataclass(frozen=True)
class Wanted:
    """Whom to read, and how often.

    Attributes:
        track: the player.
        spacing_s: time between two readings; 0 reads every frame. A player who stands can be
            read less often; the frames between are NaN here and filled in by smoothing.
    """

    track: PlayerTrack
    spacing_s: float = 0.0


def read_keypoints(clip: Clip, wanted: Sequence[Wanted], model_path: Path) -> list[PoseTrack]:
    """Read every wanted player's landmarks, holding one picture at a time.

    Returns:
        One track for each entry of ``wanted``, over all frames of the clip.

    Raises:
        UnreadableClip: the file has changed since it was opened.
    """
    due: npt.NDArray[np.bool_] = np.array([_due(clip.t_s, each) for each in wanted])
    any_due: npt.NDArray[np.bool_] = np.logical_or.reduce(due)
    poses: list[list[PlayerPose | None]] = [[None] * clip.n_frames for _ in wanted]
    with ExitStack() as stack:
        readers = [stack.enter_context(PlayerReader(model_path)) for _ in wanted]
        for frame in clip.frames(which=any_due):
            for number, each in enumerate(wanted):
                if due[number, frame.index]:
                    box = each.track.box_xyxy[frame.index]
                    poses[number][frame.index] = readers[number].read(frame.rgb, box)
    return [PoseTrack.from_poses(clip.t_s, each) for each in poses]


def _due(t_s: npt.NDArray[np.float64], wanted: Wanted) -> npt.NDArray[np.bool_]:
    """``(n_frames,)`` True where the player is to be read."""
    due: npt.NDArray[np.bool_] = np.logical_and.reduce(np.isfinite(wanted.track.box_xyxy), axis=1)
    if wanted.spacing_s:
        # The first frame of each slot of time, so that uneven frames do not drift apart.
        slot = np.floor(t_s / wanted.spacing_s + 1e-6)
        due &= np.diff(slot, prepend=-1.0) > 0
    return due
