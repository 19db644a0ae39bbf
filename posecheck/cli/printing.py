"""What the commands print: plain lines that also read well in a pipe, colour on a terminal."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from rich import box
from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeRemainingColumn,
)
from rich.table import Table
from rich.text import Text

from posecheck.errors import RecordError
from posecheck.files.cut_name import span
from posecheck.files.failure_log import log_failure
from posecheck.files.names import FILMS_PAGE_FILE, in_order
from posecheck.judging.asked import Asked
from posecheck.judging.plan import SideTaken, kept, share_words, side_taken, total
from posecheck.judging.rules import HEADLINE_RULE, rule_name
from posecheck.judging.ruling import CoachRuling
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, Verdict
from posecheck.maths.units import Units
from posecheck.measures.figures import (
    after_figure,
    error_decimals,
    figure,
    fixed,
    in_units,
    interval_in_words,
)
from posecheck.measures.measure import Measure
from posecheck.measures.quantities import QUANTITIES, QUANTITY, Quantity
from posecheck.measures.result import RepResult
from posecheck.pipeline.judge import Rejudged
from posecheck.practice.cuts import StretchKind
from posecheck.practice.found_cuts import read_cuts
from posecheck.practice.practice import Practice
from posecheck.practice.set_cuts import read_set
from posecheck.printable import printable
from posecheck.scoring.accuracy import Accuracy
from posecheck.scoring.groups import groups

TRUTH_ERRS = (
    "This truth was made from several phones and errs itself: by up to the last column in nine of "
    "ten. It rests on the same pose model as the readings, and an error that both share does not "
    "show, so one phone may be further off than this table says."
)

_COLOUR = {Call.FLAGGED: "bold red", Call.CLEAR: "green", Call.CANT_TELL: "yellow"}


def say(console: Console, *parts: str | Text) -> None:
    """Print one line, whole: no markup or control character in names is obeyed, and nothing is
    broken up in a pipe."""
    line = Text.assemble(*(_safe(part) for part in parts))
    console.print(line, soft_wrap=True, highlight=False)


def _safe(part: str | Text) -> str | Text:
    if isinstance(part, str):
        return printable(part)
    return part if part.plain.isprintable() else Text(printable(part.plain), part.style)


def say_failure(what: str, error: BaseException, folder: Path, console: Console) -> None:
    """Print that posecheck itself failed at something; the output folder's log says the rest."""
    if isinstance(error, RecordError):
        say(console, str(error))
        return
    log = log_failure(folder, what, error)
    say(
        console,
        f"{what} ({type(error).__name__}: {error}); all measures are kept; for details see "
        f"{log.name} in the output folder.",
    )


def progress_bar(console: Console) -> Progress:
    """A bar with the time left; nothing at all when not on a terminal."""
    return Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("time left"),
        TimeRemainingColumn(),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )


def counted(number: int, noun: str, nouns: str | None = None) -> str:
    """A number with its noun; ``nouns`` where the plural is not that with an s."""
    return f"{number} {noun if number == 1 else nouns or noun + 's'}"


def called(call: Call) -> Text:
    """The word for a call; a flag stands out without colour too."""
    return Text(call.upper() if call is Call.FLAGGED else call, _COLOUR[call])


def rep_name(practice: Practice, clip: Path, number: int, alone: bool) -> str:
    """A rep as printed: its clip, and its number when it is not ``alone`` in it."""
    name = practice.shown_name(clip)
    return name if alone else f"{name} rep {number}"


def say_films(console: Console, practice: Practice, folder: Path, done: Iterable[Path]) -> None:
    """The long films among what is done: how many reps each holds, and what is not sure.

    Args:
        console: to say it on.
        practice: of the films.
        folder: of the results.
        done: clips and films.
    """
    here = {practice.clip_key(path) for path in done}
    his = read_set(practice.folder)
    for cuts in read_cuts(folder):
        if cuts.film not in here:
            continue
        stretches = cuts.as_set(his.get(cuts.film, ()))
        if not stretches:
            continue  # measured as one clip, or said already to show no rep
        n_reps = sum(each.kind is StretchKind.REP for each in stretches)
        unsure = [each for each in stretches if each.kind is StretchKind.UNSURE]
        more = f", {counted(len(unsure), 'stretch', 'stretches')} unsure" if unsure else ""
        long = f"{cuts.duration_s / 60:.1f} min"
        say(console, f"{cuts.film}: {long}, {counted(n_reps, 'rep')}{more}.")
        for each in unsure:
            say(console, f"    {span(each.from_s, each.to_s)}: {each.why}")
        if unsure:
            say(console, f"    They are listed in {FILMS_PAGE_FILE}, where each can be set.")


def say_rep(console: Console, name: str, player: str, verdict: Verdict) -> None:
    """A finished rep: clip, player, call, the one reason."""
    say(
        console,
        f"{name}  {player}  ",
        called(verdict.call),
        f"  {verdict.headline}",
    )


def summary(practice: Practice, judged: Sequence[Rejudged]) -> Table:
    """Calls counted by defender."""
    counts: dict[str, Counter[Call]] = {}
    for each in judged:
        name = practice.notes_for(each.rep.clip).defender_name
        counts.setdefault(name, Counter())[each.verdict.call] += 1
    table = Table(box=box.SIMPLE, show_footer=len(counts) > 1)
    total: Counter[Call] = sum(counts.values(), Counter())
    table.add_column("Defender", footer="all")
    table.add_column("Reps", justify="right", footer=str(total.total()))
    for call in Call:
        footer = str(total[call])
        table.add_column(called(call), justify="right", footer=footer)
    for name, count in sorted(counts.items(), key=lambda one: in_order(one[0])):
        cells = [str(count[call]) for call in Call]
        table.add_row(Text(printable(name)), str(count.total()), *cells)
    return table


def plan_table(practice: Practice, judged: Sequence[Rejudged], limits: Thresholds) -> Table | None:
    """How often the plan was kept, by spot; None when there is no plan, or no rep at its spots."""
    sides = []
    for each in judged:
        notes = practice.notes_for(each.rep.clip)
        side = side_taken(each.rep.measures, limits, Asked.of(practice, notes))
        sides.append((notes.spot, side.call))
    rows = kept(practice.plan, sides)
    if not rows:
        return None
    table = Table(box=box.SIMPLE)
    table.add_column("Spot")
    table.add_column("Force him")
    for heading in ("On plan", "Off plan", "Can't tell", "Share"):
        table.add_column(heading, justify="right", no_wrap=True)
    for row in rows if len(rows) == 1 else (*rows, total(rows)):
        counts = [str(count) for count in (row.on, row.off, row.open)]
        table.add_row(
            Text(printable(row.spot)),
            "" if row.plan is None else row.plan.where,
            *counts,
            share_words(row),
        )
    return table


def say_changes(console: Console, practice: Practice, rejudged: Sequence[Rejudged]) -> None:
    """The reps of which another call is made now, each with what has changed."""
    in_clip = Counter(each.rep.clip for each in rejudged)
    for each in rejudged:
        if not each.changed:
            continue
        before, now, clip = each.rep.verdict, each.verdict, each.rep.clip
        name = rep_name(practice, clip, each.rep.number, alone=in_clip[clip] == 1)
        player = practice.notes_for(clip).defender_name
        first = Text("not judged") if before is None else called(before.call)
        say(console, f"{name}  {player}  ", first, " -> ", called(now.call), f"  {now.headline}")
        calls = {} if before is None else {old.rule: old.call for old in before.findings}
        for finding in now.findings:
            old = calls.get(finding.rule, finding.call)
            if old is not finding.call:
                rule = rule_name(finding.rule)
                say(console, f"    {rule}: ", called(old), " -> ", called(finding.call))


def say_rep_in_full(
    console: Console,
    name: str,
    player: str,
    rep: RepResult,
    verdict: Verdict | None,
    side: SideTaken,
    units: Units = Units.METRES,
    ruling: CoachRuling | None = None,
) -> None:
    """One rep's figures with their intervals, its findings, and what limits the film."""
    say(console, Text(f"{name}  {player}", "bold"))
    if verdict is not None:
        say(console, called(verdict.call), f"  {verdict.headline}")
    if ruling is not None:
        day = f"{ruling.at:%d %B %Y}".lstrip("0")
        say(console, f"Coach: {ruling.beside(verdict)} ({day})")
    moments = {
        "leaves": rep.rep.start_s,
        "brakes": rep.rep.braking_s,
        "arrives": rep.rep.arrival_s,
        "is expected to arrive": rep.rep.expected_s,
    }
    seen = [f"{word} at {t_s:.2f} s" for word, t_s in moments.items() if t_s is not None]
    if rep.arrival_within_s is not None:
        seen[-1] += f", give or take {rep.arrival_within_s:.2f} s"
    say(
        console,
        f"The defender {', '.join(seen)}; {rep.roles}. "
        f"Distances from {in_units(rep.scale, units)}.",
    )
    table = Table(box=box.SIMPLE)
    table.add_column("Measure")
    table.add_column("Value", justify="right")
    table.add_column("90 % interval", justify="right")
    table.add_column("Read from", overflow="fold")
    for measure in rep.measures.values():
        table.add_row(*_measure_cells(measure, units))
    console.print(table)
    say(console, side.words)
    for finding in () if verdict is None else verdict.findings:
        fix = f" {finding.fix}" if finding.fix else ""
        say(console, called(finding.call), f"  {rule_name(finding.rule)}")
        say(console, f"    {finding.reason}{fix}")
    if rep.quality.grade is not None:
        say(console, f"Film: {rep.quality.grade}.")
    for each in rep.quality.limits:
        found, fix = in_units(each.found, units), in_units(each.fix, units)
        say(console, f"    {each.aspect}: {each.grade}, {found}. {fix}")
    for remark in rep.film:
        say(console, f"Film: {in_units(remark, units)}")


def _measure_cells(measure: Measure, units: Units) -> tuple[str, str, str, Text]:
    label = QUANTITY[measure.key].label
    if measure.value is None:
        return label, "-", "-", Text(in_units(measure.missing_because or "", units))
    value = figure(measure.key, measure.value, units)
    return label, value, interval_in_words(measure, units), Text(in_units(measure.read_from, units))


def say_accuracy(console: Console, accuracy: Accuracy) -> None:
    """How far off the figures are from truth: mean absolute error, bias, the worst single one, and
    how often the truth lies in the 90 % interval."""
    table = Table(box=box.SIMPLE)
    own_error = any(row.own_error is not None for row in accuracy.rows)
    headings = ("", "n", "error", "bias", "worst", "in bar", *(["truth ±"] if own_error else []))
    for heading in headings:
        table.add_column(heading, justify="left" if not heading else "right")
    for row in accuracy.rows:
        decimals, unit = error_decimals(row.unit), after_figure(row.unit)
        inside = "" if row.within_interval is None else f"{row.within_interval:.0%}"
        if row.n == 0 or row.mean_abs_error is None:
            table.add_row(row.quantity, "0")
            continue
        table.add_row(
            row.quantity,
            str(row.n),
            _error(row.mean_abs_error, decimals, unit),
            _error(row.bias, decimals, unit, signed=True),
            _error(row.worst, decimals, unit, signed=True),
            inside,
            *([] if row.own_error is None else [_error(row.own_error, decimals, unit)]),
        )
    console.print(table)
    if own_error:
        say(console, TRUTH_ERRS)
    for quantity in QUANTITIES:
        if quantity.each_frame:
            console.print(_groups_table(accuracy, quantity))
    right, reps = accuracy.right_player
    say(console, f"Right defender chosen: {right} of {reps}.")
    if not math.isnan(accuracy.followed):
        say(console, f"Defender followed from start to arrival: {accuracy.followed:.1%} of frames.")
    near, reps = accuracy.arrival_within_two_frames
    say(console, f"Arrival within 2 frames: {near} of {reps}.")
    flag = accuracy.flag
    calls = Table(box=box.SIMPLE)
    calls.add_column(rule_name(HEADLINE_RULE))
    for heading in ("flagged", "clear", "can't tell or not measured"):
        calls.add_column(heading, justify="right")
    calls.add_row("did", *map(str, (flag.hits, flag.misses, flag.open)))
    calls.add_row("did not", *map(str, (flag.false_flags, flag.clear, flag.open_others)))
    console.print(calls)


def _groups_table(accuracy: Accuracy, quantity: Quantity) -> Table:
    """A quantity's errors by view, size and defender: of reps, and of single frames."""
    table = Table(box=box.SIMPLE)
    table.add_column(quantity.label)
    for heading in ("n", "error", "bias", "in bar", "frames", "error", "bias"):
        table.add_column(heading, justify="right")
    unit, decimals = after_figure(quantity.unit), error_decimals(quantity.unit)

    def shown(value: float | None, signed: bool = False) -> str:
        return _error(value, decimals, unit, signed)

    for heading, rows in groups(quantity.key, accuracy.readings, accuracy.frames).items():
        table.add_row(Text(heading, "bold"))
        for row in rows:
            table.add_row(
                Text(printable(f"  {row.name}")),
                str(row.n),
                shown(row.mean_abs_error),
                shown(row.bias, signed=True),
                f"{row.inside} of {row.n}" if row.n else "",
                str(row.n_frames),
                shown(row.frame_error),
                shown(row.frame_bias, signed=True),
            )
        table.add_section()
    return table


def _error(value: float | None, decimals: int, unit: str, signed: bool = False) -> str:
    return "" if value is None else f"{fixed(value, decimals, signed)}{unit}"
