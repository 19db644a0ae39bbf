"""A long film scanned for reps: which stretches of it are to be measured.

    watched ─ parts in which something moves ─ everybody followed ─ runs ─ stretches to measure

The whole film is watched, at a fraction of the cost of following anybody; people are looked for
only where something moves, in parts of the film that are followed as any clip is, several at once
where there are several workers. What this module imports decides what scans are keyed by
(``fingerprint.py``).
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from pathlib import Path

import numpy as np

from posecheck.camera.phone import PHONE
from posecheck.errors import ClipError, UnreadableClip
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import stretches
from posecheck.players.detector import FindsPeople
from posecheck.players.tracker import follow_players
from posecheck.players.tuning import SMALL_PX
from posecheck.scan.runs import (
    Run,
    find_runs,
    in_film,
    runs_through_zoom,
    together,
    without_returns,
)
from posecheck.scan.tuning import (
    AFTER_ARRIVAL_S,
    BEFORE_MOVING_S,
    BEFORE_START_S,
    LEAST_MOVING_S,
    LONGEST_PART_S,
    LOOK_STEP_S,
    MOVING_HEIGHT,
    PARTS_SHARE_S,
    QUIET_S,
    SAME_RUN_S,
    TINY_PX,
    UNSEEN_START_S,
)
from posecheck.scan.watch import Watched, watch
from posecheck.video.film import glances
from posecheck.video.opening import use_clip
from posecheck.video.stream_copy import copy_part, suffix_of_parts
from posecheck.video.transport_stream import breaks_off


class Holds(StrEnum):
    """What a stretch may hold."""

    CLOSEOUT = "somebody runs at somebody who stands"
    LONE_RUN = "somebody runs, and nobody stands where he runs to"
    MAYBE_WALK = "somebody runs at somebody who stands, or walks if the lens is not zoomed"
    SECOND = "somebody else runs at somebody at the same time"
    """A clip has one defender, so only the longer run of the two is measured."""


@dataclass(frozen=True)
class Candidate:
    """A stretch of a film that may hold a rep.

    Attributes:
        from_s, to_s: start and end, seconds of the film as it plays.
        holds: what was seen in it.
        run: what it is cut around.
    """

    from_s: float
    to_s: float
    holds: Holds
    run: Run


@dataclass(frozen=True)
class Scan:
    """What was found in a film.

    Attributes:
        duration_s: its length.
        candidates: in order of time.
        places_s: moments at which it goes on from another place.
        lost_within_s: how much of it is lost to damage before its last frame.
        breaks_off: True when it ends in the midst of something.
    """

    duration_s: float
    candidates: tuple[Candidate, ...]
    places_s: tuple[float, ...]
    lost_within_s: float = 0.0
    breaks_off: bool = False


@dataclass(frozen=True)
class PartRuns:
    """The runs in a part of a film.

    Attributes:
        begins_s: when the part begins, seconds of the film as it plays.
        size_px: width and height of its pictures.
        runs: in order of arrival, in the part's own time and pictures.
    """

    begins_s: float
    size_px: tuple[int, int]
    runs: tuple[Run, ...]


def watch_film(path: Path, slow_motion: float) -> Watched:
    """Watch a film to its end, before anybody is looked for.

    Args:
        path: the film.
        slow_motion: how many times slower than life it plays.

    Raises:
        UnreadableClip: it cannot be read.
    """
    seen = watch(glances(path, SMALL_PX, TINY_PX, LOOK_STEP_S * slow_motion))
    if seen is None:
        raise UnreadableClip(path, "no frame of it can be read", "copy it from the phone again")
    return replace(seen, breaks_off=breaks_off(path))


def scan_of(seen: Watched, followed: Sequence[PartRuns], slow_motion: float) -> Scan:
    """What was found in a film, once people were looked for in all its moving parts.

    Args:
        seen: the film.
        followed: its parts with the runs in them, in order of time.
        slow_motion: how many times slower than life it plays.
    """
    runs: list[Run] = []
    for part in followed:
        to_place = _to_place(seen, part.begins_s, part.size_px)
        found = [in_film(run, part.begins_s, slow_motion, to_place) for run in part.runs]
        runs += [run for run in found if not any(_same(run, other) for other in runs)]
    sure = [run for run in runs if not run.through_zoom]
    runs = [
        run
        for run in runs
        if not run.through_zoom or not any(together(run, other) for other in sure)
    ]
    runs.sort(key=lambda run: run.arrival_s)
    edges = [0.0, *seen.places_s, np.inf]
    kept = [
        run
        for start, end in pairwise(edges)
        for run in without_returns([each for each in runs if start <= each.arrival_s < end])
    ]
    return Scan(
        duration_s=seen.end_s,
        candidates=tuple(candidates(kept, seen, slow_motion)),
        places_s=seen.places_s,
        lost_within_s=seen.lost_within_s,
        breaks_off=seen.breaks_off,
    )


def moving_parts(seen: Watched, slow_motion: float = 1.0) -> Iterator[tuple[float, float]]:
    """Start and end of the parts of a film in which people are to be looked for.

    They are long enough to hold whole runs, none goes over a jump of the film, and long ones are
    cut so that each two share a run's length.
    """
    t_s = seen.t_s / slow_motion
    jumps_s = np.array([-np.inf, *seen.jumps_s, np.inf]) / slow_motion
    for frames in stretches(t_s, seen.moves >= MOVING_HEIGHT, bridged_s=QUIET_S):
        first_s, last_s = t_s[frames[0]], t_s[frames[-1]]
        if last_s - first_s < LEAST_MOVING_S:
            continue
        inside = jumps_s[(jumps_s > first_s) & (jumps_s < last_s)]
        for begin_s, end_s in pairwise([first_s, *inside, last_s]):
            if end_s - begin_s < LEAST_MOVING_S:
                continue
            before_s = jumps_s[jumps_s <= begin_s].max()
            after_s = jumps_s[jumps_s >= end_s].min()
            low_s = max(begin_s - BEFORE_MOVING_S, before_s, 0.0)
            high_s = min(end_s + QUIET_S, after_s, seen.end_s / slow_motion)
            n = max(int(np.ceil((high_s - low_s - PARTS_SHARE_S) / LONGEST_PART_S)), 1)
            step_s = (high_s - low_s - PARTS_SHARE_S) / n
            for at in range(n):
                start_s = low_s + at * step_s
                yield start_s * slow_motion, (start_s + step_s + PARTS_SHARE_S) * slow_motion


def runs_in_part(
    path: Path, part_s: tuple[float, float], slow_motion: float, reader: FindsPeople
) -> PartRuns:
    """Follow everybody in a part of a film, and find who runs.

    Parts need nothing of each other, so that several can be followed at once.

    Args:
        path: the film.
        part_s: start and end, seconds of the film as it plays.
        slow_motion: how many times slower than life it plays.
        reader: the pose model.
    """
    try:
        with tempfile.TemporaryDirectory(prefix="posecheck-") as folder:
            part = Path(folder) / f"part{suffix_of_parts(path)}"
            begins_s, _ = copy_part(path, *part_s, part)
            followed, size_px = use_clip(
                part,
                slow_motion,
                lambda clip: (follow_players(clip, reader), (clip.width_px, clip.height_px)),
            )
    except ClipError:
        return PartRuns(part_s[0], (1, 1), ())  # damaged there, or hardly a frame long
    focal_px = PHONE.focal_px(size_px)
    # Measuring tells a run far away from a walk, by the steps.
    runs = find_runs(followed, focal_px) or runs_through_zoom(followed, focal_px, PHONE.zooms)
    return PartRuns(begins_s, size_px, tuple(runs))


def _to_place(seen: Watched, at_s: float, size_px: tuple[int, int]) -> FloatArray:
    """``(3, 3)`` from the film's picture at a moment to the first from that place."""
    shrink = np.diag([seen.size_px[0] / size_px[0], seen.size_px[1] / size_px[1], 1.0])
    look = min(int(np.searchsorted(seen.t_s, at_s - 1e-6)), len(seen.t_s) - 1)
    return np.asarray(np.linalg.inv(shrink) @ seen.to_place[look] @ shrink)


def _same(one: Run, other: Run) -> bool:
    """Whether two runs, found in parts that share a stretch, are one."""
    apart = np.linalg.norm(one.to_px - other.to_px) / other.height_px
    return bool(abs(one.arrival_s - other.arrival_s) <= SAME_RUN_S and apart <= 1)


def candidates(runs: list[Run], seen: Watched, slow_motion: float) -> Iterator[Candidate]:
    """The stretch around each run: the wait, the run, the contact.

    It goes over no jump of the film, and not into a run in which somebody closes by more. So each
    stretch shows whom it is cut around as the one who closes most, and who shifts his feet before
    or after a rep takes nothing off it.

    Args:
        runs: in order of arrival.
        seen: the film.
        slow_motion: how many times slower than life it plays.
    """
    firsts: list[Run] = []
    jumps_s = np.array([0.0, *seen.jumps_s, seen.end_s])
    stretch_of = {}
    for run in sorted(runs, key=lambda run: (run.through_zoom, run.target is None, -run.by)):
        unseen_s = UNSEEN_START_S if run.comes_into_view else 0.0
        from_s = run.start_s - (BEFORE_START_S + unseen_s) * slow_motion
        to_s = run.arrival_s + AFTER_ARRIVAL_S * slow_motion
        first = not any(together(run, other) for other in firsts)
        for other in firsts if first else ():
            if other.arrival_s <= run.arrival_s:
                from_s = max(from_s, min(run.start_s, _between(other, run)))
            else:
                to_s = min(to_s, max(run.arrival_s, _between(run, other)))
        if first:
            firsts.append(run)
        # No run goes over a jump, but its ends are known to a frame or two only.
        before_s = jumps_s[jumps_s <= run.start_s + LOOK_STEP_S * slow_motion]
        after_s = jumps_s[jumps_s >= run.arrival_s - LOOK_STEP_S * slow_motion]
        holds = Holds.LONE_RUN if run.target is None else Holds.CLOSEOUT
        if run.through_zoom:
            holds = Holds.MAYBE_WALK
        stretch_of[run] = Candidate(
            max(from_s, float(before_s.max(initial=0.0))),
            min(to_s, float(after_s.min(initial=seen.end_s))),
            holds if first else Holds.SECOND,
            run,
        )
    yield from (stretch_of[run] for run in runs)


def _between(one: Run, other: Run) -> float:
    """Where the stretch of one run ends and that of the next begins if both need the time."""
    free_s = other.start_s - one.arrival_s
    share = AFTER_ARRIVAL_S / (AFTER_ARRIVAL_S + BEFORE_START_S)
    return one.arrival_s + share * free_s
