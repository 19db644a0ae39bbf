"""A player's own file: one page for his phone with his reps, and nobody else in it.

Everything is inside, clips too, so that one file is all there is to hand over. It names no file,
no folder and no other player; how others are blurred in its clips stands in ``blurring.py``.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import jinja2

from posecheck.files.names import PLAYERS_FOLDER
from posecheck.files.whole_file import write_whole
from posecheck.judging.rules import rule_name
from posecheck.judging.ruling import Ruling
from posecheck.judging.verdict import Call
from posecheck.pages.environment import page_environment
from posecheck.pages.inline import inlined
from posecheck.pages.like_rep import like_clean_rep
from posecheck.pages.own_clip import OwnFilm
from posecheck.pages.own_words import CUES, SEEN, not_shown, sentence, worst_rule
from posecheck.pages.rep_data import seriousness
from posecheck.pages.rep_view import RepView
from posecheck.pages.svg import call_mark
from posecheck.pages.tuning import OWN_CLIP_PX
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player


@dataclass(frozen=True)
class OwnView:
    """One of his reps as the pages have it, its film for him, and the coach's ruling if any."""

    view: RepView
    film: OwnFilm | None
    ruling: Ruling | None = None


@dataclass(frozen=True)
class OwnFigure:
    """One measured quantity of a rep, with its error bar and what is wanted."""

    label: str
    value: str
    interval: str
    wanted: str


@dataclass(frozen=True)
class OwnRep:
    """One of his reps, ready for the template.

    Attributes:
        number: among his own, from 1.
        spot: where the attacker stood, None when not stated.
        call: of the rep.
        sentence: what he did.
        cue: what to work on, empty when nothing was flagged.
        open: sentences on what the film does not show.
        disputed: True when the coach does not agree with the call.
        still: address of the picture at arrival, None when there is no film.
        film: the clip as base64, None when there is none.
        arrival_s: in the clip's own time, None when arrival was not seen.
        figures: with error bars.
    """

    number: int
    spot: str | None
    call: Call
    sentence: str
    cue: str
    open: tuple[str, ...]
    disputed: bool
    still: str | None
    film: str | None
    arrival_s: float | None
    figures: tuple[OwnFigure, ...]


_HEAD_CHARS = 4096
"""Enough of a file to hold what its head says before style and scripts.

Source: definition
"""


def player_file(out_dir: Path, player: Player) -> Path:
    """Where a player's own file lies in an output folder."""
    return out_dir / PLAYERS_FOLDER / f"player-{player.number}.html"


def clips_shown(path: Path) -> frozenset[str]:
    """Digests of the clips that a player's own file shows; none of a file that does not say.

    Raises:
        OSError: it cannot be read.
    """
    with path.open(encoding="utf-8") as file:
        head = file.read(_HEAD_CHARS)
    found = re.search(r'<meta name="posecheck-clips" content="([^"]*)">', head)
    return frozenset(found[1].split()) if found else frozenset()


def write_player_page(
    practice: Practice,
    player: Player,
    views: Sequence[OwnView],
    not_measured: int,
    out_dir: Path,
    changed: Sequence[str] | None = None,
) -> Path:
    """Write a player's own file.

    Args:
        practice: gives name, club and date.
        player: whose file.
        views: his reps in order of time.
        not_measured: how many clips of him could not be measured.
        out_dir: the output folder.
        changed: sentences on what changed since his earlier practices, None when none were looked
            at.

    Raises:
        RecordError: the folder cannot be written to.
    """
    reps = [own_rep(number, each) for number, each in enumerate(views, 1)]
    agreed = [
        (rep, own.view)
        for rep, own in zip(reps, views, strict=True)
        if own.ruling is not Ruling.WRONG
    ]
    rule = worst_rule([view.verdict for _, view in agreed])
    flagged = [
        (rep, view) for rep, view in agreed if rule in {flag.rule for flag in view.verdict.flags}
    ]
    worst = min(flagged, key=lambda each: seriousness(each[1].verdict), default=(None, None))[0]
    clear = [(rep, view) for rep, view in agreed if rep.call is Call.CLEAR]
    best = _best([view for _, view in clear], None if worst is None else views[worst.number - 1])
    page = (
        _environment()
        .get_template("player.html")
        .render(
            practice=practice,
            player=player,
            reps=reps,
            clear=len(clear),
            open=sum(rep.call is Call.CANT_TELL for rep, _ in agreed),
            disputed=len(reps) - len(agreed),
            clips=sorted({each.view.result.clip_digest for each in views}),
            cue=None if rule is None else CUES[rule],
            seen=None if rule is None else SEEN[rule],
            count=len(flagged),
            worst=worst,
            best=next((rep for rep, view in clear if view is best), None),
            not_measured=not_measured,
            changed=changed,
            size=OWN_CLIP_PX,
            inline=inlined(["style.css", "player.css"], ["player.js"]),
        )
    )
    path = player_file(out_dir, player)
    write_whole(path, lambda file: file.write(page.encode("utf-8")))
    return path


def own_rep(number: int, own: OwnView) -> OwnRep:
    """Prepare one of a player's reps."""
    view, film = own.view, own.film
    arrival_s, start_s = view.rep.rep.arrival_s, view.rep.series.t_s[:1]
    measures = view.rep.measures
    return OwnRep(
        number=number,
        spot=view.spot,
        call=view.call,
        sentence=sentence(view.verdict, measures, view.thresholds, view.units),
        cue=CUES[view.verdict.flags[0].rule] if view.verdict.flags else "",
        open=not_shown(measures, view.thresholds, view.asked),
        disputed=own.ruling is Ruling.WRONG,
        still=None if film is None else f"data:image/jpeg;base64,{_base64(film.jpeg)}",
        film=None if film is None else _base64(film.mp4),
        arrival_s=None
        if arrival_s is None or not len(start_s)
        else max(0.0, arrival_s - float(start_s[0])),
        figures=tuple(
            OwnFigure(strip.label, strip.value, strip.interval, strip.wanted)
            for strip in view.judged_strips
            if strip.value
        ),
    )


def _best(clear: Sequence[RepView], worst: OwnView | None) -> RepView | None:
    """His clear rep that was filmed most like the one to work on, else the lowest."""
    like = None if worst is None else like_clean_rep(worst.view, clear)
    return like or max(clear, key=_knee_bend, default=None)


def _knee_bend(view: RepView) -> float:
    measure = view.rep.measures.get("knee_bend_deg")
    return -1.0 if measure is None or measure.value is None else measure.value


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")


@cache
def _environment() -> jinja2.Environment:
    environment = page_environment(Call=Call, call_mark=call_mark)
    environment.filters["rule_name"] = rule_name
    environment.filters["spot_words"] = lambda spot: re.sub(r"[-_]+", " ", spot)
    return environment
