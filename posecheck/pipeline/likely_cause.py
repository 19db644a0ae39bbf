"""Why a clip shows no rep: the likeliest cause that the numbers bear out, and what to do about it.

A clip without a rep may be just that: talk, or water. More often it is a rep that cannot be read,
and then what was seen says why.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.filming.steps import Steps
from posecheck.filming.tuning import MIN_HEIGHT_PX
from posecheck.maths.arrays import FloatArray
from posecheck.pipeline.damage import COPY_AGAIN, damage
from posecheck.pipeline.tuning import (
    AT_EDGE_PX,
    CUT_OFF_SHARE,
    MANY_PEOPLE,
    PACE_S,
    SLOW_GOES_HEIGHTS,
    SLOW_GOES_M,
    WALK_HEIGHTS_PS,
)
from posecheck.players.track import Followed, PlayerTrack
from posecheck.reps.tuning import WALK_MPS
from posecheck.video.clip import Clip

NO_REP = (
    "leave it out if it shows no rep, else film from the defender's first step until a second "
    "after he arrives"
)


@dataclass(frozen=True)
class Cause:
    """What is wrong with a clip and what to do, each as part of a sentence."""

    fault: str
    remedy: str


def nobody_closes_out(what: str, clip: Clip, followed: Followed) -> Cause:
    """Why no defender was chosen.

    Args:
        what: was seen of everybody's moving, in words.
        clip: the film.
        followed: everybody in it.
    """
    return (
        _damaged(clip)
        or _too_small(what, followed)
        or _cut_off(what, clip, followed)
        or (_goes_slowly(what, followed) if clip.slow_motion == 1 else None)
        or _many(what, followed)
        or Cause(what, NO_REP)
    )


def no_run(
    what: str, clip: Clip, speed_mps: FloatArray, xy_m: FloatArray, steps: Steps | None = None
) -> Cause:
    """Why the defender chosen makes no run that counts.

    Args:
        what: was seen of his moving, in words.
        clip: the film.
        speed_mps: ``(n,)`` his speed, NaN where not known.
        xy_m: ``(n, 2)`` his places, NaN where not known.
        steps: his, None when they cannot be counted.
    """
    return (
        _damaged(clip)
        or (_slow_steps(steps) if steps is not None and steps.slow else None)
        or _slow_motion(clip, speed_mps, xy_m)
        or Cause(what, NO_REP)
    )


def remarks(clip: Clip) -> tuple[str, ...]:
    """What holds of a clip whatever it shows: how much of it cannot be read, and what its own tags
    decide. Sentences."""
    causes = (_damaged(clip), _slow_by_tag(clip))
    return tuple(
        f"{cause.fault[0].upper()}{cause.fault[1:]}; {cause.remedy}."
        for cause in causes
        if cause is not None
    )


def _slow_by_tag(clip: Clip) -> Cause | None:
    if not clip.slow_by_tag:
        return None
    return Cause(
        f"by the phone's own tag it plays {clip.slow_motion:g} times slower than life, and is read "
        "so",
        "if it does not, write slow_motion = 1 in practice.toml",
    )


def _damaged(clip: Clip) -> Cause | None:
    breaks_off_s = float(clip.t_s[-1]) * clip.slow_motion if clip.breaks_off else None
    lost = damage(clip.stated_s, clip.lost_at_end_s, clip.lost_within_s, breaks_off_s)
    return None if lost is None else Cause(lost, COPY_AGAIN)


def _too_small(what: str, followed: Followed) -> Cause | None:
    tallest = max((_height_px(track) for track in followed.tracks), default=np.nan)
    if not tallest < MIN_HEIGHT_PX:
        return None
    return Cause(
        f"{what}, and the tallest is only {tallest:.0f} px tall in the picture",
        "film from nearer",
    )


def _cut_off(what: str, clip: Clip, followed: Followed) -> Cause | None:
    cut = sum(_at_edge(track, clip) > CUT_OFF_SHARE for track in followed.tracks)
    if not cut:
        return None
    who = "a player is" if cut == 1 else f"{cut} players are"
    return Cause(
        f"{what}, and {who} cut off at the edge of the picture for most of it",
        "film with both players whole in the picture all through",
    )


def _goes_slowly(what: str, followed: Followed) -> Cause | None:
    """Somebody goes far across the picture, and is never as fast as one who runs."""
    far = [
        (gone, pace)
        for gone, pace in (_gone_and_pace(track, followed) for track in followed.tracks)
        if gone >= SLOW_GOES_HEIGHTS
    ]
    if not far or max(pace for _, pace in far) >= WALK_HEIGHTS_PS:
        return None
    gone, pace = max(far)
    return Cause(
        f"{what}; a player goes {gone:.0f} of his own heights and never faster than {pace:.1f} of "
        "them a second, as in a walk or in slow motion",
        "leave it out if it shows no rep; if it plays slower than life, write in practice.toml how "
        "many times, such as slow_motion = 8",
    )


def _gone_and_pace(track: PlayerTrack, followed: Followed) -> tuple[float, float]:
    """How far a player gets from where he is first seen, and his greatest pace, both in his heights
    in the picture."""
    seen = track.seen
    if seen.sum() < 2:
        return 0.0, 0.0
    middle = 0.5 * (track.box_xyxy[:, :2] + track.box_xyxy[:, 2:])
    t_s, xy = followed.t_s[seen], followed.camera_motion.steadied(middle)[seen]
    known = np.isfinite(xy).all(axis=1)
    if known.sum() < 2:
        return 0.0, 0.0
    t_s, xy = t_s[known], xy[known] / _height_px(track)
    at_s = np.arange(t_s[0], t_s[-1], PACE_S)
    places = np.stack([np.interp(at_s, t_s, xy[:, axis]) for axis in range(2)], axis=1)
    paces = np.linalg.norm(np.diff(places, axis=0), axis=1) / PACE_S
    return float(np.linalg.norm(xy - xy[0], axis=1).max()), float(paces.max(initial=0.0))


def _many(what: str, followed: Followed) -> Cause | None:
    n = len(followed.tracks)
    if n < MANY_PEOPLE:
        return None
    return Cause(
        f"{what}; {n} people are in it", "point the defender out with posecheck names, or film him "
        "and the attacker alone"
    )  # fmt: skip


def _slow_steps(steps: Steps) -> Cause:
    return Cause(
        f"it looks like slow motion: {steps.described}",
        "write in practice.toml how many times slower than life it plays: "
        f"slow_motion = {steps.times_slower} by the look of it",
    )


def _slow_motion(clip: Clip, speed_mps: FloatArray, xy_m: FloatArray) -> Cause | None:
    known = xy_m[np.isfinite(xy_m).all(axis=1)]
    fastest = np.nanmax(speed_mps) if np.isfinite(speed_mps).any() else np.nan
    if clip.slow_motion > 1 or not fastest < WALK_MPS or not len(known):
        return None
    gone = float(np.linalg.norm(known - known[0], axis=1).max())
    if gone < SLOW_GOES_M:
        return None
    return Cause(
        f"the defender goes {gone:.0f} m and is never faster than {fastest:.1f} m/s, which looks "
        "like slow motion",
        "if it is, write in practice.toml how many times slower than life it plays, such as "
        "slow_motion = 8",
    )


def _height_px(track: PlayerTrack) -> float:
    boxes = track.box_xyxy[track.seen]
    return float(np.nanmedian(boxes[:, 3] - boxes[:, 1])) if len(boxes) else np.nan


def _at_edge(track: PlayerTrack, clip: Clip) -> float:
    """Share of the frames in which his box ends at the edge of the picture."""
    boxes = track.box_xyxy[track.seen]
    if not len(boxes):
        return 0.0
    low, high = boxes[:, :2], boxes[:, 2:]
    size = np.array([clip.width_px, clip.height_px])
    return float(np.mean((low <= AT_EDGE_PX).any(axis=1) | (high >= size - AT_EDGE_PX).any(axis=1)))
