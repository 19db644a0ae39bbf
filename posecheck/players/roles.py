"""Say who is the defender and who the attacker.

A closeout is one player running out to another who stands. Everything here is told in body
heights of the players in the picture, so that neither the size of the picture nor the place of
the camera matters.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray
from posecheck.players.track import Followed, PlayerTrack, Roles


class NoDefender(ValueError):
    """Nobody in the film closes out; the text says what was seen instead."""


RUN_SPEED = 1.15
"""Heights/s, over the middle of the way: 2.0 m/s, where people change from walking to running
(Hreljac, 1993, preferred transition speed 2.07 m/s; figure from memory). A closeout of 4 to 6 m/s
is 2 to 3 heights/s seen from the side and still above this seen at a slant."""

MIN_CLOSING = 1.1
"""Heights by which the runner must come nearer to whom he runs at."""
NEAR = 1.7
"""Heights apart at most when he is there: the reach of 1.8 m, and a stride of slack."""
STANDS = 1.2
"""Heights a standing player may shift about before the defender is there."""
_STANDING_S = 0.5
MIN_LONE_RUN = 3.0
"""Heights a runner must cover when nobody is seen where he runs to."""

_DEPTH = 7.0
"""Heights from camera to player taken for granted, about 12 m, unless he looks too large for that:
turns a change of size into a distance. Only who moved and who was nearest is read from it."""
_CROUCH = 0.25
"""Change of size (logarithm) that is put down to bending rather than to distance."""


@dataclass(frozen=True)
class _Closeout:
    """One player's run at another, or at nobody.

    Attributes:
        runner: who runs.
        target: whom he runs at.
        closing: heights by which he comes nearer.
        miss: how ill the target fits the hints, or how far off he is at the end; heights.
        late: nobody was seen there before the runner was: it may be he himself, found anew.
    """

    runner: PlayerTrack
    target: PlayerTrack | None
    closing: float
    miss: float
    late: bool


@dataclass(frozen=True)
class _Place:
    """Where a player is in the steadied picture: feet ``(n, 2)`` px and height ``(n,)`` px."""

    foot: FloatArray
    height: FloatArray

    @property
    def frames(self) -> npt.NDArray[np.intp]:
        """The frames in which he is followed."""
        return np.flatnonzero(np.isfinite(self.height))


def choose_roles(
    followed: Followed,
    start_px: npt.ArrayLike | None = None,
    jersey_rgb: npt.ArrayLike | None = None,
    spot_px: npt.ArrayLike | None = None,
    focal_px: float = np.inf,
) -> Roles:
    """Tell the defender and the attacker from everybody else.

    The defender is the one who runs, closing on a player who stands; the attacker is whom he
    closes on, nearest when the run is over. A hint decides between several who would do; it
    makes nobody a defender who did not run.

    Args:
        followed: everybody in the clip.
        start_px: ``(2,)`` where defenders start, in the steadied picture.
        jersey_rgb: ``(3,)`` colour of the defenders' jerseys, 0 to 255.
        spot_px: ``(2,)`` the attackers' cone, in the steadied picture.
        focal_px: roughly the focal length, by which somebody tall is known to be near.

    Raises:
        NoDefender: nobody runs out at anybody.
    """
    if not followed.tracks:
        raise NoDefender("nobody is to be seen")
    places = {track.track_id: _place(track, followed) for track in followed.tracks}
    closeouts = [
        closeout
        for runner in followed.tracks
        for closeout in _closeouts(runner, followed, places, spot_px, focal_px)
    ]
    if not closeouts:
        raise NoDefender("nobody runs out at anybody")

    def fitness(closeout: _Closeout) -> float:
        """Heights of closing, less what speaks against the runner, in heights too."""
        place = places[closeout.runner.track_id]
        against = 0.0
        if start_px is not None:
            first = place.frames[0]
            against += float(np.linalg.norm(place.foot[first] - start_px) / place.height[first])
        if jersey_rgb is not None and closeout.runner.jersey_rgb is not None:
            against += _colour_distance(closeout.runner.jersey_rgb, jersey_rgb) / _COLOUR_STEP
        return closeout.closing - against

    runner = max(closeouts, key=lambda one: (one.target is not None, fitness(one))).runner
    best = min(
        (one for one in closeouts if one.runner is runner),
        key=lambda one: (one.target is None, one.late, one.miss),
    )
    return Roles(best.runner, best.target, _in_words(best, places))


def _closeouts(
    runner: PlayerTrack,
    followed: Followed,
    places: dict[int, _Place],
    spot_px: npt.ArrayLike | None,
    focal_px: float,
) -> list[_Closeout]:
    """Every standing player a runner closes on; if there is none, the run by itself."""
    mine = places[runner.track_id]
    found = []
    for other in followed.tracks:
        if other is runner:
            continue
        theirs = places[other.track_id]
        gap = _gap(mine, _there_before(theirs))
        arrival = _arrival(gap)
        # Two near the camera differ much in size though they are near each other.
        apart = _gap(mine, _there_before(theirs), focal_px)
        if arrival is None or apart[arrival] > NEAR:
            continue
        closing, speed = _closing(gap, arrival, followed.t_s)
        if closing < MIN_CLOSING or speed < RUN_SPEED:
            continue
        first = theirs.frames[0]
        # Found late, he must be seen standing for a while; once the runner is there the two may
        # hide each other, and what is seen of them tells little.
        there = int(np.append(np.flatnonzero(gap <= NEAR), arrival)[0])
        until = int(np.searchsorted(followed.t_s, followed.t_s[first] + _STANDING_S))
        # Who comes into the picture near the other has run all the same.
        run = arrival if there <= mine.frames[0] else there
        shifted, ran = (
            np.nanmax(_moved(who)[: max(end, until) + 1])
            for who, end in ((theirs, there), (mine, run))
        )
        if shifted > min(STANDS, ran / 2):
            continue
        miss = float(apart[arrival])
        if spot_px is not None:
            miss = float(np.linalg.norm(theirs.foot[first] - spot_px) / theirs.height[first])
        found.append(_Closeout(runner, other, closing, miss, late=bool(first >= there)))
    if found:
        return found
    # Size says little about a lone runner's depth: a walker near the camera shrinks quickly.
    across = np.linalg.norm(mine.foot - mine.foot[mine.frames[0]], axis=-1)
    way = across / np.nanmedian(mine.height)
    farthest = int(np.nanargmax(way))
    closing, speed = _closing(way[farthest] - way, farthest, followed.t_s)
    if closing < MIN_LONE_RUN or speed < RUN_SPEED:
        return []
    return [_Closeout(runner, None, closing, 0.0, late=True)]


def _place(track: PlayerTrack, followed: Followed) -> _Place:
    left, top, right, bottom = track.box_xyxy.T
    middle = (left + right) / 2
    ends = np.stack([np.stack([middle, top], -1), np.stack([middle, bottom], -1)], axis=1)
    steadied = followed.camera_motion.steadied(ends)
    return _Place(steadied[:, 1], np.linalg.norm(steadied[:, 1] - steadied[:, 0], axis=-1))


def _there_before(place: _Place) -> _Place:
    """The place of one who stood where he was first found before he was found."""
    first = place.frames[0]
    foot, height = place.foot.copy(), place.height.copy()
    foot[:first], height[:first] = foot[first], height[first]
    return _Place(foot, height)


def _gap(one: _Place, other: _Place, focal_px: float = np.inf) -> FloatArray:
    """``(n,)`` distance of two players at each moment, in heights, as far as a picture tells."""
    across = np.linalg.norm(one.foot - other.foot, axis=-1) / ((one.height + other.height) / 2)
    return np.asarray(np.hypot(across, _depth(one.height, other.height, focal_px)))


def _moved(place: _Place) -> FloatArray:
    """``(n,)`` distance from where the player was first, in heights."""
    first = place.frames[0]
    across = np.linalg.norm(place.foot - place.foot[first], axis=-1)
    scale = (place.height + place.height[first]) / 2
    return np.asarray(np.hypot(across / scale, _depth(place.height, place.height[first])))


def _depth(
    height_px: FloatArray, other_px: FloatArray | float, focal_px: float = np.inf
) -> FloatArray:
    """``(n,)`` how much further off one is than the other, in heights."""
    away = np.minimum(_DEPTH, focal_px / np.sqrt(height_px * other_px))
    return np.asarray(away * np.maximum(np.abs(np.log(height_px / other_px)) - _CROUCH, 0.0))


def _arrival(gap: FloatArray) -> int | None:
    """The frame at which a run that closes a gap is over; None when the two never meet in time."""
    both = np.flatnonzero(np.isfinite(gap))
    return int(both[np.argmin(gap[both])]) if len(both) >= 2 else None


def _closing(gap: FloatArray, arrival: int, t_s: FloatArray) -> tuple[float, float]:
    """By how much a gap closes until arrival, and how fast over the middle of the way."""
    before = gap[: arrival + 1]
    widest = int(np.nanargmax(before))
    closing = float(before[widest] - before[arrival])
    if closing <= 0:
        return 0.0, 0.0
    left = np.where(np.isfinite(before), (before - before[arrival]) / closing, np.nan)
    leaves = int(np.flatnonzero(left >= 0.8)[-1])
    there = leaves + int(np.flatnonzero(left[leaves:] <= 0.2)[0])
    return closing, float((before[leaves] - before[there]) / (t_s[there] - t_s[leaves]))


_COLOUR_STEP = 20.0
"""Difference of colour (CIE76, in CIELAB) that speaks against a player like one height of way."""


def _colour_distance(one: npt.ArrayLike, other: npt.ArrayLike) -> float:
    """CIE76 colour difference."""
    import cv2

    pair = np.asarray([one, other], dtype=np.float32).reshape(2, 1, 3) / 255
    lab = cv2.cvtColor(pair, cv2.COLOR_RGB2LAB).reshape(2, 3)
    return float(np.linalg.norm(lab[0] - lab[1]))


def _in_words(closeout: _Closeout, places: dict[int, _Place]) -> str:
    if closeout.target is None:
        return "the defender is the one who ran out; nobody was seen standing where the run ended"
    mine, theirs = places[closeout.runner.track_id], places[closeout.target.track_id]
    start = mine.foot[mine.frames[0], 0] - theirs.foot[theirs.frames[0], 0]
    side = "from the left" if start < 0 else "from the right"
    standing = len(places) - 2
    rest = {
        0: "",
        1: "; one more player in the picture was left out",
    }.get(standing, f"; {standing} more players in the picture were left out")
    return (
        f"the defender is the one who ran out {side} of the picture; "
        f"the attacker is the player he closed on, who stood{rest}"
    )
