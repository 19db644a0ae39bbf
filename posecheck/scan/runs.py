"""Where a long film may hold a rep: who runs at whom, and when, before anybody is measured.

Lengths are in body heights of the players in the picture, as in :mod:`posecheck.players.roles`, and
so are the limits; but every run counts here, where a clip is asked for one defender. What a stretch
holds is decided by measuring it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.homography import mapped
from posecheck.maths.timeline import stretches
from posecheck.players.closing import closing
from posecheck.players.lost import is_seen, is_seen_arriving, lost_behind
from posecheck.players.places import (
    Place,
    depth_between,
    gap_between,
    nearest_soon,
    place_of,
    there_before,
    way_to,
)
from posecheck.players.track import Followed, PlayerTrack
from posecheck.players.tuning import (
    MAX_SHIFT_HEIGHTS,
    MAX_SHIFT_SHARE,
    MIN_CLOSING_HEIGHTS,
    MIN_LONE_RUN_HEIGHTS,
    MOVING_SPEED,
    NEAR_HEIGHTS,
    RUN_SPEED,
    STANDING_S,
)
from posecheck.scan.tuning import (
    APART_S,
    BACK_HEIGHTS,
    BACK_RATIO,
    BACK_WITHIN_S,
    DEPTH_RUN_SPEED,
    DEPTH_STEP_S,
    LONGEST_RUN_S,
    MIN_DEPTH_RUN_HEIGHTS,
    SPEED_STEP_S,
)


@dataclass(frozen=True, eq=False)
class Run:
    """Somebody's run.

    Attributes:
        start_s: when he leaves.
        arrival_s: when he is there.
        runner: number of his track.
        target: number of the track of whom he runs at, None when nobody stands there.
        by: heights by which he comes nearer, or that he covers.
        speed: heights/s over the middle of the run.
        from_px, to_px: ``(2,)`` where his feet are when he leaves and when he is there, in the
            steadied picture.
        height_px: his height when he is there.
        seen_at: a moment halfway, and ``(2,)`` the middle of his box then in the picture itself.
        comes_into_view: he is running when he is first seen, so that he has left before.
        from_height_px: his height when he leaves, NaN when not known.
        through_zoom: only a longer lens than the usual one makes it a run; else it is a walk.
    """

    start_s: float
    arrival_s: float
    runner: int
    target: int | None
    by: float
    speed: float
    from_px: FloatArray
    to_px: FloatArray
    height_px: float
    seen_at: tuple[float, FloatArray]
    comes_into_view: bool = False
    from_height_px: float = np.nan
    through_zoom: bool = False


def find_runs(followed: Followed, focal_px: float = np.inf) -> list[Run]:
    """Every run at somebody who stands, and every long run at nobody, in order of arrival.

    Args:
        followed: everybody in a stretch of film.
        focal_px: roughly the focal length, as in :func:`~posecheck.players.roles.choose_roles`.
    """
    places = _places(followed)
    runs = _runs_at_others(places, followed, focal_px, 1.0)
    for runner in followed.tracks:
        own = [run for run in runs if run.runner == runner.track_id]
        for other in _other_runs(runner, places, followed, focal_px):
            if not any(together(other, run) for run in own):
                runs.append(other)
    return sorted(runs, key=lambda run: run.arrival_s)


def runs_through_zoom(followed: Followed, focal_px: float, zooms: Sequence[float]) -> list[Run]:
    """Runs at somebody who stands that a longer lens than the usual one shows, in order of arrival.

    As in :func:`~posecheck.players.roles.choose_roles`, of the lenses there may be, the first by
    which anybody runs at anybody: who runs does so by a shorter one than who walks.

    Args:
        followed: everybody in a stretch of film in which nobody runs by the usual lens.
        focal_px: roughly the usual focal length.
        zooms: how many times that the lens may be, in order; only longer ones count.
    """
    places = _places(followed)
    for zoom in zooms:
        runs = _runs_at_others(places, followed, focal_px, zoom) if zoom > 1 else []
        if runs:
            found = sorted(runs, key=lambda run: run.arrival_s)
            return [replace(run, through_zoom=True) for run in found]
    return []


def _places(followed: Followed) -> dict[int, Place]:
    return {track.track_id: place_of(track, followed) for track in followed.tracks}


def _runs_at_others(
    places: dict[int, Place], followed: Followed, focal_px: float, zoom: float
) -> list[Run]:
    """The runs of everybody at everybody else."""
    runs: list[Run] = []
    for runner in followed.tracks:
        for target in followed.tracks:
            if target is not runner:
                runs += _runs_at(runner, target, places, followed, focal_px, zoom)
    return _once(runs)


def _runs_at(
    runner: PlayerTrack,
    target: PlayerTrack,
    places: dict[int, Place],
    followed: Followed,
    focal_px: float,
    zoom: float,
) -> list[Run]:
    """The runs of one player at another."""
    t_s, mine = followed.t_s, places[runner.track_id]
    theirs = there_before(places[target.track_id])
    known_px = focal_px if zoom > 1 else np.inf  # what is only usual does not slow him down
    gap = gap_between(mine, theirs, known_px, zoom)
    apart = gap_between(mine, theirs, focal_px, zoom)
    near = apart <= NEAR_HEIGHTS
    lost = lost_behind(runner, target, followed)
    if lost is not None:
        near[lost] = True
    found = []
    begin = 0
    for part in stretches(t_s, near, bridged_s=APART_S):
        there = int(part[0])
        arrival = nearest_soon(t_s, gap[: int(part[-1]) + 1], there)
        low = max(begin, int(np.searchsorted(t_s, t_s[there] - LONGEST_RUN_S)))
        begin = int(part[-1]) + 1
        # A runner who is already near him when he comes into view has run up out of view.
        into_view = there == mine.frames[0] and _is_running(mine, t_s, there, there)
        if not into_view and not np.isfinite(gap[low:there]).any():
            continue
        run = closing(gap[low : arrival + 1], arrival - low, t_s[low:])
        if zoom > 1 and arrival in mine.frames:
            # So far away, two who look as tall as each other may be a run apart, if one is smaller.
            way = way_to(mine, arrival, known_px, zoom)[low : arrival + 1]
            run = max(run, closing(way, arrival - low, t_s[low:]), key=lambda one: one.by)
        if run.by < MIN_CLOSING_HEIGHTS or run.speed < RUN_SPEED:
            continue
        left = low + run.leaves
        sets_off = _sets_off(mine, t_s, left, arrival)
        if not is_seen_arriving(runner, mine, sets_off, arrival, t_s):
            continue
        over = arrival if into_view else there
        ran = _gone(mine, left, over, known_px, zoom)
        shifted = _shifted(places[target.track_id], left, over, t_s, known_px, zoom)
        if shifted > min(MAX_SHIFT_HEIGHTS, MAX_SHIFT_SHARE * ran):
            continue
        number = target.track_id
        found.append(_run(runner, number, mine, followed, left, arrival, run.by, run.speed))
    return found


def _other_runs(
    runner: PlayerTrack, places: dict[int, Place], followed: Followed, focal_px: float
) -> Iterator[Run]:
    """Runs of one player whose gap to others does not show them: towards the camera or away from it
    to somebody near whom he seems to be all along, and long ones across the picture to nobody."""
    t_s, mine = followed.t_s, places[runner.track_id]
    for first, last in _moving(mine, t_s):
        near = _who_is_near(runner, places, first, last, t_s, focal_px)
        if near is not None:
            by, least = _gone(mine, first, last), MIN_DEPTH_RUN_HEIGHTS
        else:
            across = np.linalg.norm(mine.foot[last] - mine.foot[first])
            by = float(across / np.nanmedian(mine.height[first : last + 1]))
            least = max(MIN_LONE_RUN_HEIGHTS, RUN_SPEED * float(t_s[last] - t_s[first]))
        if by >= least and is_seen(runner, _sets_off(mine, t_s, first, last), last):
            speed = by / float(t_s[last] - t_s[first])
            yield _run(runner, near, mine, followed, first, last, by, speed)


def _moving(place: Place, t_s: FloatArray) -> Iterator[tuple[int, int]]:
    """First and last frames of the stretches in which a player goes as far as a runner does,
    whether across the picture or along the line of sight."""
    later = np.searchsorted(t_s, t_s + DEPTH_STEP_S)
    one = np.flatnonzero(later < len(t_s))
    other = later[one]
    height = (place.height[one] + place.height[other]) / 2
    across = np.linalg.norm(place.foot[other] - place.foot[one], axis=-1) / height
    depth = depth_between(place.height[one], place.height[other])
    of_run = np.zeros(len(t_s))  # 1 is as fast as a run must be
    of_run[one] = np.hypot(across / RUN_SPEED, depth / DEPTH_RUN_SPEED) / DEPTH_STEP_S
    for part in stretches(t_s, of_run >= 1, bridged_s=APART_S):
        frames = np.arange(part[0], later[part[-1]] + 1)
        frames = frames[np.isfinite(place.height[frames])]
        yield int(frames[0]), int(frames[-1])


def _who_is_near(
    runner: PlayerTrack,
    places: dict[int, Place],
    first: int,
    last: int,
    t_s: FloatArray,
    focal_px: float,
) -> int | None:
    """Who stands near where a run ends, None when nobody does."""
    best, least = None, NEAR_HEIGHTS
    mine = places[runner.track_id]
    ran = _gone(mine, first, last)
    for number, each in places.items():
        if number == runner.track_id:
            continue
        theirs = there_before(each)
        apart = float(gap_between(mine, theirs, focal_px)[last])
        shifted = _shifted(each, first, last, t_s)
        if apart <= least and shifted <= min(MAX_SHIFT_HEIGHTS, MAX_SHIFT_SHARE * ran):
            best, least = number, apart
    return best


def _run(
    runner: PlayerTrack,
    target: int | None,
    place: Place,
    followed: Followed,
    left: int,
    arrival: int,
    by: float,
    speed: float,
) -> Run:
    t_s = followed.t_s
    start = _sets_off(place, t_s, left, arrival)
    half_s = (t_s[start] + t_s[arrival]) / 2
    seen = np.flatnonzero(np.isfinite(runner.box_xyxy).all(axis=1) & runner.seen)
    halfway = int(seen[np.argmin(np.abs(t_s[seen] - half_s))])
    box = runner.box_xyxy[halfway]
    return Run(
        start_s=float(t_s[start]),
        arrival_s=float(t_s[arrival]),
        runner=runner.track_id,
        target=target,
        by=by,
        speed=speed,
        from_px=place.foot[start],
        to_px=place.foot[arrival],
        height_px=float(place.height[arrival]),
        seen_at=(float(t_s[halfway]), (box[:2] + box[2:]) / 2),
        comes_into_view=_is_running(place, t_s, int(place.frames[0]), start),
        from_height_px=float(place.height[start]),
    )


def _sets_off(place: Place, t_s: FloatArray, left: int, arrival: int) -> int:
    """The frame in which he begins to move, of those since he was farthest away: he may have waited
    there for long."""
    slow = np.flatnonzero(~(_speed(place, t_s)[left:arrival] > MOVING_SPEED))
    fast = np.flatnonzero(_speed(place, t_s)[left:arrival] >= RUN_SPEED)
    if not len(fast):
        return left
    before = slow[slow < fast[0]]
    return left + int(before[-1]) if len(before) else left


def _is_running(place: Place, t_s: FloatArray, first: int, start: int) -> bool:
    """Whether a player who is first seen when he sets off, or hardly before, runs by then."""
    if t_s[start] - t_s[first] > SPEED_STEP_S:
        return False
    soon = int(np.searchsorted(t_s, t_s[first] + SPEED_STEP_S))
    return bool(np.nanmax(_speed(place, t_s)[first : soon + 1], initial=0.0) >= RUN_SPEED)


def _speed(place: Place, t_s: FloatArray) -> FloatArray:
    """``(n,)`` speed across the picture, heights/s, over a stride; NaN where not known."""
    later = np.minimum(np.searchsorted(t_s, t_s + SPEED_STEP_S / 2), len(t_s) - 1)
    before = np.maximum(np.searchsorted(t_s, t_s - SPEED_STEP_S / 2), 0)
    across = np.linalg.norm(place.foot[later] - place.foot[before], axis=-1)
    return np.asarray(across / place.height / np.maximum(t_s[later] - t_s[before], 1e-3))


def _gone(
    place: Place, first: int, last: int, focal_px: float = np.inf, zoom: float = 1.0
) -> float:
    """How far a player goes between two frames from where he is at the first known, heights."""
    from_there = Place(place.foot[first : last + 1], place.height[first : last + 1])
    if not len(from_there.frames):
        return 0.0
    at = from_there.frames[0]
    there = Place(
        np.broadcast_to(from_there.foot[at], from_there.foot.shape),
        np.full_like(from_there.height, from_there.height[at]),
    )
    return float(np.nanmax(gap_between(from_there, there, focal_px, zoom)))


def _shifted(
    place: Place,
    first: int,
    last: int,
    t_s: FloatArray,
    focal_px: float = np.inf,
    zoom: float = 1.0,
) -> float:
    """How far somebody who is run at between two frames goes from where he is then, heights.

    A player found only later must be seen standing for ``STANDING_S``: one that comes running into
    view has not stood there before.
    """
    until = int(np.searchsorted(t_s, t_s[place.frames[0]] + STANDING_S))
    return _gone(there_before(place), first, max(last, until), focal_px, zoom)


def together(one: Run, other: Run) -> bool:
    """Whether two runs are at the same time, for most of the shorter."""
    both_s = min(one.arrival_s, other.arrival_s) - max(one.start_s, other.start_s)
    shorter_s = min(one.arrival_s - one.start_s, other.arrival_s - other.start_s)
    return both_s > shorter_s / 2


def _once(runs: list[Run]) -> list[Run]:
    """Of runs of one player at several who stand together, or of two at each other, the one that
    closes most."""
    once: list[Run] = []
    for run in sorted(runs, key=lambda run: -run.by):
        same = [
            other
            for other in once
            if together(run, other) and {run.runner, run.target} & {other.runner, other.target}
        ]
        if not same:
            once.append(run)
    return once


# -- over a whole film ---------------------------------------------------------------------------


def in_film(run: Run, begins_s: float, slow_motion: float, to_place: FloatArray) -> Run:
    """A run found in a part of a film, in the film's own time and in the picture of its place.

    Args:
        run: in the part's clip time.
        begins_s: when the part begins, seconds of the film as it plays.
        slow_motion: how many times slower than life it plays.
        to_place: ``(3, 3)`` homography from the part's first picture.
    """
    heads = (run.from_px - (0, run.from_height_px), run.to_px - (0, run.height_px))
    ends = mapped(to_place, np.stack([run.from_px, run.to_px, *heads]))
    return replace(
        run,
        start_s=begins_s + run.start_s * slow_motion,
        arrival_s=begins_s + run.arrival_s * slow_motion,
        from_px=ends[0],
        to_px=ends[1],
        height_px=float(np.linalg.norm(ends[3] - ends[1])),
        from_height_px=float(np.linalg.norm(ends[2] - ends[0])),
    )


def without_returns(runs: list[Run]) -> list[Run]:
    """Runs without those that lead back: from where a run at somebody ended to where it began.

    After a rep the defender jogs back to his cone, where others stand, and so may the attacker.

    Args:
        runs: filmed from one place, in order of time, in :func:`in_film`'s terms.
    """
    kept: list[Run] = []
    for run in runs:
        # What may be a walk is no rep from which anybody jogs back.
        reps = (each for each in kept if each.target is not None and not each.through_zoom)
        if not any(_leads_back(run, before) for before in reps):
            kept.append(run)
    return kept


def _leads_back(run: Run, before: Run) -> bool:
    if not 0 <= run.start_s - before.arrival_s <= BACK_WITHIN_S:
        return False
    # Who is much taller or smaller in one place is nearer or farther away, and was not there.
    ratio = run.from_height_px / before.height_px
    if ratio < BACK_RATIO[0] or ratio > BACK_RATIO[1]:
        return False
    height = (run.height_px + before.height_px) / 2
    from_there = np.linalg.norm(run.from_px - before.to_px) / height
    towards = (run.to_px - run.from_px) @ (before.from_px - before.to_px)
    # Who ends nearer to where the rep ended than he began leads up to it, as the next rep does.
    to_there = np.linalg.norm(run.to_px - before.to_px) / height
    return bool(from_there <= BACK_HEIGHTS and towards > 0 and to_there > from_there)
