"""The page of a whole practice: what to look at first, then everything else, opened on demand.

It opens offline. Style, script and drawings are inside; clips, small pictures and the pages of
single reps lie beside it and are loaded when they are come to. Its content security policy forbids
any load from a network.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import jinja2

from posecheck.files.cut_name import shown_file
from posecheck.files.names import CLIPBOARD_FILE, FILMS_PAGE_FILE, PAGE_FILE, in_order
from posecheck.files.results_folder import to_be_named
from posecheck.files.whole_file import write_whole
from posecheck.filming.quality import most_help
from posecheck.judging.plan import WORD, Kept, kept, share_words, total
from posecheck.judging.rules import HEADLINE_RULE, rule_name
from posecheck.judging.ruling import CALLS, Tally
from posecheck.judging.thresholds import Thresholds, limit_words
from posecheck.judging.verdict import Call
from posecheck.measures.figures import figure, in_units, interval
from posecheck.measures.quantities import QUANTITIES, Quantity
from posecheck.measures.result import ClipResult, Provenance
from posecheck.pages import plots
from posecheck.pages.environment import page_environment
from posecheck.pages.from_above import RunPath, call_line, field
from posecheck.pages.inline import inlined
from posecheck.pages.look_first import look_first
from posecheck.pages.own_words import CUES
from posecheck.pages.rep_data import rep_data, rep_key, rep_page_name, seriousness
from posecheck.pages.rep_page import (
    VIEWER_SCRIPTS,
    VIEWER_STYLES,
    practice_words,
)
from posecheck.pages.rep_view import RepView
from posecheck.pages.running import Running
from posecheck.pages.season_page import link_from, season_page_above
from posecheck.pages.svg import CALL_CLASS, call_mark
from posecheck.practice.plan import plan_words
from posecheck.practice.practice import Practice

_STYLES = ("style.css", *VIEWER_STYLES)
_SCRIPTS = ("page.js", *VIEWER_SCRIPTS, "film_room.js", "rulings.js")


@dataclass(frozen=True)
class Part:
    """One part of the sentence at the top: a count and what it counts."""

    count: int
    words: str


@dataclass(frozen=True)
class Group:
    """Reps with the same most serious fault, or the same call without any.

    Attributes:
        key: for the address.
        words: as its heading.
        call: of all of them.
        reps: by number.
    """

    key: str
    words: str
    call: Call
    reps: tuple[RepView, ...]


@dataclass(frozen=True)
class PlayerLine:
    """One thing for one player.

    Attributes:
        name: as on the page.
        reps: how many.
        worst: the rep with the most serious flag, None when nothing was flagged.
        count: in how many reps that was flagged.
        unsure: in how many reps nothing is flagged and nothing can be said.
        open: one of those.
        copy: the player's own clear rep with the deepest knee bend, None when there is none.
    """

    name: str
    reps: int
    worst: RepView | None
    count: int
    unsure: int
    open: RepView | None
    copy: RepView | None

    @property
    def fault(self) -> str:
        """What to mend."""
        return "" if self.worst is None else self.worst.fault

    @property
    def fix(self) -> str:
        """What to work on, in the words in which he is told himself."""
        return "" if self.worst is None else CUES[self.worst.verdict.flags[0].rule]


def write_practice_page(
    practice: Practice,
    reps: Sequence[RepView],
    faults: Sequence[ClipResult],
    thresholds: Thresholds,
    out_dir: Path,
    not_shown: Sequence[str] = (),
    running: Running | None = None,
) -> Path:
    """Write ``practice.html``.

    Args:
        practice: its plan, roster and layout.
        reps: every rep that can be shown, by number.
        faults: clips of which nothing could be measured.
        thresholds: those judged with.
        out_dir: folder of the page; annotated clips are linked when they lie in its ``clips/``
            under :func:`posecheck.pages.annotated.annotated_name`, the sheet for the clipboard,
            the page of long films and that of the season when they are there.
        not_shown: a sentence for each rep that was measured and cannot be shown.
        running: how far the check is, if it goes on.

    Returns:
        Path of the page.

    Raises:
        RecordError: the folder cannot be written to.
    """
    results = [rep.result for rep in reps] + list(faults)
    season = season_page_above(out_dir)
    page = (
        _environment()
        .get_template("practice.html")
        .render(
            practice=practice,
            running=running,
            practice_words=practice_words(practice),
            named_by=to_be_named(practice.folder, out_dir),
            clipboard=CLIPBOARD_FILE if (out_dir / CLIPBOARD_FILE).is_file() else None,
            long_films=FILMS_PAGE_FILE if (out_dir / FILMS_PAGE_FILE).is_file() else None,
            season=None if season is None else link_from(out_dir, season),
            cards=look_first(reps),
            reps=reps,
            data=rep_data(reps),
            summary=_summary(reps),
            tally=Tally.of(rep.ruling for rep in reps if rep.ruling is not None),
            warnings=_warnings(reps),
            groups=_groups(reps),
            choices=_choices(reps),
            ranks=_ranks(reps),
            players=_player_lines(reps),
            **_against_plan(practice, reps),
            film=most_help(rep.rep.quality for rep in reps),
            faults=[
                (practice.shown_name(result.path), result.fault_in(practice.units))
                for result in faults
            ],
            not_shown=not_shown,
            columns=_columns(),
            quantities=QUANTITIES,
            thresholds=[
                limit_words(name, value, practice.units)
                for name, value in dataclasses.asdict(thresholds).items()
            ],
            made=_made([result.provenance for result in results]),
            inlined=inlined(_STYLES, _SCRIPTS),
        )
    )
    path = out_dir / PAGE_FILE
    write_whole(path, lambda file: file.write(page.encode("utf-8")))
    return path


def _columns() -> list[Quantity]:
    """Quantities with a column in the table of all reps; phones show the first two."""
    chosen = [(each.column, each) for each in QUANTITIES if each.column is not None]
    return [each for _, each in sorted(chosen, key=lambda placed: placed[0])]


def _summary(reps: Sequence[RepView]) -> list[Part]:
    """How the reps came out, each of them counted once; what none was is left out."""
    flagged = [rep for rep in reps if rep.call is Call.FLAGGED]
    upright = sum(rep.group == HEADLINE_RULE for rep in flagged)
    others = len(flagged) - upright
    clear = sum(rep.call is Call.CLEAR for rep in reps)
    more = " more" if upright else ""
    parts = [
        Part(upright, "ran out upright"),
        Part(others, f"{'has' if others == 1 else 'have'} another flag" if more else "flagged"),
        Part(clear, "is clear" if clear == 1 else "are clear"),
        Part(len(reps) - len(flagged) - clear, "can't be told from the film"),
    ]
    return [part for part in parts if part.count]


def _warnings(reps: Sequence[RepView]) -> list[tuple[str, list[str]]]:
    """What the practice says of its film and cannot be used, with the clips it is said of."""
    clips: dict[str, dict[str, None]] = {}
    for rep in reps:
        for sentence in rep.rep.film:
            clips.setdefault(in_units(sentence, rep.units), {})[shown_file(rep.result.path)] = None
    return [(sentence, list(names)) for sentence, names in clips.items()]


def _groups(reps: Sequence[RepView]) -> list[Group]:
    """Reps by fault, the most serious fault first, then *can't tell*, then clear."""
    members: dict[str, list[RepView]] = {}
    for rep in sorted(reps, key=lambda rep: (seriousness(rep.verdict)[0], rep.number)):
        members.setdefault(rep.group, []).append(rep)
    return [Group(key, own[0].fault, own[0].call, tuple(own)) for key, own in members.items()]


def _choices(reps: Sequence[RepView]) -> list[tuple[str, str, list[tuple[str, str]]]]:
    """What reps can be chosen by: name in the address, label, and values with their words."""

    def named(values: set[str]) -> list[tuple[str, str]]:
        return [(value, value) for value in sorted(values, key=in_order)]

    return [
        ("player", "Player", named({rep.player for rep in reps})),
        ("spot", "Spot", named({rep.spot for rep in reps if rep.spot is not None})),
        ("fault", "Fault", [(group.key, group.words) for group in _groups(reps)]),
    ]


def _ranks(reps: Sequence[RepView]) -> dict[int, int]:
    """By number, the place of each rep when the most serious come first."""
    ranked = sorted(reps, key=lambda rep: (*seriousness(rep.verdict), rep.number))
    return {rep.number: place for place, rep in enumerate(ranked)}


def _player_lines(reps: Sequence[RepView]) -> list[PlayerLine]:
    lines = []
    for name in sorted({rep.player for rep in reps if rep.named}):
        own = [rep for rep in reps if rep.player == name]
        flagged = [rep for rep in own if rep.call is Call.FLAGGED]
        worst = min(flagged, key=lambda rep: seriousness(rep.verdict), default=None)
        unsure = [rep for rep in own if rep.call is Call.CANT_TELL]
        clear = [rep for rep in own if rep.call is Call.CLEAR]
        lines.append(
            PlayerLine(
                name=name,
                reps=len(own),
                worst=worst,
                count=sum(
                    worst is not None and worst.group in {flag.rule for flag in rep.verdict.flags}
                    for rep in flagged
                ),
                unsure=len(unsure),
                open=next(iter(unsure), None),
                copy=max(clear, key=_knee_bend, default=None),
            )
        )
    return lines


def _against_plan(practice: Practice, reps: Sequence[RepView]) -> dict[str, object]:
    """How often the plan was kept, and every path on one field with what it can be chosen by.

    Under a plan a path shows whether it was kept, else how the rep was judged.
    """
    sides = [(rep.spot, rep.side.call) for rep in reps if rep.side is not None]
    rows: tuple[Kept, ...] = kept(practice.plan, sides)
    paths = [
        RunPath(
            number=rep.number,
            call=rep.call if rep.side is None else rep.side.call,
            series=rep.rep.series,
            rep=rep.rep.rep,
            spot=rep.spot or "",
            player=rep.player,
            words=f"Rep {rep.number}, {rep.player}: "
            + (rep.sentence if rep.side is None else rep.side.words),
        )
        for rep in reps
        if rep.rep.on_field
    ]
    return {
        "kept": rows,
        "kept_in_all": total(rows) if rows else None,
        "field": field(paths, practice.layout, practice.units),
        "line_words": WORD if practice.plan else {call: str(call) for call in Call},
        "not_on_field": len(reps) - len(paths),
        "field_choices": {
            "Spot": ("spot", sorted({each.spot for each in paths} - {""})),
            "Player": ("player", sorted({each.player for each in paths}, key=in_order)),
        },
    }


def _knee_bend(rep: RepView) -> float:
    measure = rep.rep.measures.get("knee_bend_deg")
    return -1.0 if measure is None or measure.value is None else measure.value


def _made(provenances: Sequence[Provenance]) -> str:
    """How the numbers were made, in one line; empty when there are none."""
    if not provenances:
        return ""

    def each(values: Iterable[str]) -> str:
        return ", ".join(dict.fromkeys(values))

    settings = list(dict.fromkeys(made.settings_digest[:8] for made in provenances))
    more = f" and {len(settings) - 1} more" if len(settings) > 1 else ""
    return (
        f"How the numbers were made: posecheck {each(made.version for made in provenances)}, "
        f"pose model {each(f'{made.model} ({made.model_digest[:8]})' for made in provenances)}, "
        f"settings {settings[0]}{more}."
    )


@cache
def _environment() -> jinja2.Environment:
    environment = page_environment(
        Call=Call,
        call_class=CALL_CLASS.__getitem__,
        call_line=call_line,
        call_mark=call_mark,
        figure=figure,
        plan_words=plan_words,
        interval=interval,
        calls=CALLS,
        rep_key=rep_key,
        rep_page_name=rep_page_name,
        share_strip=plots.share_strip,
        share_words=share_words,
    )
    environment.filters.update(in_units=in_units, rule_name=rule_name)
    return environment
