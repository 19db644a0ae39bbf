"""Decide who is the defender and who the attacker.

A closeout is one player running out to another who stands. Lengths here are in body heights of the
players in the picture, so that neither the size of the picture nor the place of the camera
matters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray
from posecheck.players.closing import arrival_frame, closing
from posecheck.players.lost import is_seen, is_seen_arriving, lost_behind
from posecheck.players.places import (
    Place,
    gap_between,
    moved_from,
    nearest_soon,
    place_of,
    there_before,
    way_to,
)
from posecheck.players.track import Followed, PlayerTrack, Roles, RunThroughZoom
from posecheck.players.tuning import (
    IN_PLACE_HEIGHTS,
    IN_PLACE_LOG_SIZE,
    MAX_SHIFT_HEIGHTS,
    MAX_SHIFT_SHARE,
    MIN_CLOSING_HEIGHTS,
    MIN_LONE_RUN_HEIGHTS,
    NEAR_HEIGHTS,
    RUN_SPEED,
    SPEED_OVER_S,
    STANDING_S,
)


class NoDefender(ValueError):
    """Nobody in the film closes out; the message says what was seen instead."""


@dataclass(frozen=True)
class _Closeout:
    """One player's run at another, or at nobody.

    Attributes:
        runner: who runs.
        target: whom he runs at.
        closing: heights by which he comes nearer.
        miss: heights from the target to the cone he should stand on, or, if the cone is not known,
            between the two at arrival.
        late: nobody was seen there before the runner was: it may be the runner himself, found a
            second time.
        run_s: start and end of the run.
    """

    runner: PlayerTrack
    target: PlayerTrack | None
    closing: float
    miss: float
    late: bool
    run_s: tuple[float, float]


@dataclass(frozen=True, eq=False)
class _Film:
    """What is the same for whoever may run, with what is taken to be the lens.

    Attributes:
        followed: everybody in the clip.
        places: of each of them, by number.
        spot_px: the attackers' cone, None when it is not known.
        focal_px: roughly the usual focal length in pixels.
        zoom: how many times that the lens is.
    """

    followed: Followed
    places: dict[int, Place]
    spot_px: npt.ArrayLike | None
    focal_px: float
    zoom: float


def choose_roles(
    followed: Followed,
    start_px: npt.ArrayLike | None = None,
    spot_px: npt.ArrayLike | None = None,
    focal_px: float = np.inf,
    stated: PlayerTrack | None = None,
    zooms: Sequence[float] = (),
) -> Roles:
    """Choose the defender and the attacker among everybody in a clip.

    The defender is the one who runs, closing on a player who stands; the attacker is the player he
    closes on, nearest when the run is over. A hint decides between several candidates; it makes
    nobody a defender who did not run.

    Who runs along the line of sight only changes his size, and through a zoomed lens, from far
    away, he does so as slowly as a walker near the camera. So when nobody runs by the usual lens,
    longer ones decide: the one known, or, of those there are, the first by which anybody runs.

    Args:
        followed: everybody in the clip.
        start_px: ``(2,)`` where defenders start, in the steadied picture.
        spot_px: ``(2,)`` the attackers' cone, in the steadied picture.
        focal_px: roughly the focal length in pixels, which shows that somebody tall is near.
        stated: the defender, when the coach has pointed him out; then only whom he closes on is
            looked for, and it may be nobody.
        zooms: how many times the usual focal length the lens is, or may be; only longer ones
            count.

    Raises:
        NoDefender: nobody runs out at anybody.
    """
    if not followed.tracks:
        raise NoDefender("nobody is to be seen")
    places = {track.track_id: place_of(track, followed) for track in followed.tracks}
    closeouts: list[_Closeout] = []
    times = 1.0
    for times in (1.0, *(zoom for zoom in zooms if zoom > 1)):
        film = _Film(followed, places, spot_px, focal_px, times)
        runners = followed.tracks if stated is None else (stated,)
        closeouts = [closeout for runner in runners for closeout in _closeouts(runner, film)]
        if closeouts:
            break
    if stated is not None and not closeouts:
        return Roles(stated, None, POINTED_OUT_ALONE)
    if not closeouts:
        raise NoDefender(nobody_because(list(places.values()), followed.t_s))

    def fitness(closeout: _Closeout) -> float:
        """Heights by which the runner closes, less his distance from the start in heights."""
        if start_px is None:
            return closeout.closing
        place = places[closeout.runner.track_id]
        first = place.frames[0]
        off = float(np.linalg.norm(place.foot[first] - start_px) / place.height[first])
        return closeout.closing - off

    runner = max(closeouts, key=lambda one: (one.target is not None, fitness(one))).runner
    best = min(
        (one for one in closeouts if one.runner is runner),
        key=lambda one: (one.target is None, one.late, one.miss),
    )
    words = _in_words(best, places) if stated is None else pointed_out(best.target, len(places) - 2)
    through_zoom = None
    if times > 1:
        why = nobody_because(list(places.values()), followed.t_s)
        through_zoom = RunThroughZoom(best.run_s, why, times)
    return Roles(best.runner, best.target, words, through_zoom)


def _closeouts(runner: PlayerTrack, film: _Film) -> list[_Closeout]:
    """A closeout for every standing player a runner closes on; if there is none, his run alone."""
    others = (other for other in film.followed.tracks if other is not runner)
    at = (_closeout_at(runner, other, film) for other in others)
    return [one for one in at if one is not None] or _alone(runner, film)


def _closeout_at(runner: PlayerTrack, other: PlayerTrack, film: _Film) -> _Closeout | None:
    """The closeout of one player on another, None when it is none."""
    followed, focal_px, zoom = film.followed, film.focal_px, film.zoom
    mine, theirs = film.places[runner.track_id], film.places[other.track_id]
    known_px = focal_px if zoom > 1 else np.inf  # what is only usual does not slow him down
    gap = gap_between(mine, there_before(theirs), known_px, zoom)
    # Two near the camera differ much in size though they are near each other.
    apart = gap_between(mine, there_before(theirs), focal_px, zoom)
    arrival = arrival_frame(gap)
    if arrival is None:
        return None
    if apart[arrival] > NEAR_HEIGHTS:
        lost = lost_behind(runner, other, followed)
        if lost is None:
            return None
        near = arrival = lost
    else:
        near = int(np.flatnonzero(apart <= NEAR_HEIGHTS)[0])
    if np.isfinite(apart[:near]).any():
        arrival = nearest_soon(followed.t_s, gap, near)
    run = closing(gap, arrival, followed.t_s)
    if zoom > 1:
        # So far away, two who look as tall as each other may be a run apart, if one is smaller.
        # How far he is from where he ends does not depend on that.
        way = way_to(mine, arrival, known_px, zoom)
        run = max(run, closing(way, arrival, followed.t_s), key=lambda one: one.by)
    if run.by < MIN_CLOSING_HEIGHTS or run.speed < RUN_SPEED:
        return None
    if _went(mine, arrival, known_px, zoom) < _went(theirs, arrival, known_px, zoom):
        return None
    first = theirs.frames[0]
    # A target found late must be seen standing for a while; once the runner is there the two may
    # occlude each other, and their places in the picture mean little.
    there = int(np.append(np.flatnonzero(gap <= NEAR_HEIGHTS), arrival)[0])
    until = int(np.searchsorted(followed.t_s, followed.t_s[first] + STANDING_S))
    # A runner who enters the picture near the target has run all the same.
    over = arrival if there <= mine.frames[0] else there
    shifted, ran = (
        _went(who, max(end, until), known_px, zoom) for who, end in ((theirs, there), (mine, over))
    )
    if shifted > min(MAX_SHIFT_HEIGHTS, ran * MAX_SHIFT_SHARE):
        return None
    if not is_seen_arriving(runner, mine, run.leaves, arrival, followed.t_s):
        return None
    miss = float(apart[arrival])
    if film.spot_px is not None:
        miss = float(np.linalg.norm(theirs.foot[first] - film.spot_px) / theirs.height[first])
    return _Closeout(runner, other, run.by, miss, bool(first >= there), run.run_s)


def _alone(runner: PlayerTrack, film: _Film) -> list[_Closeout]:
    """A player's run at nobody, if he runs far."""
    mine = film.places[runner.track_id]
    # Size is a poor guide to a lone runner's depth: a walker near the camera shrinks quickly.
    across = np.linalg.norm(mine.foot - mine.foot[mine.frames[0]], axis=-1)
    gone = across / np.nanmedian(mine.height)
    farthest = int(np.nanargmax(gone))
    run = closing(gone[farthest] - gone, farthest, film.followed.t_s)
    far = run.by >= MIN_LONE_RUN_HEIGHTS and run.speed >= RUN_SPEED
    if not far or not is_seen(runner, run.leaves, farthest):
        return []
    return [_Closeout(runner, None, run.by, 0.0, late=True, run_s=run.run_s)]


def _went(place: Place, until: int, focal_px: float, zoom: float) -> float:
    """How far from where he was first a player gets up to a frame, heights."""
    first = int(place.frames[0])
    gone = moved_from(place, first, focal_px, zoom)[: max(until, first) + 1]
    return float(np.nanmax(gone))


def nobody_because(places: list[Place], t_s: FloatArray) -> str:
    """The likeliest reason why nobody closes out, for the page.

    Args:
        places: of everybody, at least one.
        t_s: ``(n,)`` times.
    """
    only = "the only player in it" if len(places) == 1 else "the fastest player in it"
    left = [place for place in places if not _stays(place)]
    if not left:
        who = "the only player in it stays" if len(places) == 1 else "the players in it stay"
        return f"nobody runs out at anybody: {who} in place"
    if max(_fastest(place, t_s) for place in left) < RUN_SPEED:
        return f"nobody runs out at anybody: {only} moves no faster than a walk"
    return "nobody runs out at anybody: whoever runs in it comes to nobody who stands"


def _stays(place: Place) -> bool:
    """Whether a player stays in place, though he may crouch or sit there."""
    first = place.frames[0]
    across = np.linalg.norm(place.foot - place.foot[first], axis=-1) / place.height[first]
    size = np.abs(np.log(place.height / place.height[first]))
    return bool(np.nanmax(across) <= IN_PLACE_HEIGHTS and np.nanmax(size) <= IN_PLACE_LOG_SIZE)


def _fastest(place: Place, t_s: FloatArray) -> float:
    """Highest speed across the picture over half a second, heights/s; 0 when followed for less."""
    frames = place.frames
    later = np.searchsorted(t_s[frames], t_s[frames] + SPEED_OVER_S)
    inside = later < len(frames)
    one, other = frames[inside], frames[later[inside]]
    if not len(one):
        return 0.0
    across = np.linalg.norm(place.foot[other] - place.foot[one], axis=-1)
    return float(np.max(across / place.height[one] / (t_s[other] - t_s[one])))


def _in_words(closeout: _Closeout, places: dict[int, Place]) -> str:
    """How the two were recognised, for the page."""
    if closeout.target is None:
        return "the defender is the one who ran out; nobody was seen standing where the run ended"
    mine, theirs = places[closeout.runner.track_id], places[closeout.target.track_id]
    start = mine.foot[mine.frames[0], 0] - theirs.foot[theirs.frames[0], 0]
    side = "from the left" if start < 0 else "from the right"
    return (
        f"the defender is the one who ran out {side} of the picture; "
        f"the attacker is the player he closed on, who stood{left_out(len(places) - 2)}"
    )


POINTED_OUT_ALONE = (
    "the defender is the player pointed out; nobody was seen standing where his run ended"
)


def pointed_out(attacker: PlayerTrack | None, more: int) -> str:
    """How the two were recognised when the coach has pointed out the defender, for the page.

    Args:
        attacker: whom he closed on.
        more: how many players are neither.
    """
    if attacker is None:
        return POINTED_OUT_ALONE
    return (
        "the defender is the player pointed out; the attacker is the player he closed on, who "
        f"stood{left_out(more)}"
    )


def left_out(n_players: int) -> str:
    """The end of a sentence on who is who: how many players are neither."""
    return {
        0: "",
        1: "; one more player in the picture was left out",
    }.get(n_players, f"; {n_players} more players in the picture were left out")
