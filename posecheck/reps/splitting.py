"""Cut a clip into reps."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.maths.timeline import stretches
from posecheck.reps.hidden import expected_arrival, lost_after, standing_place
from posecheck.reps.moments import expecting, rep_moments
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.reps.tuning import (
    AFTERMATH_S,
    BRAKING_SHARE,
    FAR_OUT_M,
    HARDEST_START_MPS2,
    LOST_S,
    LOST_SHARE,
    MAX_GAP_S,
    MIN_APPROACH_M,
    REACH_M,
    RUN_MPS,
    STILL_MPS,
    SUSTAINED_S,
    WALK_MPS,
)


def find_reps(
    defender_xy_m: FloatArray,
    attacker_xy_m: FloatArray | None,
    t_s: FloatArray,
    velocity_mps: FloatArray,
    *,
    cone_xy_m: FloatArray | None = None,
    reach_m: float = REACH_M,
    stated_s: float | None = None,
) -> tuple[Rep, ...]:
    """Cut a clip into reps and find the moments of each, interpolated between frames.

    A rep is one run of the defender that closes on the attacker (on the named cone when no
    attacker is there); moving away from everybody is no rep, nor is a walk. With neither to
    measure to, the first run sets the direction of reps, and runs against it are returns. A run in
    which he was out of sight for a while is one, if he came back where he would be. A defender who
    is already running when first seen is taken to have closed on his man by the distance that such
    a speed takes from standing. An attacker who is hidden stood still if he is seen again in the
    same place.

    Args:
        defender_xy_m: ``(n, 2)`` ground positions, NaN where not seen.
        attacker_xy_m: ``(n, 2)``, or None when no attacker is in the clip.
        t_s: ``(n,)`` seconds, strictly increasing.
        velocity_mps: ``(n, 2)`` the defender's ground velocity, NaN where not known.
        cone_xy_m: ``(2,)`` the named cone, None when its place is not known. The attacker is
            assumed to stand there until he is first seen, or else where he then is.
        reach_m: ground distance to the attacker that counts as arrival.
        stated_s: moment of arrival as the coach states it. It is that of the last run begun by
            then, whatever its distances say; other runs are not touched.

    Returns:
        In order of time.
    """
    speed = np.linalg.norm(velocity_mps, axis=1)
    seen = np.isfinite(speed) & np.isfinite(defender_xy_m).all(axis=1)
    t, v, xy = t_s[seen], speed[seen], defender_xy_m[seen]
    if not len(t):
        return ()
    source, distance, there = ArrivalSource.BRAKING, None, np.full_like(xy, np.nan)
    first_seen_s = -np.inf
    if attacker_xy_m is not None and np.isfinite(attacker_xy_m).all(axis=1).any():
        there = standing_place(t_s, attacker_xy_m)[seen]
        # A small player who stands still may be found late; until then he is on his cone, or, where
        # none is known, in the place he is found in.
        first_seen_s = float(t_s[np.isfinite(attacker_xy_m).all(axis=1)][0])
        found_m = attacker_xy_m[np.isfinite(attacker_xy_m).all(axis=1)][0]
        waits_m = found_m if cone_xy_m is None else cone_xy_m
        there = np.where((t < first_seen_s)[:, None], waits_m, there)
        source, distance = ArrivalSource.ATTACKER, np.linalg.norm(xy - there, axis=1)
    elif cone_xy_m is not None:
        there = np.broadcast_to(cone_xy_m, xy.shape)
        source, distance = ArrivalSource.CONE, np.linalg.norm(xy - there, axis=1)

    velocity = velocity_mps[seen]
    runs, halves = _whole(_runs(t, v), t, v, xy, velocity)
    of_runs: list[list[_Found]] = []
    direction: FloatArray | None = None
    for first, last in runs:
        found: list[_Found] = []
        of_runs.append(found)
        if distance is None:
            went = xy[last] - xy[first]
            same = direction is None or went @ direction > 0
            if same and v[first : last + 1].max() >= WALK_MPS:
                direction = went if direction is None else direction
                found.append(_Found(first, last))
            continue
        came_m = 0.0 if first else _run_up_m(there[0] - xy[0], velocity[0])
        for start, arrival_s, stop in _approaches(t, v, distance, first, last, reach_m, came_m):
            if arrival_s is None:
                until, nearest = stop, start + int(np.nanargmin(distance[start : stop + 1]))
            else:
                # He was nearer before or is so later in another approach, which this is not.
                nearest = until = min(int(np.searchsorted(t, arrival_s, "right")), len(t) - 1)
            begin = _turn(v, distance, start, nearest)
            if v[begin : until + 1].max() >= WALK_MPS:
                early = arrival_s is not None and arrival_s < first_seen_s
                by = ArrivalSource.CONE if early and cone_xy_m is not None else source
                found.append(_Found(begin, stop, arrival_s, by))
    found = [
        one
        for number, own in enumerate(of_runs)
        if number not in halves or not of_runs[number + 1]
        for one in own
    ]
    if stated_s is not None:
        found = _as_stated(found or [_Found(*run) for run in runs], t, stated_s)
    end_s = float(t_s[-1])
    reps = []
    for one in found:
        rep = rep_moments(t, v, one.begin, one.last, one.arrival_s, one.source, end_s)
        if rep.arrival_s is None:
            expected_s = expected_arrival(t, xy, velocity, there, one.last, reach_m)
            if expected_s is not None and expected_s <= end_s:
                rep = expecting(rep, expected_s, float(t[one.last]), end_s)
        reps.append(rep)
    return tuple(reps)


@dataclass(frozen=True)
class _Found:
    """A rep that was found: first and last frame, arrival and what it was read from."""

    begin: int
    last: int
    arrival_s: float | None = None
    source: ArrivalSource | None = None


def _as_stated(found: list[_Found], t: FloatArray, stated_s: float) -> list[_Found]:
    """The reps with the stated arrival in the last one begun by then; as found if there is none."""
    begun = [number for number, one in enumerate(found) if t[one.begin] < stated_s]
    if not begun:
        return found
    one = found[begun[-1]]
    arrived = int(np.searchsorted(t, stated_s, "right")) - 1
    stated = replace(
        one, last=max(one.last, arrived), arrival_s=stated_s, source=ArrivalSource.STATED
    )
    return [*found[: begun[-1]], stated, *found[begun[-1] + 1 :]]


def why_no_rep(speed_mps: FloatArray) -> str:
    """The likeliest reason why :func:`find_reps` finds none, for the page.

    Args:
        speed_mps: ``(n,)`` of the defender, NaN where not known.
    """
    seen = speed_mps[np.isfinite(speed_mps)]
    if not len(seen):
        return "the defender is nowhere seen on the ground"
    if seen.max() < WALK_MPS:
        return (
            f"nobody closes out in it: the defender is never faster than {seen.max():.1f} m/s, "
            f"and a run is at least {WALK_MPS:.1f} m/s"
        )
    return (
        "nobody closes out in it: the defender runs, but comes less than "
        f"{MIN_APPROACH_M:.0f} m nearer to anybody"
    )


def _runs(t: FloatArray, v: FloatArray) -> list[tuple[int, int]]:
    """First and last frames of stretches from standing to standing that hold a sustained run."""
    fast = [
        (first, last) for first, last in _ends(t, v > RUN_MPS) if t[last] - t[first] >= SUSTAINED_S
    ]
    return [
        (first, last)
        for first, last in _ends(t, v > STILL_MPS)
        if any(first <= one and other <= last for one, other in fast)
    ]


def _whole(
    runs: list[tuple[int, int]],
    t: FloatArray,
    v: FloatArray,
    xy: FloatArray,
    velocity: FloatArray,
) -> tuple[list[tuple[int, int]], set[int]]:
    """The runs, each once: one in which he was out of sight for long is found in two pieces.

    The two are one run when he comes back where he would be had he gone on. If he is as fast then
    as he ever was, no more is missing than the way between. Else he began to brake out of sight, at
    a moment and from a speed that nobody knows: then the rep is in what was seen of it after, or
    in what was seen before if that is too little.

    Returns:
        The runs, and the numbers of those of which the next is the rest.
    """
    whole: list[tuple[int, int]] = []
    halves: set[int] = set()
    for first, last in runs:
        if whole and _goes_on(whole[-1][1], first, t, xy, velocity):
            begin, until = whole[-1]
            if v[first] >= BRAKING_SHARE * v[begin : until + 1].max():
                whole[-1] = (begin, last)
                continue
            halves.add(len(whole) - 1)
        whole.append((first, last))
    return whole, halves


def _goes_on(last: int, first: int, t: FloatArray, xy: FloatArray, velocity: FloatArray) -> bool:
    """Whether who was lost in one frame and is back in the next has run on between."""
    lost_s = float(t[first] - t[last])
    if first != last + 1 or lost_s > LOST_S:
        return False
    way = (velocity[last] + velocity[first]) / 2 * lost_s
    off_m = np.linalg.norm(xy[first] - xy[last] - way)
    return bool(off_m <= LOST_SHARE * np.linalg.norm(way))


def _ends(t: FloatArray, where: BoolArray) -> list[tuple[int, int]]:
    """First and last frames of the stretches in which something holds."""
    parts = stretches(t, where, broken_s=MAX_GAP_S)
    return [(int(part[0]), int(part[-1])) for part in parts]


def _run_up_m(gap_m: FloatArray, velocity_mps: FloatArray) -> float:
    """Least distance, in metres, that a defender already running when first seen has closed on the
    target: what it takes to reach that speed from standing.

    Args:
        gap_m: ``(2,)`` from him to the target, NaN when that is not seen.
        velocity_mps: ``(2,)`` of his.
    """
    apart_m = np.linalg.norm(gap_m)
    if not apart_m > 0:
        return 0.0
    closing_mps = max(float(velocity_mps @ gap_m / apart_m), 0.0)
    return closing_mps**2 / (2 * HARDEST_START_MPS2)


def _approaches(
    t: FloatArray,
    v: FloatArray,
    distance: FloatArray,
    first: int,
    last: int,
    reach_m: float,
    came_m: float,
) -> list[tuple[int, float | None, int]]:
    """Parts of a run that close on the target: first frame, arrival or None, last frame.

    A run may hold several reps when the defender turns around without standing still. He may
    also step into reach after the run has ended, so one more second is searched; who stands comes
    no nearer, whatever small errors make of his distance. Before its first frame he has come
    ``came_m`` nearer.
    """
    end = int(np.searchsorted(t, t[last] + AFTERMATH_S, "right")) - 1
    found: list[tuple[int, float | None, int]] = []
    begin, farthest = first, -np.inf
    before: int | None = None
    for now in range(first, end + 1):
        if not np.isfinite(distance[now]):
            continue
        if distance[now] <= reach_m and farthest >= reach_m + MIN_APPROACH_M:
            if now > last and v[now] <= STILL_MPS:
                break
            # farthest is finite, so there is a frame before.
            if before is not None and t[now] - t[before] <= MAX_GAP_S:
                share = (distance[before] - reach_m) / (distance[before] - distance[now])
                arrival_s = float(t[before] + share * (t[now] - t[before]))
                found.append((begin, arrival_s, max(now, last)))
            begin, farthest = now, -np.inf
        farthest = max(farthest, distance[now] + (came_m if now == first else 0.0))
        before = now
    if not found:
        near = distance[first : last + 1].copy()
        if lost_after(t, last):
            near[0] += came_m  # what is seen of him is not all of his run, at either end
        farthest_yet = np.fmax.accumulate(near)
        closes = farthest_yet - near >= MIN_APPROACH_M
        if np.any(closes & (farthest_yet >= reach_m + MIN_APPROACH_M)):
            found.append((first, None, last))
    return found


def _turn(v: FloatArray, distance: FloatArray, first: int, nearest: int) -> int:
    """Frame at which the defender sets off: far out, and slowest there.

    An ordinary run is farthest out at its first frame. One that begins with the return from the
    last rep is farthest out where it turns, and slow there. He comes nearer up to ``nearest``.
    """
    out = distance[first : nearest + 1]
    far = np.flatnonzero(out >= np.nanmax(out) - FAR_OUT_M)
    stop = int(np.nanargmax(out))
    far = far[far <= stop]
    return first + int(far[np.argmin(v[first + far])])
