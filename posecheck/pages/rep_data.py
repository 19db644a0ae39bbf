"""Reps as data for the scripts of the pages: what to play, in which order, and what to say.

One list in a page, ``<script type="application/json" id="reps">``, is all that the viewer and the
film room know of a practice.
"""

from __future__ import annotations

from collections.abc import Sequence

from posecheck.judging.rules import rule_name
from posecheck.judging.verdict import Call, Verdict
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
    """Smaller is shown earlier: the most serious flag first, then the number of flags, then what
    can't be told, then what is clear."""
    calls = [finding.call for finding in verdict.findings]
    if Call.FLAGGED in calls:
        return calls.index(Call.FLAGGED), -len(verdict.flags)
    return len(calls) + (verdict.call is Call.CLEAR), 0


def rep_data(views: Sequence[RepView]) -> list[dict[str, object]]:
    """One entry for each rep, in the order of ``views``, ready to be written as JSON.

    ``number``, ``player``, ``spot``, ``call``, ``fault`` (the most serious flag, None without
    one), ``sentence``, ``cue``, ``clip`` (address relative to the practice's page, None when no
    clip was drawn), ``page``, ``key`` (:func:`rep_key`), ``seriousness`` (rank among these reps,
    0 is shown first).
    """
    by_rank = sorted(views, key=lambda view: (*seriousness(view.verdict), view.number))
    ranks = {view.number: rank for rank, view in enumerate(by_rank)}
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
            "page": rep_page_name(view.number),
            "key": rep_key(view),
            "seriousness": ranks[view.number],
        }
        for view in views
    ]
