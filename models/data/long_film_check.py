"""A long film checked as a coach would check it, and what was found beside its truth."""

from __future__ import annotations

import json
import resource
import shutil
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import linear_sum_assignment

from models.data.bench import bench_key, read_bench
from models.data.ground import FROM_PLAYERS
from models.data.keyed import StaleRows
from models.data.long_film import RATE_HZ, LongFilm, TrueRep
from models.files import ROWS
from posecheck.cli.exit_codes import ExitCode
from posecheck.files.names import OUTPUT_FOLDER, RECORD_FILE
from posecheck.files.version import installed_version
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pose.skeleton import SKELETON
from posecheck.practice.cuts import Stretch, StretchKind
from posecheck.practice.found_cuts import read_cuts
from posecheck.practice.reading import read_practice
from posecheck.store.record import Record

FILE = ROWS / "long-film.json"
STEP = "long-film"

WITHIN_S = 0.5
"""A rep is found when its arrival, seen or expected, is no further than this from the true one.

Source: definition
"""

SAME_PLAYER_HEIGHTS = 0.5
"""The defender is the right one when his hips are read no further than this from the true ones.

Source: guess
"""


@dataclass(frozen=True)
class FoundRep:
    """A rep that was measured in a long film; times in seconds of the film.

    Attributes:
        start_s, arrival_s: as measured; arrival as seen, else as expected, None when neither.
        hip_xy: the defender's mid-hip at arrival, shares of width and height, None when not seen.
        expected: whether the arrival is expected only.
    """

    start_s: float
    arrival_s: float | None
    hip_xy: tuple[float, float] | None
    expected: bool = False


@dataclass(frozen=True)
class Beside:
    """A true rep, and what was found of it.

    Attributes:
        clip: that it was rendered in.
        start_s, arrival_s, end_s: true ones, seconds of the film.
        outcome: "found" as a rep, "listed" when its arrival lies in a stretch that the page lists
            as not sure or not measured, "lost" otherwise.
        alone: whether it is found in the clip when that is checked by itself, by the rows of
            ``foreign``; None where these lack it.
        before_s, after_s: of film before the true start and after the true arrival in the stretch
            that was cut out there, None when none was.
        start_off_s, arrival_off_s: of what was measured, None when it was not found.
        right_player: whether the defender is the right one, None when not known.
        seen_from_s: from then on until arrival he is in the picture, None when not known.
        expected: whether it was found by an arrival that is expected only.
    """

    clip: str
    start_s: float
    arrival_s: float
    end_s: float
    outcome: str
    alone: bool | None = None
    before_s: float | None = None
    after_s: float | None = None
    start_off_s: float | None = None
    arrival_off_s: float | None = None
    right_player: bool | None = None
    seen_from_s: float | None = None
    expected: bool = False


@dataclass(frozen=True)
class Checked:
    """A long film that was checked.

    Attributes:
        minutes: of film.
        reps: every true rep.
        false: moment of each rep that was found and is none, and what the film shows there.
        unsure: stretches listed as not sure.
        changes, changes_found: true moments at which the camera stands elsewhere, and how many of
            them were found within a second.
        cpu_s: processor time of the whole check, drawing and pages included.
        wall_s: how long it took.
        jobs: processes.
        version: of posecheck that checked it.
    """

    minutes: float
    reps: tuple[Beside, ...]
    false: tuple[tuple[float, str], ...]
    unsure: int
    changes: int
    changes_found: int
    cpu_s: float
    wall_s: float
    jobs: int
    version: str


def check_long_film(film: LongFilm, jobs: int) -> Checked:
    """Check a film from nothing, and keep the row.

    Args:
        film: in a folder of its own.
        jobs: processes.

    Raises:
        ValueError: the check failed.
    """
    folder = film.path.parent
    shutil.rmtree(folder / OUTPUT_FOLDER, ignore_errors=True)
    run = "from posecheck.cli.commands import main; main()"
    command = [sys.executable, "-c", run, "check", str(folder), "--jobs", str(jobs)]
    before, began_s = _cpu_s(), time.monotonic()
    code = subprocess.run(command, check=False).returncode
    if code not in (ExitCode.ALL_MEASURED, ExitCode.SOME_FAILED, ExitCode.NOTHING_USABLE):
        raise ValueError(f"posecheck check ended with {code}")
    checked = beside_truth(film, _cpu_s() - before, time.monotonic() - began_s, jobs)
    stored = {"read_with": bench_key(), **asdict(checked)}
    FILE.write_text(json.dumps(stored, indent=1) + "\n", "utf-8")
    return checked


def kept_check() -> Checked | None:
    """The row in the tree; None when there is none, or other nets or intervals made it."""
    if not FILE.exists():
        return None
    stored: dict[str, Any] = json.loads(FILE.read_text("utf-8"))
    if stored.pop("read_with") != bench_key():
        return None
    stored["reps"] = tuple(Beside(**each) for each in stored["reps"])
    stored["false"] = tuple((at, what) for at, what in stored["false"])
    return Checked(**stored)


def beside_truth(film: LongFilm, cpu_s: float, wall_s: float, jobs: int) -> Checked:
    """What a check has left of a film, beside its truth."""
    found, stretches, listed, places_s = _left(film.path.parent)
    pairs = matched(film.reps, found)
    alone = found_alone()
    return Checked(
        minutes=film.duration_s / 60,
        reps=tuple(
            _beside(rep, found[pairs[at]] if at in pairs else None, stretches, listed, alone)
            for at, rep in enumerate(film.reps)
        ),
        false=tuple(
            (round(_moment(each), 2), film.during(_moment(each)))
            for at, each in enumerate(found)
            if at not in pairs.values()
        ),
        unsure=len(listed),
        changes=len(film.camera_changes_s),
        changes_found=sum(
            any(abs(each - one) <= 1 for one in places_s) for each in film.camera_changes_s
        ),
        cpu_s=cpu_s,
        wall_s=wall_s,
        jobs=jobs,
        version=installed_version(),
    )


def found_alone() -> dict[str, bool]:
    """By clip whether its rep is found when the clip is checked by itself, nothing marked; empty
    where the rows of that are of other nets."""
    try:
        rows = read_bench()
    except (FileNotFoundError, StaleRows):
        return {}
    return {
        row.clip: row.arrival_off_frames is not None
        and abs(row.arrival_off_frames) / RATE_HZ <= WITHIN_S
        for row in rows
        if row.source == FROM_PLAYERS[1]
    }


def matched(true: Sequence[TrueRep], found: Sequence[FoundRep]) -> dict[int, int]:
    """For each true rep that was found, by its number, that of what was found; one for one."""
    off = np.full((len(true), len(found)), np.inf)
    for i, rep in enumerate(true):
        for j, each in enumerate(found):
            if each.arrival_s is not None:
                off[i, j] = abs(each.arrival_s - rep.arrival_s)
    near = off <= WITHIN_S
    rows, columns = linear_sum_assignment(np.where(near, off, 1e3))
    return {int(i): int(j) for i, j in zip(rows, columns, strict=True) if near[i, j]}


def _beside(
    rep: TrueRep,
    found: FoundRep | None,
    stretches: Sequence[Stretch],
    listed: Sequence[Stretch],
    alone: Mapping[str, bool],
) -> Beside:
    cut = next((each for each in stretches if _holds(each, rep)), None)
    listed_there = any(_holds(each, rep) for each in listed)
    own = Beside(
        rep.clip,
        rep.start_s,
        rep.arrival_s,
        rep.end_s,
        outcome="listed" if listed_there else "lost",
        alone=alone.get(rep.clip),
        before_s=None if cut is None else round(rep.start_s - cut.from_s, 3),
        after_s=None if cut is None else round(cut.to_s - rep.arrival_s, 3),
        seen_from_s=rep.seen_from_s,
    )
    if found is None or found.arrival_s is None:
        return own
    return replace(
        own,
        outcome="found",
        start_off_s=round(found.start_s - rep.start_s, 3),
        arrival_off_s=round(found.arrival_s - rep.arrival_s, 3),
        right_player=_is_right(rep, found),
        expected=found.expected,
    )


def _holds(stretch: Stretch, rep: TrueRep) -> bool:
    return stretch.from_s <= rep.arrival_s <= stretch.to_s


def _is_right(rep: TrueRep, found: FoundRep) -> bool | None:
    if found.hip_xy is None:
        return None
    # Shares of width and height: a height of the picture is 9/16 of its width.
    off = np.subtract(found.hip_xy, rep.hip_xy) * (16 / 9, 1.0)
    return bool(np.hypot(*off) <= SAME_PLAYER_HEIGHTS * rep.height)


def _moment(found: FoundRep) -> float:
    return found.start_s if found.arrival_s is None else found.arrival_s


# -- what a check leaves -------------------------------------------------------------------------


def _left(
    folder: Path,
) -> tuple[list[FoundRep], list[Stretch], list[Stretch], tuple[float, ...]]:
    """Every rep measured, the stretches that may hold one, those that the page lists, and camera
    changes."""
    out = folder / OUTPUT_FOLDER
    (cuts,) = read_cuts(out)
    by_cut = {each.cut: each for each in cuts.stretches if each.cut is not None}
    found: list[FoundRep] = []
    measured = set()
    with Record(out / RECORD_FILE) as record:
        for result in record.results(read_practice(folder)):
            cut = result.path.relative_to((out / "cuts").resolve()).as_posix()
            stretch = by_cut[cut]
            found += [_found(stretch, result, rep) for rep in result.reps]
            if result.reps:
                measured.add(cut)
    listed = [
        each
        for each in cuts.stretches
        if each.kind is StretchKind.UNSURE
        or (each.kind is StretchKind.REP and each.cut not in measured)
    ]
    kept = [each for each in cuts.stretches if each.kind is not StretchKind.NONE]
    return found, kept, listed, cuts.camera_changes_s


def _found(stretch: Stretch, result: ClipResult, rep: RepResult) -> FoundRep:
    arrival_s = rep.rep.about_s
    hip_xy = None
    if arrival_s is not None:
        frame = int(np.argmin(np.abs(rep.series.t_s - arrival_s)))
        hips = rep.series.defender_xy_px[frame, SKELETON.indices("left_hip", "right_hip")]
        x, y = hips.mean(axis=0) / (result.width_px, result.height_px)
        hip_xy = (float(x), float(y)) if np.isfinite((x, y)).all() else None
    return FoundRep(
        start_s=stretch.from_s + rep.rep.start_s,
        arrival_s=None if arrival_s is None else stretch.from_s + arrival_s,
        hip_xy=hip_xy,
        expected=rep.rep.expected_s is not None,
    )


def _cpu_s() -> float:
    """Of all processes that this one has started and that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
