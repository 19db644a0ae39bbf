"""Decide who is the defender and who the attacker by where they are on a known ground.

In the picture a team-mate who idles far behind the cone may stand beside it, and a player near the
camera seems to run when he shifts his feet. On the ground he does not: the defender is the one who
sets off at the inside cone and runs, the attacker the one he comes within reach of, who waited at
the named spot. Places are those of the feet, the bottom of each player's box, with the error that
they have; nobody has been read for landmarks yet.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray
from posecheck.players.closing import arrival_frame, closing
from posecheck.players.lost import is_seen, is_seen_arriving
from posecheck.players.places import nearest_soon, place_of
from posecheck.players.roles import NoDefender, left_out, pointed_out
from posecheck.players.track import Followed, PlayerTrack, Roles
from posecheck.players.tuning import (
    FEET_SD_HEIGHTS,
    FEET_SD_LEAST_M,
    FEET_SD_MOST_M,
    FOUND_LATE_COST,
    MAX_SHIFT_M,
    MAX_SHIFT_SHARE,
    MIN_CLOSING_M,
    MIN_LONE_RUN_M,
    NEAR_M,
    REACH_SD_M,
    RUN_MPS,
    STANDING_S,
    STARTING_SD_M,
    WAITING_SD_M,
    WITHIN_REACH_M,
)


class NotPlaced(ValueError):
    """The feet of the players do not show well enough where on the ground they are."""


@dataclass(frozen=True)
class Feet:
    """Where a player stands on the ground, from his box.

    Attributes:
        xy_m: ``(n, 2)``, NaN where he is not followed or his feet are above the horizon.
        sd_m: ``(n,)`` standard deviation in the least certain direction, along the view.
    """

    xy_m: FloatArray
    sd_m: FloatArray

    @property
    def frames(self) -> npt.NDArray[np.intp]:
        """The frames in which his place is known."""
        return np.flatnonzero(np.isfinite(self.xy_m[:, 0]))

    @property
    def placed(self) -> bool:
        """Whether his places are certain enough to say who he is by."""
        sd_m = self.sd_m[self.frames]
        return len(sd_m) >= 2 and float(np.median(sd_m)) <= FEET_SD_MOST_M


@dataclass(frozen=True)
class _Closeout:
    """One player's run at another, or at nobody, with what it would cost to believe it.

    Attributes:
        runner, target: the two.
        cost: of believing it.
        nearest_m: how near he comes.
        target_seen: whether the other is read for most of the time until then.
    """

    runner: PlayerTrack
    target: PlayerTrack | None
    cost: float
    nearest_m: float
    target_seen: bool


def feet_on_ground(track: PlayerTrack, followed: Followed, camera: Camera) -> Feet:
    """Where a player stands, frame by frame.

    Args:
        track: of the player.
        followed: everybody in the clip.
        camera: over the ground, in the clip's reference frame.
    """
    left, top, right, bottom = track.box_xyxy.T
    middle, height = (left + right) / 2, bottom - top
    raised = bottom - FEET_SD_HEIGHTS * height
    ends = np.stack([np.stack([middle, bottom], -1), np.stack([middle, raised], -1)], axis=1)
    places = camera.to_ground(followed.camera_motion.steadied(ends))
    xy_m = places[:, 0]
    off_m = np.linalg.norm(places[:, 1] - xy_m, axis=-1)
    sd_m = np.hypot(np.where(np.isfinite(off_m), off_m, np.inf), FEET_SD_LEAST_M)
    return Feet(xy_m, np.where(np.isfinite(xy_m[:, 0]), sd_m, np.nan))


def choose_roles_on_ground(
    followed: Followed,
    camera: Camera,
    start_xy_m: FloatArray | None = None,
    waits_xy_m: FloatArray | None = None,
    stated: PlayerTrack | None = None,
) -> Roles:
    """Choose the defender and the attacker among everybody in a clip, on a known ground.

    Of all pairs in which one runs and closes on another who stands, the one that costs least to
    believe: how far out of reach the run ends, how far from his place behind the cone the attacker
    waited, how far from the inside cone the defender set off, each in its standard deviations. A
    hint decides between several; it makes nobody a defender who did not run.

    Args:
        followed: everybody in the clip.
        camera: over the ground, in the clip's reference frame.
        start_xy_m: ``(2,)`` where defenders start, None when not known.
        waits_xy_m: ``(2,)`` where an attacker waits at the named cone, None when not known.
        stated: the defender, when the coach has pointed him out.

    Raises:
        NoDefender: nobody runs out at anybody.
        NotPlaced: it is not known well enough where everybody stands, or the stated defender is
            seen to run nowhere.
    """
    feet = {track.track_id: feet_on_ground(track, followed, camera) for track in followed.tracks}
    placed = [track for track in followed.tracks if feet[track.track_id].placed]
    found = [
        closeout
        for runner in placed
        if stated is None or runner is stated
        for closeout in _closeouts(runner, placed, feet, followed, start_xy_m, waits_xy_m)
    ]
    # A box in which hardly anybody is read may lie on two people, or on nobody.
    best = min(
        found, key=lambda one: (one.target is None, not one.target_seen, one.cost), default=None
    )
    if (best is None or best.target is None) and len(placed) < len(followed.tracks):
        raise NotPlaced("where the players stand is not seen well enough")
    if stated is not None:
        if best is None:
            raise NotPlaced("the player pointed out does not run anywhere")
        more = len(followed.tracks) - 2
        return Roles(best.runner, best.target, pointed_out(best.target, more))
    if best is None:
        raise NoDefender(_nobody_because(placed, feet))
    return Roles(best.runner, best.target, _in_words(best, len(followed.tracks) - 2))


def _closeouts(
    runner: PlayerTrack,
    everybody: list[PlayerTrack],
    feet: Mapping[int, Feet],
    followed: Followed,
    start_xy_m: FloatArray | None,
    waits_xy_m: FloatArray | None,
) -> list[_Closeout]:
    """A closeout for every standing player a runner closes on; if there is none, his run alone."""
    mine, t_s = feet[runner.track_id], followed.t_s
    found = []
    for other in everybody:
        if other is runner:
            continue
        theirs = feet[other.track_id]
        first = int(theirs.frames[0])
        gap = np.linalg.norm(mine.xy_m - _there_before(theirs), axis=1)
        arrival = arrival_frame(gap)
        if arrival is None:
            continue
        near = np.flatnonzero(gap <= NEAR_M)
        if len(near) and np.isfinite(gap[: near[0]]).any():
            arrival = nearest_soon(t_s, gap, int(near[0]))
        sd_m = float(np.hypot(mine.sd_m[arrival], theirs.sd_m[max(arrival, first)]))
        if not gap[arrival] - 2 * sd_m <= NEAR_M:
            continue
        run = closing(gap, arrival, t_s)
        if run.by < MIN_CLOSING_M or run.speed < RUN_MPS:
            continue
        place = place_of(runner, followed)
        if not is_seen_arriving(runner, place, run.leaves, arrival, t_s):
            continue
        there = int(np.append(near, arrival)[0])
        until = int(np.searchsorted(t_s, t_s[first] + STANDING_S))
        shifted = _moved(theirs, max(there, until)) - 2 * float(theirs.sd_m[first])
        ran = _moved(mine, arrival if there <= mine.frames[0] else there)
        if shifted > min(MAX_SHIFT_M, ran * MAX_SHIFT_SHARE):
            continue
        out_of_reach = max(float(gap[arrival]) - WITHIN_REACH_M, 0.0)
        costs = [_cost(out_of_reach, sd_m, REACH_SD_M)]
        if waits_xy_m is not None:
            before = theirs.xy_m[first : max(there, until, first) + 1]
            waited = np.nanmedian(before, axis=0)
            off_m = float(np.linalg.norm(waited - waits_xy_m))
            costs.append(_cost(off_m, float(theirs.sd_m[first]), WAITING_SD_M))
        if start_xy_m is not None:
            off_m = float(np.linalg.norm(mine.xy_m[run.leaves] - start_xy_m))
            costs.append(_cost(off_m, float(mine.sd_m[run.leaves]), STARTING_SD_M))
        late = FOUND_LATE_COST if first >= there else 0.0
        cost = sum(costs) + late - float(np.log(run.by / MIN_CLOSING_M))
        stood = is_seen(other, first, max(arrival, first))
        found.append(_Closeout(runner, other, cost, float(gap[arrival]), stood))
    return found or _alone(runner, mine, followed, start_xy_m)


def _alone(
    runner: PlayerTrack, mine: Feet, followed: Followed, start_xy_m: FloatArray | None
) -> list[_Closeout]:
    """A run at nobody, when it is long enough."""
    gone = np.linalg.norm(mine.xy_m - mine.xy_m[mine.frames[0]], axis=1)
    farthest = int(np.nanargmax(gone))
    run = closing(gone[farthest] - gone, farthest, followed.t_s)
    if run.by - 2 * float(mine.sd_m[farthest]) < MIN_LONE_RUN_M or run.speed < RUN_MPS:
        return []
    if not is_seen(runner, run.leaves, farthest):
        return []
    cost = -float(np.log(run.by / MIN_LONE_RUN_M))
    if start_xy_m is not None:
        off_m = float(np.linalg.norm(mine.xy_m[run.leaves] - start_xy_m))
        cost += _cost(off_m, float(mine.sd_m[run.leaves]), STARTING_SD_M)
    return [_Closeout(runner, None, cost, np.inf, target_seen=False)]


def _cost(off_m: float, sd_m: float, may_m: float) -> float:
    """Cost of being so far from where one should be.

    Minus the logarithm of a Student distribution's density but for constants, so that one place
    that is far off, or badly read, does not outweigh everything else.

    Args:
        off_m: how far.
        sd_m: standard deviation of the reading.
        may_m: standard deviation of where players really are.
    """
    return float(np.log1p(off_m**2 / (sd_m**2 + may_m**2)))


def _there_before(feet: Feet) -> FloatArray:
    """``(n, 2)`` places of one who is assumed to have stood, until found, where he was found."""
    first = feet.frames[0]
    xy_m = feet.xy_m.copy()
    xy_m[:first] = xy_m[first]
    return xy_m


def _moved(feet: Feet, until: int) -> float:
    """How far from where he was first a player gets up to a frame, metres."""
    gone = np.linalg.norm(feet.xy_m - feet.xy_m[feet.frames[0]], axis=1)[: until + 1]
    return float(np.nanmax(gone)) if np.isfinite(gone).any() else 0.0


def _nobody_because(placed: list[PlayerTrack], feet: Mapping[int, Feet]) -> str:
    """The likeliest reason why nobody closes out, for the page."""
    if not placed:
        return "nobody is to be seen"
    everybody = [feet[track.track_id] for track in placed]
    gone = max(_moved(each, len(each.xy_m)) - 2 * each.sd_m[each.frames[0]] for each in everybody)
    if gone <= MAX_SHIFT_M:
        return "nobody runs out at anybody: on the ground, everybody stays in place"
    return "nobody runs out at anybody: on the ground, nobody runs up to a player who stands"


def _in_words(closeout: _Closeout, more: int) -> str:
    """How the two were recognised, for the page."""
    if closeout.target is None:
        return (
            "by places on the ground, the defender is the one who ran out; nobody was seen "
            "standing where the run ended"
        )
    return (
        "by places on the ground, the defender is the one who ran out; the attacker is the player "
        f"he closed on, who stood{left_out(more)}"
    )
