"""Reps as data for the scripts of the pages: what to play, in which order, and what to say.

One list in a page, ``<script type="application/json" id="reps">``, is all that the viewer and the
film room know of a practice.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from posecheck.judging.rules import rule_name
from posecheck.judging.verdict import Call, Verdict
from posecheck.pages.like_rep import like_clean_reps
from posecheck.pages.rep_view import RepView

REPS_FOLDER = "reps"
"""Where the pages of single reps lie beside the practice's page."""


def rep_page_name(number: int) -> str:
    """Relative address of a rep's page: ``reps/rep-007.html``."""
    return f"{REPS_FOLDER}/rep-{number:03}.html"


def rep_key(view: RepView) -> str:
    """What a rep is known by wherever something is kept of it: ``<digest of the clip>/<number>``.

    The number counts within the clip, so that the key stays when other clips come or go.
    """
    return f"{view.result.clip_digest}/{view.rep.number}"


def seriousness(verdict: Verdict) -> tuple[int, int]:
    """Smaller is shown earlier: the most serious flag first, then the number of flags, then
    *can't tell* reps, then clear ones."""
    calls = [finding.call for finding in verdict.findings]
    if Call.FLAGGED in calls:
        return calls.index(Call.FLAGGED), -len(verdict.flags)
    return len(calls) + (verdict.call is Call.CLEAR), 0


def rep_data(views: Sequence[RepView]) -> list[dict[str, object]]:
    """One entry for each rep, in the order of ``views``, ready to be written as JSON.

    ``number``, ``player``, ``spot``, ``call``, ``fault`` (the most serious flag, None without
    one), ``sentence``, ``cue``, ``clip`` and ``thumb`` (addresses relative to the practice's page,
    None when they were not drawn), ``page``, ``key`` (:func:`rep_key`), ``seriousness`` (rank
    among these reps, 0 is shown first), ``like`` (number of the clean rep to compare with; None
    without one, and for a clean rep). In seconds of the clip ``arrival_s`` and ``slow_from_s``,
    where it begins again slowly, None where there is no such moment; ``frames_ms`` is the time of
    the clip's first frame, then the time from each frame to the next, None when not known.
    """
    by_rank = sorted(views, key=lambda view: (*seriousness(view.verdict), view.number))
    ranks = {view.number: rank for rank, view in enumerate(by_rank)}
    likes = like_clean_reps(views)
    return [
        {
            "number": view.number,
            "player": view.player,
            "spot": view.spot,
            "call": str(view.call),
            "fault": rule_name(view.verdict.flags[0].rule) if view.verdict.flags else None,
            "sentence": view.sentence,
            "cue": view.cue,
            "clip": view.video,
            "thumb": view.stills.thumb.file if view.stills.thumb else None,
            "page": rep_page_name(view.number),
            "key": rep_key(view),
            "seriousness": ranks[view.number],
            "like": likes[view.number].number if view.number in likes else None,
            **_times(view),
        }
        for view in views
    ]


def film_times_ms(view: RepView) -> list[int] | None:
    """What moment of the film each frame of the clip shows, in milliseconds as the plots have
    them; None when it is not known."""
    return None if view.times is None else [round(1000 * t) for t in view.times.film_times_s]


def _times(view: RepView) -> dict[str, object]:
    times = view.times
    if times is None:
        return {"arrival_s": None, "slow_from_s": None, "frames_ms": None}
    # Rounded before the difference is taken, so that the errors of many frames do not add up.
    starts_ms = np.round(1000 * np.array(times.frame_times_s)).astype(int)
    return {
        "arrival_s": _to_ms(times.arrival_s),
        "slow_from_s": _to_ms(times.slow_from_s),
        "frames_ms": np.diff(starts_ms, prepend=0).tolist(),
    }


def _to_ms(t_s: float | None) -> float | None:
    return None if t_s is None else round(t_s, 3)
