"""Runs that a clip shows besides the reps measured in it.

A clip has one defender. Of a short film with two reps in it, which nobody scans, only his would be
measured, and nobody would know of the other's.
"""

from __future__ import annotations

from collections.abc import Sequence

from posecheck.pipeline.tuning import APART_FROM_REP_S
from posecheck.players.track import Followed
from posecheck.reps.rep import Rep
from posecheck.scan.runs import find_runs, without_returns


def closeouts_s(followed: Followed, focal_px: float) -> tuple[tuple[float, float], ...]:
    """Start and end of every run that ends at somebody who stands, in order; the way back is none.

    Args:
        followed: everybody in a clip.
        focal_px: roughly the focal length.
    """
    runs = without_returns(find_runs(followed, focal_px))
    return tuple((run.start_s, run.arrival_s) for run in runs if run.target is not None)


def not_measured(closeouts_s: Sequence[tuple[float, float]], reps: Sequence[Rep]) -> str | None:
    """A sentence on the runs that are apart from every rep measured, None when there is none.

    Args:
        closeouts_s: as :func:`closeouts_s` gives them.
        reps: measured, at least one.
    """
    apart = [
        start_s
        for start_s, end_s in closeouts_s
        if all(
            end_s < rep.start_s - APART_FROM_REP_S or start_s > rep.end_s + APART_FROM_REP_S
            for rep in reps
        )
    ]
    if not apart:
        return None
    measured = _at([rep.start_s for rep in reps])
    are = "is" if len(reps) == 1 else "are"
    return (
        f"It shows more than is measured: only {measured} {are}, not {_at(apart)}; cut it into a "
        "film for each."
    )


def _at(starts_s: Sequence[float]) -> str:
    """The runs that begin at these moments, as people say it."""
    *before, last = (f"{start_s:.1f} s" for start_s in starts_s)
    moments = f"{', '.join(before)} and {last}" if before else last
    return f"the run{'s' if before else ''} from {moments} on"
