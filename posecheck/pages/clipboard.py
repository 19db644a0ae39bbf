"""The sheet for the clipboard: what to say to each player, the plan, three pictures; to print.

A page of A4 or US Letter for up to a dozen players, more pages for more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import jinja2

from posecheck.files.names import CLIPBOARD_FILE, PAGE_FILE
from posecheck.files.whole_file import write_whole
from posecheck.judging.rules import rule_name
from posecheck.judging.verdict import Call
from posecheck.pages.environment import page_environment
from posecheck.pages.inline import inlined
from posecheck.pages.like_rep import like_clean_rep
from posecheck.pages.own_words import CUES, worst_rule
from posecheck.pages.plan_drawing import plan_drawing
from posecheck.pages.rep_data import seriousness
from posecheck.pages.rep_view import RepView
from posecheck.pages.svg import call_mark
from posecheck.practice.plan import plan_words
from posecheck.practice.practice import Practice


@dataclass(frozen=True)
class Lines:
    """A player's lines on the sheet.

    Attributes:
        name: as on the pages.
        reps, flagged, clear, unsure: counts.
        fault: his most serious fault in words, None when nothing was flagged.
        count: in how many of his reps.
        cue: what to say to him.
        best: his best rep, None when he has no clear one.
    """

    name: str
    reps: int
    flagged: int
    clear: int
    unsure: int
    fault: str | None
    count: int
    cue: str
    best: RepView | None


@dataclass(frozen=True)
class Picture:
    """One of the three pictures."""

    title: str
    view: RepView


def write_clipboard(practice: Practice, views: Sequence[RepView], out_dir: Path) -> Path:
    """Write ``clipboard.html`` beside the practice's page.

    Args:
        practice: gives names and plan.
        views: every rep of the practice.
        out_dir: folder of the page.

    Raises:
        RecordError: the folder cannot be written to.
    """
    page = (
        _environment()
        .get_template("clipboard.html")
        .render(
            practice=practice,
            back=PAGE_FILE,
            players=player_lines(views),
            reps=len(views),
            unnamed=sum(not view.named for view in views),
            plan={spot.replace("-", " "): plan_words(plan) for spot, plan in practice.plan.items()},
            field=plan_drawing(practice.plan, practice.layout),
            pictures=three_pictures(views),
            inline=inlined(["style.css", "clipboard.css"], ["clipboard.js"]),
        )
    )
    path = out_dir / CLIPBOARD_FILE
    write_whole(path, lambda file: file.write(page.encode("utf-8")))
    return path


@cache
def _environment() -> jinja2.Environment:
    return page_environment(Call=Call, call_mark=call_mark)


def player_lines(views: Sequence[RepView]) -> list[Lines]:
    """What stands on the sheet of each named player, in order of name."""
    lines = []
    for name in sorted({view.player for view in views if view.named}):
        own = [view for view in views if view.player == name]
        calls = Counter(view.call for view in own)
        rule = worst_rule([view.verdict for view in own])
        lines.append(
            Lines(
                name=name,
                reps=len(own),
                flagged=calls[Call.FLAGGED],
                clear=calls[Call.CLEAR],
                unsure=calls[Call.CANT_TELL],
                fault=None if rule is None else rule_name(rule),
                count=sum(rule in _flags(view) for view in own),
                cue="" if rule is None else CUES[rule],
                best=_best(own),
            )
        )
    return lines


def three_pictures(views: Sequence[RepView]) -> list[Picture]:
    """The worst rep, a clean one to hold beside it, and the team's most frequent fault.

    Only reps with a picture; what there is none of is left out, and no rep is shown twice.
    """
    shown = [view for view in views if view.shot is not None]
    flagged = [view for view in shown if view.verdict.flags]
    pictures = []
    worst = min(flagged, key=lambda view: seriousness(view.verdict), default=None)
    if worst is not None:
        pictures.append(Picture("The worst", worst))
    like = like_clean_rep(worst, shown) if worst is not None else None
    if like is not None:
        pictures.append(Picture("A clean one to hold beside it", like))
    elif (best := _best(shown)) is not None:
        pictures.append(Picture("The deepest clean one", best))
    often = Counter(flag for view in views for flag in _flags(view)).most_common(1)
    for rule, count in often:
        # One in which nothing more serious hides it, if there is one.
        others = [each for each in flagged if rule in _flags(each) and each is not worst]
        if others:
            other = min(others, key=lambda each: _flags(each).index(rule))
            title = f"Most often: {rule_name(rule).lower()}, {count} of {len(views)} reps"
            pictures.append(Picture(title, other))
    return pictures


def _flags(view: RepView) -> list[str]:
    return [flag.rule for flag in view.verdict.flags]


def _best(views: Sequence[RepView]) -> RepView | None:
    """The clear rep with the deepest knee bend."""
    clear = [view for view in views if view.call is Call.CLEAR]
    return max(clear, key=_knee_bend, default=None)


def _knee_bend(view: RepView) -> float:
    measure = view.rep.measures.get("knee_bend_deg")
    return -1.0 if measure is None or measure.value is None else measure.value
