"""Read the landmarks of defender and attacker, one pass over the clip for both.

Reading a body costs far more than decoding a frame, so it is done where it counts: every frame
around a player's arrival at the other, every other frame on the way there, and a player who only
stands there less often still.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from posecheck.clip import Clip
from posecheck.keypoints.pose import PlayerPose, PlayerReader, PoseTrack
from posecheck.players.track import CameraMotion, PlayerTrack

BoolArray = npt.NDArray[np.bool_]
FloatArray = npt.NDArray[np.float64]

NEAR_HEIGHTS = 2.5
"""Closer together than this, in heights of the players, arrival is at hand: at 6 m/s it is reached
half a second before the usual reach of 1.8 m."""

CLOSE_LOOK_S = 1.6
"""How long every frame is read from then on: the last steps, even of somebody who comes slowly, and
the half second after arrival in which the stance is measured."""

RUNNING_SPACING_S = 1 / 15
"""Elsewhere the defender is read this often; his place is smoothed over longer times."""

STANDING_SPACING_S = 0.2
"""How often the attacker is read: he stands, and is not measured."""


@dataclass(frozen=True)
class Wanted:
    """Whom to read, and when.

    Attributes:
        track: the player.
        due: ``(n_frames,)`` True where he is to be read; frames in which he is not followed are
            left out in any case.
    """

    track: PlayerTrack
    due: BoolArray


def when_to_read(
    t_s: FloatArray, defender: PlayerTrack, attacker: PlayerTrack | None, motion: CameraMotion
) -> list[Wanted]:
    """Whom to read in which frames: the defender, then the attacker if there is one.

    Without an attacker to arrive at, the defender is read in every frame.
    """
    if attacker is None:
        return [Wanted(defender, np.ones(len(t_s), dtype=bool))]
    near = np.nan_to_num(_gap_heights(defender, attacker, motion), nan=np.inf) <= NEAR_HEIGHTS
    closely = np.zeros(len(t_s), dtype=bool)
    for begin in t_s[near & ~np.roll(near, 1) | near & (np.arange(len(t_s)) == 0)]:
        closely |= (t_s >= begin) & (t_s <= begin + CLOSE_LOOK_S)
    return [
        Wanted(defender, closely | _every(t_s, RUNNING_SPACING_S)),
        Wanted(attacker, _every(t_s, STANDING_SPACING_S)),
    ]


def read_keypoints(clip: Clip, wanted: Sequence[Wanted], model_path: Path) -> list[PoseTrack]:
    """Read every wanted player's landmarks, holding one picture at a time.

    Returns:
        One track for each entry of ``wanted``, over all frames of the clip; NaN in frames that
        were not due.

    Raises:
        UnreadableClip: the file has changed since it was opened.
    """
    due: BoolArray = np.array([each.due & _followed(each.track) for each in wanted])
    any_due: BoolArray = np.logical_or.reduce(due)
    poses: list[list[PlayerPose | None]] = [[None] * clip.n_frames for _ in wanted]
    with ExitStack() as stack:
        readers = [stack.enter_context(PlayerReader(model_path)) for _ in wanted]
        for frame in clip.frames(which=any_due):
            for number, each in enumerate(wanted):
                if due[number, frame.index]:
                    box = each.track.box_xyxy[frame.index]
                    poses[number][frame.index] = readers[number].read(frame.rgb, box)
    return [PoseTrack.from_poses(clip.t_s, each) for each in poses]


def _gap_heights(one: PlayerTrack, other: PlayerTrack, motion: CameraMotion) -> FloatArray:
    """``(n,)`` distance of two players' feet in the steadied picture, in heights."""
    places = []
    for track in (one, other):
        left, top, right, bottom = track.box_xyxy.T
        middle = (left + right) / 2
        ends = np.stack([np.stack([middle, top], -1), np.stack([middle, bottom], -1)], axis=1)
        places.append(motion.steadied(ends))
    height = np.mean([np.linalg.norm(p[:, 1] - p[:, 0], axis=-1) for p in places], axis=0)
    return np.asarray(np.linalg.norm(places[0][:, 1] - places[1][:, 1], axis=-1) / height)


def _followed(track: PlayerTrack) -> BoolArray:
    followed: BoolArray = np.logical_and.reduce(np.isfinite(track.box_xyxy), axis=1)
    return followed


def _every(t_s: FloatArray, spacing_s: float) -> BoolArray:
    """The first frame of each slot of time, so that uneven frames do not drift apart."""
    slot = np.floor(t_s / spacing_s + 1e-6)
    every: BoolArray = np.diff(slot, prepend=-1.0) > 0
    return every
