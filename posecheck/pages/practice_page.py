"""The page of a whole practice: first what to look at, then everything else.

One file that opens offline: pictures, plots, style and script are inside, only the annotated
clips lie beside it in ``clips/``. Its content security policy forbids any load from a network.
"""

from __future__ import annotations

import base64
import dataclasses
import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import jinja2
from markupsafe import Markup

from posecheck.files.names import PAGE_FILE
from posecheck.files.whole_file import write_whole
from posecheck.filming.quality import most_help
from posecheck.judging.plan import Kept, kept, share_words, total
from posecheck.judging.rules import rule_name
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, Verdict
from posecheck.measures.figures import figure, in_units, interval
from posecheck.measures.quantities import QUANTITIES, Quantity
from posecheck.measures.result import ClipResult, Provenance, RepResult
from posecheck.pages import plots
from posecheck.pages.from_above import RunPath, call_line, field
from posecheck.pages.rep_data import seriousness
from posecheck.pages.rep_page import write_rep_pages
from posecheck.pages.rep_view import RepView, clip_key, threshold_words, view_rep
from posecheck.pages.svg import call_mark
from posecheck.practice.plan import plan_words
from posecheck.practice.practice import Practice
from posecheck.practice.roster import UNNAMED

_CALL_ORDER = {Call.FLAGGED: 1, Call.CANT_TELL: 2, Call.CLEAR: 3}
"""How verdicts are sorted in the table of reps, after upright run-outs.

Source: definition
"""


@dataclass(frozen=True)
class PlayerLine:
    """One thing for one player.

    Attributes:
        name: as on the page.
        reps: how many.
        fault: the rule flagged most often, in words; None when nothing was flagged.
        count: in how many reps.
        fix: what to work on.
        copy: the player's own clear rep with the deepest knee bend, None when there is none.
    """

    name: str
    reps: int
    fault: str | None
    count: int
    fix: str
    copy: RepView | None


def write_practice_page(
    practice: Practice,
    judged: Sequence[tuple[ClipResult, RepResult, Verdict]],
    faults: Sequence[ClipResult],
    thresholds: Thresholds,
    out_dir: Path,
) -> Path:
    """Write ``practice.html``, and a page for each rep in ``reps/``.

    Args:
        practice: its plan, roster and layout.
        judged: every measured rep with its verdict, in the order of clips and time.
        faults: clips of which nothing could be measured.
        thresholds: those judged with.
        out_dir: folder of the page; annotated clips are linked when they lie in its ``clips/``
            under :func:`posecheck.pages.annotated.annotated_name`.

    Returns:
        Path of the page.

    Raises:
        RecordError: the folder cannot be written to.
    """
    reps = [
        view_rep(number, practice, each, thresholds, out_dir)
        for number, each in enumerate(judged, 1)
    ]
    flagged = [rep for rep in reps if rep.call is Call.FLAGGED]
    first = sorted(flagged, key=lambda rep: (*seriousness(rep.verdict), rep.number))
    results = [result for result, _, _ in judged] + list(faults)
    page = (
        _environment()
        .get_template("practice.html")
        .render(
            practice=practice,
            first=first,
            reps=reps,
            upright=[rep for rep in reps if rep.upright],
            unsure=[rep for rep in reps if rep.call is Call.CANT_TELL],
            players=_player_lines(reps),
            **_against_plan(practice, reps),
            film=most_help(rep.rep.quality for rep in reps),
            faults=[(clip_key(practice, result), result.fault) for result in faults],
            columns=_columns(),
            quantities=QUANTITIES,
            thresholds=[
                threshold_words(name, value, practice.units)
                for name, value in dataclasses.asdict(thresholds).items()
            ],
            provenance=_distinct([result.provenance for result in results]),
            **_inline(),
        )
    )
    write_rep_pages(reps, practice, out_dir)
    path = out_dir / PAGE_FILE
    write_whole(path, lambda file: file.write(page.encode("utf-8")))
    return path


def _columns() -> list[Quantity]:
    """Quantities with a column in the table of all reps; phones show the first two."""
    chosen = [(each.column, each) for each in QUANTITIES if each.column is not None]
    return [each for _, each in sorted(chosen, key=lambda placed: placed[0])]


def _player_lines(reps: Sequence[RepView]) -> list[PlayerLine]:
    lines = []
    for name in sorted({rep.player for rep in reps if rep.player is not None}):
        own = [rep for rep in reps if rep.player == name]
        # Flags come most serious first, and a Counter keeps that order among equals.
        flags = [flag for rep in own for flag in rep.verdict.flags]
        worst = Counter(flag.rule for flag in flags).most_common(1)
        rule, count = worst[0] if worst else (None, 0)
        clear = [rep for rep in own if rep.call is Call.CLEAR]
        lines.append(
            PlayerLine(
                name=name,
                reps=len(own),
                fault=None if rule is None else rule_name(rule),
                count=count,
                fix=next((flag.fix for flag in flags if flag.rule == rule), ""),
                copy=max(clear, key=_knee_bend, default=None),
            )
        )
    return lines


def _against_plan(practice: Practice, reps: Sequence[RepView]) -> dict[str, object]:
    """How often the plan was kept, and every path on one field with what it can be chosen by."""
    sides = [(rep.spot, rep.side.call) for rep in reps if rep.side is not None]
    rows: tuple[Kept, ...] = kept(practice.plan, sides)
    paths = [
        RunPath(
            number=rep.number,
            call=rep.call,
            series=rep.rep.series,
            rep=rep.rep.rep,
            spot=rep.spot or "",
            player=rep.player or "",
            words=f"Rep {rep.number}, {rep.player or UNNAMED}: {rep.verdict.headline}",
        )
        for rep in reps
        if rep.rep.on_field
    ]
    return {
        "kept": rows,
        "kept_in_all": total(rows) if rows else None,
        "field": field(paths, practice.layout, practice.units),
        "not_on_field": len(reps) - len(paths),
        "choices": {
            "Spot": ("spot", sorted({each.spot for each in paths} - {""})),
            "Player": ("player", sorted({each.player for each in paths} - {""})),
        },
    }


def _knee_bend(rep: RepView) -> float:
    measure = rep.rep.measures.get("knee_bend_deg")
    return -1.0 if measure is None or measure.value is None else measure.value


def _distinct(provenance: Sequence[Provenance]) -> list[Provenance]:
    return list(dict.fromkeys(provenance))


def _inline() -> dict[str, object]:
    """Style and script as text, and the script's digest for the security policy."""
    folder = files("posecheck.pages") / "templates"
    style = (folder / "style.css").read_text(encoding="utf-8")
    script = (folder / "page.js").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii")
    return {
        "style": Markup(style),
        "script": Markup(script),
        "script_digest": f"sha256-{digest}",
    }


def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("posecheck.pages"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(
        Call=Call,
        CALL_ORDER=_CALL_ORDER,
        call_line=call_line,
        call_mark=call_mark,
        figure=figure,
        plan_words=plan_words,
        interval=interval,
        share_strip=plots.share_strip,
        share_words=share_words,
        UNNAMED=UNNAMED,
    )
    environment.filters.update(in_units=in_units, rule_name=rule_name)
    return environment
