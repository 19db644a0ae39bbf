"""Read the landmarks of defender and attacker, one pass over the clip for both.

Reading a body costs far more than decoding a frame, so a player who stands and waits is read less
often. A player who moves is read in every frame: with every other one the reader loses running
legs, and the error of closeout speed grew by 0.2 m/s.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from posecheck.camera.motion import CameraMotion
from posecheck.keypoints.tuning import (
    APART_HEIGHTS,
    ATTACKER_SPACING_S,
    CLOSE_DEPTH_HEIGHTS,
    CLOSE_HEIGHTS,
    CLOSE_S,
    CLOSE_SPACING_S,
    CROPS_AHEAD,
    HEIGHTS_AWAY,
    MOST_HIDDEN,
    NEAR_HEIGHTS,
    NEARER_OVER_S,
    SAME_LINE,
    STANDING_SPACING_S,
    STILL_HEIGHTS_PER_S,
    STILL_OVER_S,
)
from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.maths.boxes import covered_share
from posecheck.maths.stopwatch import Stage, stage
from posecheck.maths.timeline import stretches
from posecheck.players.track import PlayerTrack
from posecheck.pose.reader import PlayerReader
from posecheck.pose.square import Crop
from posecheck.pose.track import PlayerPose, PoseTrack
from posecheck.video.ahead import ahead
from posecheck.video.clip import Clip, Frame
from posecheck.video.kept_frames import KeptFrames


@dataclass(frozen=True)
class Wanted:
    """Whom to read, and when.

    Attributes:
        track: the player.
        due: ``(n_frames,)`` True where he is to be read; frames in which he is not followed are
            left out in any case.
        model_path: the pose model, None for the one that reads everybody.
    """

    track: PlayerTrack
    due: BoolArray
    model_path: Path | None = None


def when_to_read(
    t_s: FloatArray,
    defender: PlayerTrack,
    attacker: PlayerTrack | None,
    motion: CameraMotion,
    arrival_s: float | None = None,
) -> list[Wanted]:
    """Whom to read in which frames: the defender, then the attacker if there is one.

    Around a stated arrival the defender is read in every frame, even if he stands.
    """
    sparse = _every(t_s, STANDING_SPACING_S)
    steady = _places(defender, motion)
    busy = _moving(t_s, steady)
    if arrival_s is not None:
        busy |= _close_to(t_s, arrival_s)
    if attacker is None:
        return [Wanted(defender, busy | sparse)]
    others = _places(attacker, motion)
    apart = np.linalg.norm(steady.feet_px - others.feet_px, axis=-1)
    near = apart <= NEAR_HEIGHTS * (steady.height_px + others.height_px) / 2
    return [
        Wanted(defender, (busy | near | sparse) & ~_occluded(t_s, defender, attacker)),
        Wanted(attacker, _every(t_s, ATTACKER_SPACING_S) & ~_occluded(t_s, attacker, defender)),
    ]


def around_arrival(
    t_s: FloatArray,
    defender: PlayerTrack,
    attacker: PlayerTrack | None,
    motion: CameraMotion,
    arrival_s: float | None = None,
) -> BoolArray | None:
    """``(n_frames,)`` True around the moments at which the defender has probably arrived.

    None when there is no attacker to arrive at. A stated arrival is looked at besides. Where the
    ground is not known yet, that is when he is nearly as close to the attacker as he will be, in
    the picture and by their sizes.
    """
    stated = np.zeros(len(t_s), dtype=np.bool_)
    if arrival_s is not None:
        stated = _close_to(t_s, arrival_s) & _every(t_s, CLOSE_SPACING_S)
    if attacker is None:
        return None if arrival_s is None else stated
    own, other = _places(defender, motion), _places(attacker, motion)
    mean_px = (own.height_px + other.height_px) / 2
    apart = np.hypot(
        np.linalg.norm(own.feet_px - other.feet_px, axis=-1) / mean_px,
        CLOSE_DEPTH_HEIGHTS * np.log(own.height_px / other.height_px),
    )
    around: BoolArray = np.zeros(len(t_s), dtype=bool)
    if not np.isfinite(apart).any():
        return stated
    # Comparisons with NaN are False: he does not arrive where one of the two is not followed.
    close, away = apart <= np.nanmin(apart) + CLOSE_HEIGHTS, apart > APART_HEIGHTS
    arrived = False
    for i, now_s in enumerate(t_s):
        if close[i] and not arrived:
            around |= _close_to(t_s, float(now_s))
        arrived = (arrived or bool(close[i])) and not away[i]
    due = (around & _every(t_s, CLOSE_SPACING_S)) | stated
    return due & ~_occluded(t_s, defender, attacker)


OpenPlayer = Callable[[Path], AbstractContextManager[PlayerReader]]


def read_keypoints(
    clip: Clip,
    wanted: Sequence[Wanted],
    model_path: Path,
    open_player: OpenPlayer = PlayerReader,
    kept: KeptFrames | None = None,
) -> list[PoseTrack]:
    """Read every wanted player's landmarks, holding one picture at a time.

    Args:
        clip: the film.
        wanted: whom to read, when, and with which model.
        model_path: the model where ``wanted`` names none.
        open_player: opens a reader for one of them.
        kept: frames to be kept on the way.

    Returns:
        One track for each entry of ``wanted``, over all frames of the clip; NaN in frames that
        were not due.

    Raises:
        UnreadableClip: the file has changed since it was opened.
    """
    followed = [_followed(each.track) for each in wanted]
    due: BoolArray = np.array([each.due for each in wanted]) & followed
    any_due: BoolArray = np.logical_or.reduce(due)
    tracks = [each.track for each in wanted]
    # A body read where one stands hidden behind the player is the player's.
    count = [
        [followed[other] & ~_behind(clip.t_s, tracks[other], track) for other in range(len(tracks))]
        for track in tracks
    ]
    poses: list[list[PlayerPose | None]] = [[None] * clip.n_frames for _ in wanted]
    with ExitStack() as stack:
        readers = [
            stack.enter_context(open_player(each.model_path or model_path)) for each in wanted
        ]
        frames = clip.frames(which=any_due, kept=kept)
        for frame, crops in ahead(_cropped(frames, tracks, due), CROPS_AHEAD):
            i = frame.index
            boxes = [track.box_xyxy[i] for track in tracks]
            for number, crop in crops.items():
                others = [
                    boxes[other]
                    for other in range(len(boxes))
                    if tracks[other] is not tracks[number] and count[number][other][i]
                ]
                close = wanted[number].model_path is not None
                with stage(Stage.CLOSE_READS if close else Stage.USUAL_READS):
                    poses[number][i] = readers[number].read(
                        frame.pixels, boxes[number], others, crop
                    )
    return [PoseTrack.from_poses(clip.t_s, each) for each in poses]


def _cropped(
    frames: Iterator[Frame], tracks: Sequence[PlayerTrack], due: BoolArray
) -> Generator[tuple[Frame, dict[int, Crop]]]:
    """Frames with the crops to be read in them, by number; one for a player read by two models."""
    for frame in frames:
        crops: dict[int, Crop] = {}
        for number in np.flatnonzero(due[:, frame.index]).tolist():
            cut = (crop for other, crop in crops.items() if tracks[other] is tracks[number])
            box = tracks[number].box_xyxy[frame.index]
            crops[number] = next(cut, None) or Crop.of_player(frame.pixels, box)
        yield frame, crops


@dataclass(frozen=True)
class _Places:
    """Where a player is in the steadied picture: feet ``(n, 2)`` px, height ``(n,)`` px."""

    feet_px: FloatArray
    height_px: FloatArray


def _places(track: PlayerTrack, motion: CameraMotion) -> _Places:
    left, top, right, bottom = track.box_xyxy.T
    middle = (left + right) / 2
    ends = np.stack([np.stack([middle, top], -1), np.stack([middle, bottom], -1)], axis=1)
    steady = motion.steadied(ends)
    return _Places(steady[:, 1], np.linalg.norm(steady[:, 1] - steady[:, 0], axis=-1))


def _close_to(t_s: FloatArray, arrival_s: float) -> BoolArray:
    """``(n,)`` True around a moment of arrival."""
    close: BoolArray = (t_s >= arrival_s + CLOSE_S[0]) & (t_s <= arrival_s + CLOSE_S[1])
    return close


def _moving(t_s: FloatArray, places: _Places) -> BoolArray:
    """``(n,)`` True unless the player keeps his place and his size for a while around the frame."""
    moving: BoolArray = np.ones(len(t_s), dtype=bool)
    for i, now_s in enumerate(t_s):
        around = np.abs(t_s - now_s) <= STILL_OVER_S
        if np.isfinite(places.height_px[around]).all():
            shifted = np.ptp(places.feet_px[around], axis=0).max()
            grown = HEIGHTS_AWAY * np.ptp(places.height_px[around])
            limit = STILL_HEIGHTS_PER_S * 2 * STILL_OVER_S * places.height_px[i]
            moving[i] = max(shifted, grown) > limit
    return moving


def _occluded(t_s: FloatArray, track: PlayerTrack, other: PlayerTrack) -> BoolArray:
    """``(n,)`` True where most of him is behind one who stands nearer, lower in the picture.

    Or who may stand nearer: at the same line neither is known to be in front, unless he has come
    there from in front.
    """
    occluded: BoolArray = _covered(track, other) & _lower(other, track, -SAME_LINE)
    return occluded & ~_in_front(t_s, track, other)


def _behind(t_s: FloatArray, track: PlayerTrack, other: PlayerTrack) -> BoolArray:
    """``(n,)`` True where he is not seen, and most of him is behind one who stands nearer."""
    behind: BoolArray = _covered(track, other) & ~track.seen
    return behind & (_lower(other, track, SAME_LINE) | _in_front(t_s, other, track))


def _covered(track: PlayerTrack, other: PlayerTrack) -> BoolArray:
    """``(n,)`` True where most of his box lies in the other's."""
    covered: BoolArray = covered_share(track.box_xyxy, other.box_xyxy) > MOST_HIDDEN
    return covered


def _lower(track: PlayerTrack, other: PlayerTrack, share: float) -> BoolArray:
    """``(n,)`` True where he ends lower in the picture by a share of the other's height."""
    height_px = other.box_xyxy[:, 3] - other.box_xyxy[:, 1]
    lower: BoolArray = track.box_xyxy[:, 3] > other.box_xyxy[:, 3] + share * height_px
    return lower


def _in_front(t_s: FloatArray, track: PlayerTrack, other: PlayerTrack) -> BoolArray:
    """``(n,)`` True where he alone of the two is seen, and was the nearer one before one came to
    cover the other.

    A runner's box ends now and then at a foot in the air, so that of a single frame their boxes do
    not say who is nearer.
    """
    one_covers: BoolArray = _covered(track, other) | _covered(other, track)
    lower_px = track.box_xyxy[:, 3] - other.box_xyxy[:, 3]
    nearer = np.zeros(len(t_s), dtype=np.bool_)
    for frames in stretches(t_s, one_covers, bridged_s=NEARER_OVER_S):
        since_s = t_s[frames[0]] - t_s
        before = lower_px[(since_s > 0) & (since_s <= NEARER_OVER_S) & np.isfinite(lower_px)]
        nearer[frames] = len(before) > 0 and bool(np.median(before) > 0)
    return nearer & track.seen & ~other.seen


def _followed(track: PlayerTrack) -> BoolArray:
    followed: BoolArray = np.logical_and.reduce(np.isfinite(track.box_xyxy), axis=1)
    return followed


def _every(t_s: FloatArray, spacing_s: float) -> BoolArray:
    """The first frame of each slot of time, so that uneven frames do not drift apart."""
    slot = np.floor(t_s / spacing_s + 1e-6)
    every: BoolArray = np.diff(slot, prepend=-1.0) > 0
    return every
